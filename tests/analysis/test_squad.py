"""Squad statistics say nothing where the squad is too small."""

import math

import pytest

from fieldlog.analysis.squad import mean_interval, percentile, percentile_rank, places, z_score

TWENTY = [float(value) for value in range(1, 21)]


def test_under_twenty_people_there_is_no_percentile_and_no_z_score():
    assert percentile(TWENTY[:19], 0.5) is None
    assert percentile_rank(5, TWENTY[:19]) is None
    assert z_score(5, TWENTY[:19]) is None


def test_from_twenty_on_there_is():
    assert percentile(TWENTY, 0.5) == pytest.approx(10.5)
    assert percentile_rank(10, TWENTY) == pytest.approx(47.5)
    assert z_score(10.5, TWENTY) == pytest.approx(0.0)


def test_percentiles_are_held_at_the_ends():
    assert percentile(TWENTY, 0.0) == 1.0
    assert percentile(TWENTY, 1.0) == 20.0


def test_no_spread_has_no_z_score():
    assert z_score(5, [5.0] * 25) is None


@pytest.mark.parametrize("values", [[], [1.0], [1.0, math.nan]])
def test_an_interval_needs_two_finite_values(values):
    with pytest.raises(ValueError):
        mean_interval(values)


def test_a_share_is_between_0_and_1():
    with pytest.raises(ValueError):
        percentile(TWENTY, 1.5)


def test_places_of_a_whole_squad_are_those_of_each_alone():
    values = [float(value % 17) for value in range(3, 60, 2)]
    found = places(values)
    for value, place in zip(values, found, strict=True):
        assert place.z == pytest.approx(z_score(value, values))
        assert place.percentile == pytest.approx(percentile_rank(value, values))


def test_a_small_squad_has_no_places_and_one_without_spread_no_z():
    assert {(place.z, place.percentile) for place in places([1.0] * 19)} == {(None, None)}
    assert {(place.z, place.percentile) for place in places([1.0] * 20)} == {(None, 50.0)}
