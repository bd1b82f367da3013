"""Rows of text that nothing in a name can break."""

import pytest
from rich.cells import cell_len

from fieldlog.screens.table import (
    Column,
    Row,
    Span,
    compose_row,
    fit,
    fitted,
    headings,
    plain,
    text_of,
    wrapped,
)

HOSTILE = [
    "Ann [/x]",
    "[bold red]Bo[/]",
    "\x1b[31mred\x1b[0m",
    "a\nb\tc\rd",
    "\u202eright to left",
    "שלום עולם",
    "👩‍🚀🏳️‍🌈",
    "日本語" * 100,
    "e\u0301" * 200,
    "=cmd|' /C calc'!A0",
    "",
    "\x00\x07\x9b31m",
]


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.parametrize("width", [1, 2, 5, 12, 60])
def test_a_cell_is_exactly_as_wide_as_its_column_whatever_it_holds(name, width):
    spans = fit(name, width)
    assert sum(cell_len(span.text) for span in spans) == width
    assert all(ord(character) >= 32 and character != "\x9b" for character in text_of(spans))


def test_escapes_and_direction_switches_become_blanks():
    assert plain("\x1b[31mred") == " [31mred"
    assert plain("a\u202eb") == "a b"
    assert plain("Ann [/x]") == "Ann [/x]"


def test_what_is_cut_off_ends_in_an_ellipsis():
    assert text_of(fit("Skarvik boathouse", 10)) == "Skarvik b…"
    assert text_of(fit("12.5", 8, "right")) == "    12.5"


def test_flexible_columns_share_what_the_others_leave():
    columns = (Column("site"), Column("rig", 5), Column("athletes", 8, "right"))
    assert text_of(compose_row(columns, ("Hall", "A", "12"), 30)) == "Hall           A            12"
    assert text_of(headings(columns, 30)).split() == ["site", "rig", "athletes"]


def test_a_row_is_found_by_any_of_its_words():
    row = Row("x", ("Skarvik Boathouse", [Span("closing "), Span("check")]))
    assert "boathouse" in row.words
    assert "closing check" in row.words


def test_a_long_text_is_wrapped_inside_the_width():
    lines = wrapped("word " * 60, 40, "warn")
    assert all(cell_len(line.text) <= 40 for line in lines)
    assert all(line.role == "warn" for line in lines)


def test_columns_give_way_to_a_long_name_only_where_it_would_be_cut():
    columns = (Column("", 3), Column(""), Column("", 20))
    short = [Row("a", ("1", "heel", "to 40 cm"))]
    assert fitted(columns, short, 40) == columns
    long = [*short, Row("b", ("2", "what is done for the back", "yes"))]
    assert [column.width for column in fitted(columns, long, 40)] == [1, 0, 8]
    cut = [Row("c", ("3", "n" * 40, "w" * 12))]
    assert [column.width for column in fitted(columns, cut, 40)] == [1, 0, 12]
