"""Numbers, units and dates as this laptop shows them."""

import datetime as dt

import pytest

from fieldlog.screens.words import SHOWN, Shown, day_words, measured, moment_words, number, sentence, signed

DAY = dt.date(2031, 5, 4)


@pytest.fixture
def shown():
    tokens = []

    def choose(**options):
        tokens.append(SHOWN.set(Shown(**options)))

    yield choose
    for token in reversed(tokens):
        SHOWN.reset(token)


def test_the_decimal_sign_is_the_same_in_every_number(shown):
    assert number(12.34, 1, "kg") == "12.3 kg"
    shown(decimal_sign=",")
    assert number(12.34, 1, "kg") == "12,3 kg"
    assert signed(-0.5) == "−0,50"
    assert signed(0.5) == "+0,50"
    assert sentence("slope 1.0031 on 4 May at 13:20.") == "slope 1,0031 on 4 May at 13:20."


@pytest.mark.parametrize(
    ("order", "words"),
    [("day first", "4 May 2031"), ("month first", "May 4 2031"), ("year first", "2031-05-04")],
)
def test_dates_stand_in_the_chosen_order_and_months_are_words_so_that_none_is_mistaken(shown, order, words):
    shown(date_order=order)
    assert day_words(DAY, DAY) == "today"
    assert day_words(DAY, dt.date(2032, 1, 1)) == words
    assert moment_words(dt.datetime(2031, 5, 4, 13, 20)) == f"{words} 13:20"


def test_a_result_is_converted_by_the_definition_of_the_foot_and_the_pound(shown):
    assert measured(100.0, 2, "N·m") == "100.00 N·m"
    shown(torque_unit="lbf·ft", mass_unit="lb")
    # 0.45359237 kg · 9.80665 m/s² · 0.3048 m = 1.3558179 N·m (international foot and pound of 1959)
    assert measured(1.3558179, 4, "N·m") == "1.0000 lbf·ft"
    assert measured(0.45359237, 4, "kg") == "1.0000 lb"
    assert measured(None, 1, "kg") == "–"
    assert measured(10.0, 0, "J") == "10 J"
