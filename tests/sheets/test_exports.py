"""Exports read back with the standard library and openpyxl."""

import csv
import datetime as dt
import io
import json
import math

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.errors import InputError
from fieldlog.fieldwork.recording.trace_body import HOLD_KEYS, MOVEMENT_KEYS
from fieldlog.fieldwork.results.result_rows import NOT_IN_ROWS, check_rows, repetition_rows, result_rows
from fieldlog.sheets.export_schema import TABLES, schema_body
from fieldlog.sheets.export_text import FORMULA_SIGNS, harmless
from fieldlog.sheets.export_xlsx import workbook_bytes
from fieldlog.sheets.exports import csv_text, json_text, write_export, write_whole
from tests.sheets.making import make_workspace

CONTRACTED = [
    "site",
    "visit",
    "athlete",
    "protocol",
    "set",
    "direction",
    "mode",
    "set_speed_deg_s",
    "peak_torque_nm",
    "peak_torque_angle_deg",
    "work_j",
    "mean_power_w",
    "peak_torque_cv_pct",
    "quality",
    "cover",
    "recipe",
]


@pytest.fixture(scope="module")
def rows(tmp_path_factory):
    with make_workspace(tmp_path_factory.mktemp("export") / "workspace", ["R01", "=2+2", "R03"]) as workspace:
        return {
            "results": list(result_rows(workspace)),
            "repetitions": list(repetition_rows(workspace)),
            "checks": list(check_rows(workspace)),
        }


def read_csv(text):
    return list(csv.DictReader(io.StringIO(text)))


def sheets_of(data):
    book = openpyxl.load_workbook(io.BytesIO(data))
    return {sheet.title: sheet for sheet in book}


def test_each_result_is_one_row_a_set_and_direction_with_the_columns_in_order(rows):
    assert len(rows["results"]) == 3 * 2 * 2 * 2
    text = csv_text("results", rows["results"])
    header = text.splitlines()[0].split(",")
    assert header[: len(CONTRACTED)] == CONTRACTED
    read = read_csv(text)
    assert len(read) == len(rows["results"])
    for printed, row in zip(read, rows["results"], strict=True):
        assert float(printed["peak_torque_nm"]) == row["peak_torque_nm"]
        assert printed["direction"] in ("up", "down")
        assert printed["cover"] == "confirmed"


def test_repetitions_are_one_row_a_movement(rows):
    assert len(rows["repetitions"]) == 3 * 2 * 2 * 6
    assert {row["index"] for row in rows["repetitions"]} == set(range(1, 7))


@pytest.mark.parametrize("table", ["results", "repetitions", "checks"])
def test_the_schema_names_every_column_that_is_exported(rows, table):
    known = {field.name for field in TABLES[table]}
    assert {name for row in rows[table] for name in row} <= known
    fields = schema_body()[table]["fields"]
    assert [field["name"] for field in fields] == [field.name for field in TABLES[table]]
    assert all(field["type"] in ("string", "integer", "number", "date", "datetime") for field in fields)
    assert all(field["description"] for field in fields)


def test_everything_measured_of_a_movement_or_hold_has_a_described_column():
    described = {field.name for field in TABLES["repetitions"]}
    assert {*MOVEMENT_KEYS, *HOLD_KEYS} - set(NOT_IN_ROWS) <= described


@pytest.mark.parametrize("table", ["results", "repetitions", "checks"])
def test_values_are_of_the_type_the_schema_says(rows, table):
    kinds = {field.name: field.kind for field in TABLES[table]}
    wanted = {"string": str, "date": str, "datetime": str, "integer": int, "number": (int, float)}
    for row in rows[table]:
        for name, value in row.items():
            assert value is None or isinstance(value, wanted[kinds[name]]), (name, value)


def test_a_formula_in_a_text_cell_is_made_harmless_and_numbers_are_left_alone(rows):
    read = read_csv(csv_text("results", rows["results"]))
    assert {row["athlete"] for row in read} == {"R01", "'=2+2", "R03"}
    negative = csv_text("results", [{"peak_torque_nm": -12.5, "athlete": "-1"}])
    assert read_csv(negative)[0]["peak_torque_nm"] == "-12.5"
    assert read_csv(negative)[0]["athlete"] == "'-1"


def test_json_holds_the_same_rows_with_null_for_what_is_not_known(rows):
    body = json.loads(json_text("results", [*rows["results"], {"peak_torque_nm": math.nan}]))
    assert list(body) == ["rows"]
    assert len(body["rows"]) == len(rows["results"]) + 1
    assert body["rows"][-1]["peak_torque_nm"] is None
    for exported, row in zip(body["rows"], rows["results"], strict=False):
        assert {name: exported[name] for name in row} == row


def test_the_workbook_has_three_sheets_with_typed_cells_units_and_notes(rows):
    sheets = sheets_of(workbook_bytes(rows))
    assert list(sheets) == ["results", "repetitions", "checks"]
    for table, sheet in sheets.items():
        header, units, *values = list(sheet.values)
        names = [field.name for field in TABLES[table]]
        assert list(header) == names
        assert dict(zip(header, units, strict=True)).get("peak_torque_nm", "N·m") == "N·m"
        assert len(values) == len(rows[table])
        for cells, row in zip(values, rows[table], strict=True):
            for name, cell in zip(names, cells, strict=True):
                value = row.get(name)
                if isinstance(cell, dt.datetime):
                    assert cell.date().isoformat() == value
                elif value in ("", None):
                    assert cell is None
                elif isinstance(value, float):
                    assert cell == pytest.approx(value, rel=1e-12)
                else:
                    assert cell == value
    assert "peak torque" in sheets["results"]["I1"].comment.text or sheets["results"]["I1"].comment.text


def test_a_formula_in_the_workbook_is_text():
    sheet = sheets_of(workbook_bytes({"results": [{"athlete": "=1+1"}]}))["results"]
    cell = sheet["C3"]
    assert cell.data_type == "s"
    assert cell.value == "=1+1"
    assert cell.quotePrefix


def test_the_same_rows_give_the_same_workbook(rows):
    assert workbook_bytes(rows) == workbook_bytes(rows)


@given(st.text(max_size=40))
@settings(max_examples=80, deadline=None)
def test_no_text_becomes_a_formula_or_breaks_a_row(text):
    shown = harmless(text)
    assert shown.lstrip(" ")[:1] not in FORMULA_SIGNS or not shown.strip(" ")
    read = list(csv.reader(io.StringIO(csv_text("results", [{"site": text, "cover": "x"}]))))
    assert len(read) == 2
    assert read[1][14] == "x"


@given(st.text(alphabet=st.characters(), max_size=60))
@settings(max_examples=30, deadline=None)
def test_any_text_gives_a_workbook_that_opens(text):
    sheet = sheets_of(workbook_bytes({"results": [{"athlete": text}]}))["results"]
    assert sheet.max_row <= 3


def test_an_empty_workspace_exports_headers_only():
    assert csv_text("checks", []).count("\n") == 1
    assert json.loads(json_text("checks", [])) == {"rows": []}


def test_a_folder_is_made_and_a_file_in_its_place_is_refused(rows, tmp_path):
    files = write_export(tmp_path / "deep" / "out", rows, "csv")
    assert sorted(path.name for path in (tmp_path / "deep" / "out").iterdir()) == [
        "checks.csv",
        "repetitions.csv",
        "results.csv",
    ]
    assert all(path.is_file() for path in files)
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match="is a file"):
        write_export(tmp_path / "file", rows, "csv")


def test_a_write_that_fails_leaves_the_files_that_were_there(tmp_path):
    target = tmp_path / "a.csv"
    target.write_bytes(b"old")
    with pytest.raises(OSError, match="directory"):
        write_whole({target: b"new", tmp_path / "missing" / "b.csv": b"new"})
    assert target.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["a.csv"]
