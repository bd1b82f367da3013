"""Foreign files in every dress are read, and a wrong one is named with its line in one sentence."""

import os
import threading

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fieldlog.errors import InputError
from fieldlog.fieldwork.recording import number_rows
from fieldlog.fieldwork.recording.recording_reader import LARGEST_FILE_BYTES, Request, read_bytes, read_table

MORE = 50 if os.environ.get("FIELDLOG_LONG") else 1
WANTED = ("time_s", "angle_deg", "torque_nm")
HEADER = "time_s,angle_deg,torque_nm\n"


def read(text, **request):
    data = text if isinstance(text, bytes) else text.encode()
    return read_table(data, Request("set.csv", **{"wanted": WANTED, "hint": "map it", **request}))


def columns(text, **request):
    return [column.tolist() for column in read(text, **request).columns]


def refusal(text, **request):
    with pytest.raises(InputError) as caught:
        read(text, **request)
    message = str(caught.value)
    assert message.startswith("set.csv")
    assert "\n" not in message
    assert caught.value.hint
    return message


PLAIN = [[0.0, 0.01, 0.02], [10.5, 11.0, -12.0], [1.0, 2.0, 3000.0]]


@pytest.mark.parametrize(
    "text",
    [
        HEADER + "0,10.5,1\n0.01,11,2\n0.02,-12,3e3\n",
        HEADER + "0,10.5,1\n0.01,11,2\n0.02,-12,3e3",
        HEADER + "0, 10.5 ,1\n 0.01,11,2\n0.02,-12,3E+3\n\n\n",
        HEADER + "0,+10.5,1.\n.01,11,2\n2e-2,-12,+3000\n",
        "\ufeff" + HEADER + "0,10.5,1\n0.01,11,2\n0.02,-12,3000\n",
        HEADER.replace("\n", "\r\n") + "0,10.5,1\r\n0.01,11,2\r\n0.02,-12,3000\r\n",
        HEADER.replace("\n", "\r") + "0,10.5,1\r0.01,11,2\r0.02,-12,3000\r",
        "# rig A\n\n# second\n" + HEADER + "# begin\n0,10.5,1\n0.01,11,2\n  # middle\n\n0.02,-12,3000\n# end",
        "torque_nm;time_s;angle_deg\n1;0;10,5\n2;0,01;11\n3000;0,02;-12\n",
        "torque_nm\ttime_s\tangle_deg\n1\t0\t10.5\n2\t0.01\t11\n3000\t0.02\t-12\n",
        "torque_nm\ttime_s\tangle_deg\n1\t0\t10,5\n2\t0,01\t11\n3000\t0,02\t-12\n",
        '"time_s","angle_deg","torque_nm"\n"0","10.5","1"\n"0.01","11","2"\n"0.02","-12","3000"\n',
        '"time_s","angle_deg","torque_nm"\n"0","10,5","1"\n"0,01","11","2"\n"0,02","-12","3000"\n',
        "time_s,marker,angle_deg,torque_nm\n0,start,10.5,1\n0.01,ä,11,2\n0.02,,-12,3000\n",
        "time_s;clock;angle_deg;torque_nm\n0;9:00:00.000;10,5;1\n0,01;9:00:00.010;11;2\n0,02;9:00:00.020;-12;3000\n",
        "time_s,angle_deg,torque_nm\n0,10.5,1,\n0.01,11,2,\n0.02,-12,3000,\n",
    ],
)
def test_the_same_numbers_are_read_from_every_dress(text):
    assert columns(text) == PLAIN


def test_leading_lines_are_skipped_where_the_map_says_so():
    text = "rig B, hall 2\nsome, other, line\n" + HEADER + "0,1,2\n"
    assert columns(text, skip_lines=2) == [[0.0], [1.0], [2.0]]


def test_an_optional_column_is_read_where_it_exists():
    table = read("time_s,angle_deg,velocity_deg_s,torque_nm\n0,1,60,2\n", optional=("velocity_deg_s",))
    assert table.names == (*WANTED, "velocity_deg_s")
    assert table.columns[3].tolist() == [60.0]
    assert read(HEADER + "0,1,2\n", optional=("velocity_deg_s",)).names == WANTED


def test_a_file_of_many_blocks_is_read_as_one(monkeypatch):
    monkeypatch.setattr(number_rows, "_BLOCK_BYTES", 300)
    numbers = np.round(np.random.default_rng(1).normal(size=(500, 3)), 4)
    text = HEADER + "".join(f"{a},{b},{c}\n" for a, b, c in numbers)
    assert np.array(columns(text)).T.tolist() == numbers.tolist()
    assert "line 402, torque_nm" in refusal(text.replace(f"{numbers[400][2]}\n", "oops\n"))


def test_the_line_of_a_row_counts_comments_and_blank_lines():
    table = read("# one\n" + HEADER + "0,1,2\n\n# five\n0.1,1,2\n")
    assert [table.line_of(0), table.line_of(1)] == [3, 6]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "the file is empty"),
        ("  \n \n", "the file is empty"),
        ("# nothing\n# else\n", "no line with column names"),
        ("a,b,c\n1,2,3\n", "line 1: no column 'time_s' among: a, b, c; map it"),
        ("time_s,angle_deg,torque_nm,time_s\n1,2,3,4\n", "column 'time_s' stands there twice"),
        (HEADER + "0,1,2\n0.1,1\n", "line 3: 2 fields instead of 3"),
        (HEADER + "0,1,2,9\n0.1,1\n", "line 2: 4 fields instead of 3"),
        (HEADER + "0,001,1,5,2,5\n", "decimal commas need semicolons or tabs"),
        (HEADER + "0,1,2\n0.1,x,2\n", "line 3, angle_deg: 'x' is not a number"),
        (HEADER + "0,1,2\n0.1,,2\n", "line 3, angle_deg: empty"),
        (HEADER + "0,1,2\n0.1,nan,2\n", "line 3, angle_deg: 'nan' is not a finite number"),
        (HEADER + "0,1,2\n0.1,1,-inf\n", "line 3, torque_nm: '-inf' is not a finite number"),
        (HEADER + "0,1,2\n0.1,1,1e999\n", "line 3, torque_nm: '1e999' is not a finite number"),
        (HEADER + "0,1,2\n0.1,1,true\n", "line 3, torque_nm: 'true' is not a number"),
        (HEADER + "0,1,2\n0.1,1,null\n", "line 3, torque_nm: 'null' is not a number"),
        (HEADER + "0,1,2\n0.1,1,1_000\n", "line 3, torque_nm: '1_000' is not a number"),
        (HEADER + "0,1,2\n0.1,1,\u0661\n", "is not a number"),
        (HEADER + "0,1,2\n0.1,1,1e\n", "is not a number"),
        (HEADER + "0,1,2\n0.1,1,1 2\n", "is not a number"),
        ("time_s;angle_deg;torque_nm\n0,1;1;2\n0.2;1;2\n", "line 3, time_s: '0.2' has '.' as decimal sign"),
        ("time_s;angle_deg;torque_nm\n0.1;1;2\n0,2;1;2\n", "line 3, time_s: '0,2' has ',' as decimal sign"),
        ("time_s;angle_deg;torque_nm\n0,1;1.000,5;2\n", "both a comma and a point"),
        (HEADER.encode() + b"0,1,2\n0.1,1,2 \xe9\n", "line 3: the text is not UTF-8"),
        ("time_s,Winkel °,torque_nm\n".encode("latin-1"), "line 1: the text is not UTF-8"),
        (HEADER.encode("utf-16"), "zero bytes or is UTF-16"),
        (b"\0" * 1000, "zero bytes or is UTF-16"),
        ("x" * 70_000, "line 1: longer than 64 KB"),
        (HEADER + "1," * 40_000, "line 2: longer than 64 KB"),
        (HEADER + "0,1,2\n" + "1 " * 40_000 + "\n0.1,1,2\n", "line 3: longer than 64 KB"),
        (HEADER + "0,1," + "2" * 3_000_000, "line 2: longer than 64 KB"),
        (",".join(f"c{n}" for n in range(2000)) + "\n", "2000 columns, more than 500"),
    ],
)
def test_a_wrong_file_is_refused_with_its_line(text, what):
    assert what in refusal(text)


def test_a_decimal_comma_cannot_be_asked_for_between_commas():
    assert "cannot be decimal signs too" in refusal(HEADER + "0,1,2\n", decimal=",")


def test_terminal_escapes_in_a_file_do_not_reach_the_message():
    assert "\x1b" not in refusal(HEADER + "0,1,\x1b[31mred\n")
    assert "\x1b" not in refusal("a\x1b[2J,b\n1,2\n")


def test_a_million_columns_are_refused_without_reading_them_all():
    assert "longer than 64 KB" in refusal(",".join("c" for _ in range(1_000_000)) + "\n1,2\n")


def test_a_file_larger_than_the_limit_is_refused(tmp_path):
    large = tmp_path / "set.csv"
    with large.open("wb") as file:
        file.write(HEADER.encode() + b"0,1,2\n" * 20_000)
        file.truncate(LARGEST_FILE_BYTES * 16)
    with pytest.raises(InputError, match="larger than 128 MB"):
        read_bytes(large)


def test_an_endless_line_is_refused_after_its_first_part(tmp_path):
    endless = tmp_path / "set.csv"
    with endless.open("wb") as file:
        file.write(b"9" * 100_000)
        file.truncate(2 * 1024**3)
    with pytest.raises(InputError, match="longer than 64 KB"):
        read_bytes(endless)


def test_a_folder_and_a_missing_file_are_refused(tmp_path):
    for path in (tmp_path, tmp_path / "nothing.csv"):
        with pytest.raises(InputError) as caught:
            read_bytes(path)
        assert str(path) in str(caught.value)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_can_be_read_like_a_file(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    writer = threading.Thread(target=lambda: pipe.write_text(HEADER + "0,1,2\n"))
    writer.start()
    assert read_bytes(pipe).startswith(b"time_s")
    writer.join()


@settings(max_examples=60 * MORE, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused_in_one_line(data):
    for text in (data, HEADER.encode() + data):
        try:
            table = read_table(text, Request("set.csv", WANTED, hint="map it"))
        except InputError as error:
            assert "\n" not in str(error)  # noqa: PT017 (both outcomes are right)
        else:
            assert all(np.isfinite(column).all() for column in table.columns)


CELLS = st.one_of(
    st.floats(allow_nan=False, allow_infinity=False, width=32).map(str),
    st.sampled_from(
        [
            "",
            " ",
            "1,5",
            "1.5",
            "nan",
            "inf",
            "1e5",
            "+2",
            ".5",
            "5.",
            "-",
            "x",
            '"3"',
            '"',
            "#",
            "0x1",
            "1_0",
            "٣",
        ]
    ),
)


@settings(max_examples=120 * MORE, deadline=None)
@given(st.lists(st.lists(CELLS, min_size=2, max_size=4), max_size=6), st.sampled_from([",", ";", "\t"]))
def test_a_table_of_odd_cells_is_read_right_or_refused(rows, separator):
    text = separator.join(WANTED) + "\n" + "".join(separator.join(row) + "\n" for row in rows)
    try:
        table = read(text)
    except InputError:
        return
    lines = [row for row in rows if any(cell.strip() for cell in row) or len(row) > 1]
    assert table.columns[0].size <= len(lines)
    assert all(np.isfinite(column).all() for column in table.columns)


@settings(max_examples=40 * MORE, deadline=None)
@given(st.lists(st.tuples(*[st.floats(-1e6, 1e6)] * 3), min_size=1, max_size=30), st.booleans())
def test_plain_numbers_come_back_to_the_last_digit(rows, comma):
    separator, decimal = (";", ",") if comma else (",", ".")
    text = separator.join(WANTED) + "\n"
    text += "".join(separator.join(repr(cell).replace(".", decimal) for cell in row) + "\n" for row in rows)
    assert np.array(columns(text)).T.tolist() == [list(row) for row in rows]
