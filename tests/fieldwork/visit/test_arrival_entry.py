"""Typing what was seen to on arrival."""

import datetime as dt

import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork.visit.arrival import arrival_items
from fieldlog.fieldwork.visit.arrival_entry import read_clock_time, with_answer, with_confirmed

NOW = dt.datetime(2031, 5, 4, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
ITEMS = {item.field: item for item in arrival_items()}


@pytest.mark.parametrize("typed", ["8:14", "08:14", "0814", "8.14", "8h14", " 8:14 "])
def test_a_time_of_the_day_is_read_however_it_is_typed(typed):
    assert read_clock_time(typed, NOW, NOW.date()).isoformat() == "2031-05-04T08:14:00+02:00"


@pytest.mark.parametrize("typed", ["", "25:00", "8:60", "soon", "8", "٨:١٤"])
def test_what_is_no_time_is_named(typed):
    with pytest.raises(InputError, match="no time of the day"):
        read_clock_time(typed, NOW, NOW.date())


def test_confirming_twice_opens_the_point_again():
    once = with_confirmed(None, "levelled")
    assert once.levelled is True
    assert with_confirmed(once, "levelled").levelled is None


def test_answers_take_commas_and_units_and_can_be_taken_back():
    arrival = with_answer(None, ITEMS["hall_temperature_c"], "6,5", NOW, NOW.date())
    assert arrival.hall_temperature_c == 6.5
    arrival = with_answer(arrival, ITEMS["hall_temperature_c"], "50F", NOW, NOW.date())
    assert arrival.hall_temperature_c == 10.0
    assert with_answer(arrival, ITEMS["hall_temperature_c"], " ", NOW, NOW.date()).hall_temperature_c is None


@pytest.mark.parametrize("typed", ["400", "cold", "-90"])
def test_a_temperature_of_no_hall_is_named(typed):
    with pytest.raises(InputError):
        with_answer(None, ITEMS["hall_temperature_c"], typed, NOW, NOW.date())
