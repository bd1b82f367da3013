"""Reading a table of repeated tests."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fieldlog.errors import InputError
from fieldlog.fieldwork.change.reliability_file import ScoreTable, read_score_table


@pytest.fixture
def read(tmp_path):
    def read(content):
        path = tmp_path / "scores.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_score_table(path)

    return read


EXPECTED = ScoreTable(("A", "B"), ("one", "two"), ((120.5, 118.0), (98.0, None)))


@pytest.mark.parametrize(
    "content",
    [
        "athlete,one,two\nA,120.5,118\nB,98,\n",
        "athlete;one;two\nA;120,5;118\nB;98;\n",
        "athlete\tone\ttwo\nA\t120,5\t118.0\nB\t98\t\n",
        "\ufeffathlete,one,two\r\nA,120.5,118\r\n\r\nB,98\r\n",
        'athlete,one,two\n"A","120,5",118\nB, 98 ,\n',
        "athlete,one,two,\nA,1.205e2,118,\nB,98,,\n",
        "athlete;one;two\n;;\nA;+120,5;118\nB;98\n",
    ],
    ids=["comma", "semicolon", "tab", "bom", "quoted comma", "trailing", "blank rows"],
)
def test_separators_and_decimal_signs_of_the_trade_are_read_alike(read, content):
    assert read(content) == EXPECTED


def test_complete_cases_are_those_with_every_visit(read):
    assert read("athlete,one,two\nA,1,2\nB,3,\nC,4,5\n").complete().athletes == ("A", "C")


@pytest.mark.parametrize("header", ["athlete,1,2", ",1,2", "code,10,30", "x,1,2", "x,2031,2032"])
def test_visits_may_be_named_by_number(read, header):
    assert len(read(f"{header}\nA,120,118\n").visits) == 2


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "empty"),
        ("\n \n", "empty"),
        ("athlete,one,two\n", "no athlete"),
        ("athlete\nA\n", "no visit"),
        ("athlete,one\nA,1\nB,2\n", "one visit"),
        ("A,120,118\nB,98,97\n", "line 1 holds scores where the visits should be named"),
        ("athlete,one,two\nA,1,x\n", r"line 2, two: 'x' is no number"),
        ("athlete,one,two\nA,1,NaN\n", "line 2, two: 'NaN' is no number"),
        ("athlete,one,two\nA,1,inf\n", "line 2, two"),
        ("athlete,one,two\nA,1,NA\n", "line 2, two"),
        ("athlete,one,two\nA,1,1e999\n", "line 2, two"),
        ("athlete,one,two\nA,1,1.234,5\n", "line 2: 3 values for 2 visits"),
        ("athlete;one;two\nA;1;1.234,5\n", "line 2, two"),
        ("athlete,one,two\nA,1,2\nB,1,2\nA,3,4\n", "line 4: athlete A stands twice, first in line 2"),
        ("athlete,one,two\n,1,2\n", "line 2: no athlete code"),
        ("athlete,one Nm,two lbf ft\nA,1,2\n", "mixes units"),
        (b"athlete,one,two\nA,1,\xff\n", "line 2 is no UTF-8"),
        (b"\x00\x01\x02\xfe", "UTF-8"),
        ('athlete,one,two\nA,"1,2\n', "line"),
        ("athlete,one,two\nA," + "9" * 200_000 + ",1\n", "line"),
        ("athlete,one,two\n" + "A,1,2\n" * 4_000_000, "larger"),
    ],
)
def test_what_is_wrong_is_named_by_file_and_line(read, tmp_path, content, said):
    with pytest.raises(InputError, match=said) as caught:
        read(content)
    assert str(caught.value).startswith(str(tmp_path / "scores.csv"))
    assert caught.value.hint
    assert len(str(caught.value)) < 500


@settings(max_examples=100, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.one_of(st.binary(max_size=200), st.text(alphabet='A1,;.\t\n"-e ', max_size=120)))
def test_any_bytes_are_read_or_named(read, content):
    try:
        table = read(content)
    except InputError as error:
        assert "\n" not in str(error)  # noqa: PT017 (whether it raises is what the example decides)
    else:
        assert all(len(row) == len(table.visits) for row in table.scores)
