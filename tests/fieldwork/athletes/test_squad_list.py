"""A squad list from CSV and XLSX: each row looked at, nothing entered before it is right."""

import datetime as dt
import io
import zipfile

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.athletes.athletes import add_athlete, athlete_named, squad_of
from fieldlog.fieldwork.athletes.list_rows import LARGEST_FILE_BYTES, MOST_ROWS, read_text_rows
from fieldlog.fieldwork.athletes.squad_list import enter_squad, look_at_squad
from fieldlog.store.workspace import Workspace

AT = dt.datetime(2031, 5, 4, 8, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
HEAD = "code,squad,sex,minor,position,name\n"


@pytest.fixture
def workspace(tmp_path):
    with Workspace.create(tmp_path / "workspace") as made:
        yield made


@pytest.fixture
def write(tmp_path):
    def write(content, name="squad.csv"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return write


def workbook(rows, tmp_path, name="squad.xlsx"):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    path = tmp_path / name
    book.save(path)
    return path


def test_rows_are_shown_before_anything_is_entered(workspace, write):
    looked = look_at_squad(
        workspace, write(HEAD + "R01,Skarvik,f,no,bow,Ann Example\nR02,Skarvik,male,yes,,\n")
    )
    assert [(row.line, row.word) for row in looked.rows] == [(2, "new"), (3, "new")]
    assert squad_of(workspace, "Skarvik") == []
    entered = enter_squad(workspace, looked, by="tester 1", at=AT)
    assert [(athlete.code, athlete.sex, athlete.minor) for athlete in entered] == [
        ("R01", "female", False),
        ("R02", "male", True),
    ]
    assert len(squad_of(workspace, "Skarvik")) == 2


def test_names_go_into_persons_files_and_nowhere_else(workspace, write):
    enter_squad(workspace, look_at_squad(workspace, write(HEAD + "R01,,,,,Ann Example\n")), by="t", at=AT)
    athlete = athlete_named(workspace, "R01").record
    assert [body["name"] for body in workspace.persons.for_athlete(athlete.id)] == ["Ann Example"]
    assert "Ann Example" not in athlete.model_dump_json()


def test_a_known_code_is_left_as_it_is(workspace, write):
    add_athlete(workspace, "R01", by="tester 1", squad="Old")
    looked = look_at_squad(workspace, write(HEAD + "R01,New,,,,\nR02,New,,,,\n"))
    assert [row.word for row in looked.rows] == ["known", "new"]
    enter_squad(workspace, looked, by="tester 1", at=AT)
    assert athlete_named(workspace, "R01").record.squad == "Old"
    assert looked.count("known") == 1


@pytest.mark.parametrize(
    ("row", "text"),
    [
        (",Skarvik,,,,", "code: missing"),
        ("R01,,x,,,", "sex: 'x' is neither female nor male"),
        ("R01,,,maybe,,", "minor: 'maybe' is neither yes nor no"),
        (f"{'R' * 41},,,,,", "code: String should have at most 40"),
        (f"R01,,,,,{'n' * 201}", "name: longer"),
        ("R01\x1b[2J,,,,,", "code: holds control characters"),
        ("R09,,,,,", "code: R09 stands in line 2 already"),
    ],
)
def test_a_wrong_row_is_named_and_nothing_at_all_is_entered(workspace, write, row, text):
    looked = look_at_squad(workspace, write(f"{HEAD}R09,,,,,\n{row}\n"))
    assert (looked.rows[1].line, looked.rows[1].word) == (3, "wrong")
    assert text in looked.rows[1].text
    with pytest.raises(RefusedError, match="line 3"):
        enter_squad(workspace, looked, by="tester 1", at=AT)
    with pytest.raises(InputError):
        athlete_named(workspace, "R09")


def test_a_name_is_on_disk_before_the_athlete(workspace, write, monkeypatch):
    looked = look_at_squad(workspace, write(HEAD + "R01,,,,,Ann Example\n"))

    def breaks_off(*args, **kwargs):
        raise OSError("the power went")

    monkeypatch.setattr("fieldlog.fieldwork.athletes.squad_list.add_athlete", breaks_off)
    with pytest.raises(OSError, match="power"):
        enter_squad(workspace, looked, by="lead", at=AT)
    assert [body["name"] for body in workspace.persons.all()] == ["Ann Example"]
    monkeypatch.undo()
    (entered,) = enter_squad(workspace, looked, by="lead", at=AT)
    assert [body["name"] for body in workspace.persons.for_athlete(entered.id)] == ["Ann Example"]


def test_columns_nobody_asked_for_are_named(workspace, write):
    looked = look_at_squad(workspace, write("Code;Squad;Shoe size\nR01;Skarvik;44\n"), squad="Other")
    assert looked.unused_columns == ("shoe size",)
    assert looked.rows[0].athlete.squad == "Skarvik"


def test_a_squad_is_given_to_rows_that_name_none(workspace, write):
    looked = look_at_squad(workspace, write("\ufeffcode\n# remark\nR01\n\nR02\n"), squad="Skarvik U21")
    assert [row.athlete.squad for row in looked.rows] == ["Skarvik U21"] * 2


def test_a_workbook_gives_the_same_rows_as_the_text(workspace, write, tmp_path):
    rows = [
        ["code", "squad", "sex", "minor"],
        ["R01", "Skarvik", "f", True],
        [7, "Skarvik", None, False],
        [],
        ["Å9"],
    ]
    looked = look_at_squad(workspace, workbook(rows, tmp_path))
    assert [(row.line, row.athlete.code, row.athlete.minor) for row in looked.rows] == [
        (2, "R01", True),
        (3, "7", False),
        (5, "Å9", False),
    ]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\n\n",
        b"\x00\x01\x02" * 100,
        b"PK\x03\x04 not a zip",
        "name,squad\nAnn,x\n",
        "code\n",
        "code,code\nR01,R02\n",
        b"code\nR\xff\n",
        'code\n"R01\n' + "x" * 200_000,
        "code" + "," * 100 + "\n" + "R01" + "," * 100,
        "code\n" + "".join(f"R{number}\n" for number in range(MOST_ROWS + 1)),
        b"x" * (LARGEST_FILE_BYTES + 1),
    ],
)
def test_a_file_that_is_no_squad_list_is_refused_in_one_line(workspace, write, content):
    with pytest.raises(InputError) as refused:
        look_at_squad(workspace, write(content))
    assert str(refused.value).startswith("squad.csv")
    assert "\n" not in str(refused.value)


def crafted(parts):
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as book:
        for name, content in parts.items():
            book.writestr(name, content)
    return data.getvalue()


@pytest.mark.parametrize(
    "parts",
    [
        {},
        {"xl/workbook.xml": "<a"},
        {"xl/workbook.xml": "<a/>"},
        {"xl/workbook.xml": "<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>"},
        {"xl/workbook.xml": b"\x00" * (17 << 20)},
    ],
)
def test_a_crafted_workbook_is_refused(workspace, write, parts):
    with pytest.raises(InputError, match="not a workbook"):
        look_at_squad(workspace, write(crafted(parts), "squad.xlsx"))


@given(st.binary(max_size=300))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_are_rows_or_refused(write, content):
    try:
        rows = read_text_rows(write(content))
    except InputError:
        return
    assert all(isinstance(cell, str) for _, cells in rows for cell in cells)


def test_missing_file_is_named(workspace, tmp_path):
    with pytest.raises(InputError, match=r"none\.csv"):
        look_at_squad(workspace, tmp_path / "none.csv")
