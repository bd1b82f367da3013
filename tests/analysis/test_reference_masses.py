"""What a class or its lack says of a mass."""

import math

import pytest

from fieldlog.analysis.reference_masses import limit_kg, mass_standard_uncertainty_rel


def test_a_mass_between_two_rows_takes_the_relative_limit_of_the_row_below():
    assert limit_kg("M1", 25) == pytest.approx(25 / 20 * 1e-3)
    assert limit_kg("M2", 1.25) == pytest.approx(1.25 * 160e-6)


def test_small_masses_keep_the_relative_limit_of_one_kilogram():
    assert limit_kg("M1", 0.5) == pytest.approx(25e-6)


def test_an_unweighed_plate_is_visibly_wide():
    assert mass_standard_uncertainty_rel(None, 20) == pytest.approx(0.03 / math.sqrt(3))
    assert mass_standard_uncertainty_rel(None, 20) > 50 * mass_standard_uncertainty_rel("M3", 20)


@pytest.mark.parametrize(
    ("accuracy_class", "nominal_kg"),
    [("M4", 1), ("", 1), ("M1", 0.05), ("M1", 51), ("M1", math.nan), ("M1-2", 20)],
)
def test_what_the_table_does_not_hold_is_refused(accuracy_class, nominal_kg):
    with pytest.raises(ValueError):
        limit_kg(accuracy_class, nominal_kg)
