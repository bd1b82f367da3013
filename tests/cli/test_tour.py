"""The tour goes through one whole visit from raw recordings."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pypdf
import pytest


@pytest.fixture(scope="module")
def toured(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    from click.testing import CliRunner

    from fieldlog.cli.main import fieldlog

    folder = tmp_path_factory.mktemp("tour") / "into"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FIELDLOG_TODAY", "2000-01-01")
        outcome = CliRunner().invoke(
            fieldlog, ["tour", "--unattended", "--into", str(folder)], catch_exceptions=False
        )
    assert outcome.exit_code == 0
    return folder, outcome.output


def test_each_step_is_printed_with_its_figures(toured: tuple[Path, str]) -> None:
    _, printed = toured
    assert "2026-05-06" in printed
    assert "invented" in printed.lower()
    for step in ("arrive", "opening check  pass", "setup          R01: clearance go", "closing check  pass"):
        assert step in printed
    assert "set            R08, 60°/s" in printed


def test_the_coach_page_lies_where_the_tour_says(toured: tuple[Path, str]) -> None:
    folder, printed = toured
    page = folder / "out" / "coach.pdf"
    assert str(page) in printed
    text = pypdf.PdfReader(page).pages[0].extract_text()
    assert "Skarvik boathouse" in text
    assert "not a diagnosis" in text


def test_the_exports_hold_every_set_of_every_visit(toured: tuple[Path, str]) -> None:
    folder, _ = toured
    text = (folder / "out" / "results.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert {row["site"] for row in rows} == {"Skarvik boathouse", "Lowfield hall", "Tarn academy"}
    assert {row["cover"] for row in rows if row["site"] == "Lowfield hall"} == {"suspect"}
    today = [row for row in rows if row["visit"] == "2026-05-06"]
    assert len(today) == 28
    assert {row["cover"] for row in today} == {"confirmed"}


def test_a_recording_with_decimal_commas_and_foreign_names_is_read(toured: tuple[Path, str]) -> None:
    folder, printed = toured
    foreign = (folder / "recordings" / "2026-05-06_R08_trunk_060.csv").read_text(encoding="utf-8")
    assert ";" in foreign
    assert "," in foreign
    assert "set            R08, 60°/s: flexion" in printed


def test_a_folder_that_holds_something_is_left_alone(fieldlog, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    outcome = fieldlog("tour", "--unattended", "--into", tmp_path)
    assert outcome.status == 2
    assert outcome.out == ""
    assert "is not empty" in outcome.err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
