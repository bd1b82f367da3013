"""``fieldlog export`` on the sample workspace, read back by other libraries."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import openpyxl
import pytest


@pytest.fixture
def export(fieldlog, sample_folder: Path):
    def run(*arguments: object):
        return fieldlog("--workspace", sample_folder, "export", *arguments)

    return run


def read_csv(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_csv_json_and_workbook_hold_the_same_rows(export, tmp_path) -> None:
    for form in ("csv", "json", "xlsx"):
        assert export("--as", form, "-o", tmp_path / "out").status == 0
    out = tmp_path / "out"
    book = openpyxl.load_workbook(out / "fieldlog.xlsx")
    assert book.sheetnames == ["results", "repetitions", "checks"]
    for table in book.sheetnames:
        as_json = json.loads((out / f"{table}.json").read_bytes())["rows"]
        as_csv = read_csv(out / f"{table}.csv")
        assert len(as_json) == len(as_csv) == book[table].max_row - 2 > 0
        assert list(as_csv[0]) == list(as_json[0]) == [cell.value for cell in book[table][1]]
        for text, plain in zip(as_csv, as_json, strict=True):
            for name, value in plain.items():
                if isinstance(value, int | float):
                    assert float(text[name]) == value
                else:
                    assert text[name].removeprefix("'") == (value or "")


def test_what_was_written_is_told_with_its_rows(export, tmp_path) -> None:
    told = export("--as", "csv", "-o", tmp_path / "out", "--json").json
    assert [Path(file).name for file in told["files"]] == ["results.csv", "repetitions.csv", "checks.csv"]
    assert told["rows"]["results"] == len(read_csv(tmp_path / "out" / "results.csv"))


def test_the_schema_is_written_on_its_own(export, tmp_path) -> None:
    assert export("--as", "schema", "-o", tmp_path).status == 0
    schema = json.loads((tmp_path / "schema.json").read_bytes())
    export("--as", "csv", "-o", tmp_path)
    for table in ("results", "repetitions", "checks"):
        assert [field["name"] for field in schema[table]["fields"]] == list(
            read_csv(tmp_path / f"{table}.csv")[0]
        )


def test_the_same_export_gives_the_same_bytes(export, tmp_path) -> None:
    for form in ("csv", "json", "xlsx"):
        export("--as", form, "-o", tmp_path / "one")
        export("--as", form, "-o", tmp_path / "two")
    for file in (tmp_path / "one").iterdir():
        assert file.read_bytes() == (tmp_path / "two" / file.name).read_bytes()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--as", "pdf", "-o", "out"], "pdf"),
        (["-o", "out"], "--as"),
        (["--as", "csv"], "-o"),
        (["--as", "csv", "-o", "taken"], "taken"),
        (["--as", "csv", "-o", "taken/deeper"], "taken"),
    ],
)
def test_a_wrong_call_is_one_line_and_writes_nothing(export, tmp_path, monkeypatch, arguments, said) -> None:
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    Path("taken").write_text("x", encoding="utf-8")
    outcome = export(*arguments)
    assert outcome.status == 2
    assert outcome.out == ""
    assert outcome.err.count("\n") == 1
    assert said in outcome.err
    assert [path.name for path in Path().iterdir()] == ["taken"]


def test_a_folder_that_is_no_workspace_is_named(fieldlog, tmp_path) -> None:
    outcome = fieldlog("--workspace", tmp_path / "none", "export", "--as", "csv", "-o", tmp_path / "out")
    assert outcome.status == 2
    assert "no workspace" in outcome.err
    assert not (tmp_path / "out").exists()
