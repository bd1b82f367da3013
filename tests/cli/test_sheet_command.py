"""``fieldlog sheet`` on the sample workspace: pages, their numbers, and whether they still hold."""

from __future__ import annotations

import io
import os
import stat
from pathlib import Path

import pypdf
import pytest

from fieldlog.fieldwork.results.sets import change_standing, sets_of
from fieldlog.fieldwork.visit.visits import find_visit
from fieldlog.store.workspace import Workspace

SITE = "Skarvik boathouse"
KINDS = {
    "coach": [],
    "athlete": ["--athlete", "R01"],
    "rig": [],
    "visit": [],
}


@pytest.fixture
def sheet(fieldlog, sample_folder: Path):
    def run(*arguments: object):
        return fieldlog("--workspace", sample_folder, "sheet", *arguments)

    return run


def one_line(outcome) -> str:
    assert outcome.status == 2
    assert outcome.out == ""
    assert outcome.err.count("\n") == 1
    assert "Traceback" not in outcome.err
    return outcome.err


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_call_gives_the_same_bytes_and_adds_nothing(sheet, sample_folder, tmp_path, kind) -> None:
    first, second = tmp_path / "one.pdf", tmp_path / "two.pdf"
    made = sheet(kind, "--site", SITE, *KINDS[kind], "-o", first, "--json")
    assert made.status == 0
    again = sheet(kind, "--site", SITE, *KINDS[kind], "-o", second, "--json")
    assert first.read_bytes() == second.read_bytes()
    assert {**made.json, "files": []} == {**again.json, "files": []}
    assert made.json["revision"] == 1
    assert made.json["in_ledger"]
    reader = pypdf.PdfReader(io.BytesIO(first.read_bytes()))
    assert made.json["number"] in reader.pages[0].extract_text()
    checked = sheet("verify", first, "--json")
    assert checked.status == 0
    assert checked.json["standing"] == "current"


def test_the_default_visit_is_the_latest_with_results(sheet, tmp_path) -> None:
    latest = sheet("coach", "--site", SITE, "-o", tmp_path / "a.pdf", "--json").json
    named = sheet("coach", "--site", SITE, "--visit", "2026-03-04", "-o", tmp_path / "b.pdf", "--json").json
    earlier = sheet("coach", "--site", SITE, "--visit", "2025-11-12", "-o", tmp_path / "c.pdf", "--json").json
    assert latest["number"] == named["number"] != earlier["number"]
    assert earlier["date"] == "2025-11-12"


def test_a_changed_result_supersedes_the_sheet_and_the_new_one_says_what(
    sheet, sample_folder, tmp_path
) -> None:
    old = tmp_path / "old.pdf"
    sheet("coach", "--site", SITE, "-o", old)
    with Workspace.open(sample_folder) as workspace:
        store = workspace.site_named(SITE)
        kept = sets_of(store, find_visit(store).record.id)[0]
        change_standing(store, kept, "stopped", by="lead", why="strap slipped")
    checked = sheet("verify", old)
    assert checked.status == 1
    assert "superseded" in checked.out
    assert "strap slipped" in checked.out
    new = sheet("coach", "--site", SITE, "-o", tmp_path / "new.pdf")
    assert new.status == 0
    assert "revision 2" in new.out
    assert "strap slipped" in pypdf.PdfReader(tmp_path / "new.pdf").pages[0].extract_text()
    assert sheet("verify", tmp_path / "new.pdf").status == 0
    assert sheet("verify", old).status == 1


def test_letter_paper_and_text_forms_are_written_beside(sheet, tmp_path) -> None:
    file = tmp_path / "coach.pdf"
    made = sheet("coach", "--site", SITE, "--paper", "letter", "--text", "-o", file)
    assert made.status == 0
    page = pypdf.PdfReader(file).pages[0]
    assert [float(side) for side in page.mediabox[2:]] == [612, 792]
    assert sorted(path.name for path in tmp_path.glob("coach.*")) == ["coach.csv", "coach.md", "coach.pdf"]
    assert (tmp_path / "coach.md").read_text(encoding="utf-8").startswith("# ")


def test_every_athletes_page_is_made_in_one_go_and_holds(sheet, tmp_path) -> None:
    made = sheet("athletes", "--site", SITE, "-o", tmp_path / "pages")
    assert made.status == 0
    files = sorted((tmp_path / "pages").iterdir())
    assert f"{len(files)} of {len(files)}" in made.out
    single = sheet("athlete", "--site", SITE, "--athlete", "R01", "-o", tmp_path / "one.pdf", "--json").json
    alone = (tmp_path / "one.pdf").read_bytes()
    assert (tmp_path / "pages" / f"{single['number']}.pdf").read_bytes() == alone
    assert sheet("verify", files[0]).status == 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["coach", "--site", "Nowhere", "-o", "x.pdf"], "Nowhere"),
        (["coach", "--site", SITE, "--visit", "yesterday", "-o", "x.pdf"], "yesterday"),
        (["coach", "--site", SITE, "--visit", "2031-01-01", "-o", "x.pdf"], "2031-01-01"),
        (["coach", "--site", SITE], "-o"),
        (["coach", "-o", "x.pdf"], "--site"),
        (["athlete", "--site", SITE, "-o", "x.pdf"], "--athlete"),
        (["athlete", "--site", SITE, "--athlete", "Z99", "-o", "x.pdf"], "Z99"),
        (["athlete", "--site", SITE, "--athlete", "R06", "-o", "x.pdf"], "R06"),
        (["rig", "--site", SITE, "--rig", "rig Z", "-o", "x.pdf"], "rig Z"),
        (["coach", "--site", SITE, "--paper", "a3", "-o", "x.pdf"], "a3"),
        (["coach", "--site", SITE, "-o", "missing/folder/x.pdf"], "missing"),
        (["coach", "--site", SITE, "-o", "."], "folder"),
        (["athletes", "--site", SITE, "-o", "../sample/workspace.json"], "is a file"),
        (["coach", "--site", SITE, "--text", "-o", "x.md"], "x.md"),
        (["poster", "--site", SITE, "-o", "x.pdf"], "poster"),
        (["coach", "--site", SITE, "-o", "x.pdf", "--frame"], "--frame"),
        (["verify", "none.pdf"], "none.pdf"),
    ],
)
def test_a_wrong_call_is_one_line_and_writes_nothing(sheet, tmp_path, monkeypatch, arguments, said) -> None:
    empty = tmp_path / "here"
    empty.mkdir()
    monkeypatch.chdir(empty)
    assert said in one_line(sheet(*arguments))
    assert list(empty.iterdir()) == []


@pytest.mark.parametrize("content", [b"", b"%PDF-1.4\n%%EOF", b"\0" * 100, b"PK\x03\x04"])
def test_verify_of_any_other_file_is_unknown(sheet, tmp_path, content) -> None:
    file = tmp_path / "other.pdf"
    file.write_bytes(content)
    assert "other.pdf" in one_line(sheet("verify", file))


def test_a_sheet_of_another_workspace_is_unknown(sheet, fieldlog, tmp_path) -> None:
    file = tmp_path / "coach.pdf"
    sheet("coach", "--site", SITE, "-o", file)
    fieldlog("new", tmp_path / "other")
    outcome = fieldlog("--workspace", tmp_path / "other", "sheet", "verify", file)
    assert "no such visit" in one_line(outcome)


def test_a_file_that_was_there_stays_whole_when_the_page_cannot_be_written(
    sheet, tmp_path, monkeypatch
) -> None:
    file = tmp_path / "coach.pdf"
    file.write_bytes(b"earlier")

    def full(_self, _data):
        raise OSError(28, "No space left on device", str(file))

    with monkeypatch.context() as patch:
        patch.setattr(Path, "write_bytes", full)
        outcome = sheet("coach", "--site", SITE, "-o", file)
    assert "No space left" in one_line(outcome)
    assert file.read_bytes() == b"earlier"
    assert [path.name for path in tmp_path.iterdir() if path.name != "sample"] == ["coach.pdf"]


@pytest.mark.skipif(os.geteuid() == 0, reason="root writes into folders without permission")
def test_a_read_only_workspace_prints_and_says_that_the_ledger_does_not_know(
    sheet, sample_folder, tmp_path
) -> None:
    folders = [sample_folder, *(path for path in sample_folder.rglob("*") if path.is_dir())]
    for folder in folders:
        folder.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        made = sheet("coach", "--site", SITE, "-o", tmp_path / "coach.pdf", "--json")
        assert made.status == 0
        assert not made.json["in_ledger"]
        assert sheet("verify", tmp_path / "coach.pdf").status == 0
    finally:
        for folder in folders:
            folder.chmod(stat.S_IRWXU)


def test_names_are_printed_only_where_they_were_chosen(sheet, sample_folder, tmp_path) -> None:
    with Workspace.open(sample_folder) as workspace:
        from fieldlog.fieldwork.athletes.athletes import athlete_named

        athlete = athlete_named(workspace, "R01").record
        workspace.persons.put(
            {
                "kind": "person",
                "athlete_id": athlete.id,
                "name": "Ann Invented",
                "at": "2026-03-04T08:00:00+01:00",
            }
        )
    codes, names = tmp_path / "codes.pdf", tmp_path / "names.pdf"
    sheet("coach", "--site", SITE, "-o", codes)
    sheet("coach", "--site", SITE, "--names", "-o", names)
    assert "Ann Invented" not in pypdf.PdfReader(codes).pages[0].extract_text()
    assert "Ann Invented" in pypdf.PdfReader(names).pages[0].extract_text().replace("\n", " ")
    assert sheet("verify", codes).status == sheet("verify", names).status == 0
