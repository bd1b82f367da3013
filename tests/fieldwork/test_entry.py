"""What a person types becomes the number they meant, or one line that says why not."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.errors import InputError
from fieldlog.fieldwork.entry import parse_day, parse_number, parse_quantity, separator_of


@pytest.mark.parametrize(
    ("text", "number"),
    [("12,5", 12.5), ("12.5", 12.5), (" 7 ", 7.0), ("-3", -3.0), ("−3,25", -3.25), ("+4.", 4.0), (",5", 0.5)],
)
def test_comma_and_point_are_both_decimal_signs(text, number):
    assert parse_number(text) == number


@pytest.mark.parametrize(
    "text", ["", "  ", "abc", "nan", "inf", "1e400", "1,2,3", "1.234,5", "--3", "٣", "12 5", "9" * 400, "3cm"]
)
def test_what_is_no_plain_number_is_refused_in_one_line(text):
    with pytest.raises(InputError) as caught:
        parse_number(text, "foot plate")
    assert str(caught.value).startswith("foot plate: ")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "unit", "number"),
    [
        ("1.4in", "cm", 3.556),
        ("1,4 in", "cm", 3.556),
        ('1.4"', "cm", 3.556),
        ("35mm", "cm", 3.5),
        ("35 mm", "cm", 3.5),
        ("0.035 m", "cm", 3.5),
        ("3.5", "cm", 3.5),
        ("55lbf.ft", "nm", 74.569987),
        ("55 lbf·ft", "nm", 74.569987),
        ("55 ft lbf", "nm", 74.569987),
        ("100 lbf_in", "nm", 11.2984829),
        ("2 kgf.m", "nm", 19.6133),
        ("40 N·m", "nm", 40.0),
        ("40 Nm", "nm", 40.0),
        ("1 rad", "deg", 57.2957795),
        ("90°", "deg", 90.0),
        ("165 lbs", "kg", 74.842741),
        ("50°F", "c", 10.0),
        ("6 °C", "c", 6.0),
        ("10 °C", "f", 50.0),
        ("17 holes", "hole", 17.0),
        ("1.5 min", "s", 90.0),
    ],
)
def test_units_are_turned_into_the_one_that_is_wanted(text, unit, number):
    assert parse_quantity(text, unit) == pytest.approx(number, rel=1e-8)


def test_thirty_five_millimetres_are_three_and_a_half_centimetres_to_the_last_digit():
    assert parse_quantity("35mm", "cm") == 3.5


@pytest.mark.parametrize(
    ("text", "unit", "part"),
    [
        ("3 furlong", "cm", "'furlong' is not known"),
        ("3 kg", "cm", "does not measure length"),
        ("3 cm", "hole", "does not measure hole"),
    ],
)
def test_a_unit_that_does_not_belong_is_named(text, unit, part):
    with pytest.raises(InputError, match=part):
        parse_quantity(text, unit, "seat pad")


@settings(max_examples=150)
@given(st.text(max_size=60))
def test_any_text_gives_a_finite_number_or_a_clear_line(text):
    try:
        outcome = f"{parse_quantity(text, 'cm', 'seat pad'):g}"
    except InputError as error:
        outcome = str(error)
    assert outcome not in ("nan", "inf", "-inf")
    assert outcome.isprintable()


@pytest.mark.parametrize(
    ("header", "mark"),
    [
        ("time,angle,torque", ","),
        ("time;angle;torque", ";"),
        ("time\tangle\ttorque", "\t"),
        ("time;angle;torque, N·m", ";"),
        ('"code";"name, first";"squad, and more, and more"', ";"),
        ("code", ";"),
    ],
)
def test_what_separates_the_columns_is_told_from_their_names(header, mark):
    assert separator_of(header, ("time", "angle", "code")) == mark


def test_a_day_is_typed_as_iso_8601_writes_it():
    assert parse_day(" 2031-05-04 ").isoformat() == "2031-05-04"
    with pytest.raises(InputError, match="--from: '4 May' is no date"):
        parse_day("4 May", "--from")
