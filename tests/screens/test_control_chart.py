"""Control charts in text cells: what is seen must be what was measured."""

import datetime as dt

import pytest

from fieldlog.screens.control_chart import ASCII, ControlChart, draw_chart
from fieldlog.screens.table import text_of

DAYS = tuple(dt.date(2031, 1, 1) + dt.timedelta(days=30 * place) for place in range(6))


def lines(chart, width=60, height=11, **options):
    return [
        "".join(text_of([span]) for span in line).rstrip()
        for line in draw_chart(chart, width, height, **options)
    ]


def a_chart(**changes):
    values = {
        "days": DAYS,
        "values": (0.1, 0.2, 0.6, 0.3, 0.1, 0.4),
        "tolerance": 1.0,
        "centre": 0.25,
        "lower": -0.2,
        "upper": 0.6,
        "average": (0.1, 0.13, 0.3, 0.3, 0.24, 0.3),
        "fired": frozenset({2}),
        "breaks": ((2, False), (4, True)),
    }
    return ControlChart(**(values | changes))


def test_every_line_is_as_wide_as_it_was_asked_to_be():
    for width, height in ((60, 9), (80, 11), (120, 20), (40, 7)):
        drawn = draw_chart(a_chart(), width, height)
        assert len(drawn) == height
        assert {sum(len(span.text) for span in line) for line in drawn} == {width}


def test_levels_are_named_and_numbered_at_the_edges():
    said = "\n".join(lines(a_chart()))
    for name in ("tolerance", "upper", "centre", "lower"):
        assert name in said
    assert "+1.00┤" in said
    assert "−1.00┤" in said


def test_a_value_stands_in_its_row_and_a_fired_rule_has_a_mark_of_its_own():
    drawn = lines(a_chart(breaks=(), average=()))
    marks = sorted((line.index(mark), mark) for line in drawn for mark in "o●" if mark in line)
    assert sum(line.count("o") - ("lower" in line) - ("tolerance" in line) for line in drawn[:-2]) >= 5
    fired = next(line for line in drawn if "●" in line)
    assert "upper" in fired
    assert marks


def test_what_splits_the_line_is_drawn_apart_from_what_only_happened():
    drawn = lines(a_chart())
    assert all("│" in line for line in drawn[:-2])
    assert any("┊" in line for line in drawn[:-2])
    assert not any("│" in line for line in lines(a_chart(breaks=((2, False),))))


def test_dates_stand_below_and_the_year_where_it_begins():
    below = lines(a_chart())[-1]
    assert below.split("  ")[4].strip() == "1 Jan 31"
    later = lines(a_chart(days=(*DAYS[:5], dt.date(2032, 2, 1))))[-1]
    assert later.endswith("1 Feb 32")


def test_a_far_tolerance_is_written_instead_of_pressing_everything_into_one_row():
    drawn = lines(a_chart(tolerance=9.0))
    assert "tol ±9.0" in drawn[1]
    assert "tolerance" not in "\n".join(drawn)


def test_where_there_is_no_room_the_latest_checks_are_shown():
    many = tuple(float(place) for place in range(100))
    chart = ControlChart(
        days=tuple(DAYS[0] + dt.timedelta(days=place) for place in range(100)), values=many, tolerance=0.0
    )
    drawn = lines(chart, width=60)
    assert "99.00" in drawn[0]
    assert "1 Jan" not in drawn[-1]


def test_in_ascii_no_other_character_is_drawn():
    drawn = "\n".join(lines(a_chart(), ascii_only=True)).replace("−", "-").replace("±", "")
    assert drawn.isascii()
    assert ASCII.fired in drawn


def test_the_check_under_the_cursor_is_marked_on_the_axis():
    assert lines(a_chart(), cursor=3)[-2].count("^") == 1
    assert "^" not in lines(a_chart())[-2]


@pytest.mark.parametrize(
    ("chart", "height", "said"),
    [
        (ControlChart(days=(), values=(), tolerance=1.0), 9, "nothing to draw yet"),
        (a_chart(), 4, "no room for the chart"),
    ],
)
def test_what_cannot_be_drawn_is_said(chart, height, said):
    drawn = draw_chart(chart, 60, height)
    assert len(drawn) == height
    assert said in text_of(drawn[0])


def test_one_value_and_values_all_alike_are_drawn():
    for values in ((0.0,), (0.0, 0.0, 0.0), (2.5, 2.5)):
        drawn = lines(ControlChart(days=DAYS[: len(values)], values=values, tolerance=0.0))
        assert any("o" in line for line in drawn)
