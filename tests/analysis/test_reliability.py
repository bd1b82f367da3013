"""How well a measure repeats: identities, edges and doubtful entries."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from fieldlog.analysis.reliability import (
    doubtful_scores,
    error_grows_with_size,
    icc,
    limits_of_agreement,
    mean_change,
    minimal_detectable_change,
    robust_typical_error,
    smallest_worthwhile_change,
    two_way,
    typical_error,
    typical_error_cv_pct,
    typical_error_of,
)

TABLES = st.integers(2, 8).flatmap(
    lambda n: st.integers(2, 5).flatmap(
        lambda k: st.lists(st.lists(st.floats(1, 500), min_size=k, max_size=k), min_size=n, max_size=n)
    )
)


@settings(max_examples=50)
@given(TABLES)
def test_every_coefficient_is_a_number_up_to_one_within_its_limits_or_null(scores):
    for name, form in icc(scores).items():
        value, low, high = form["value"], form["low"], form["high"]
        for number in (value, low, high, form["f"], form["p"]):
            assert number is None or math.isfinite(number)
        if value is not None:
            assert value <= 1.0 + 1e-9
        if value is not None and low is not None and high is not None and (value > 0 or "2" not in name):
            # The limits of form 2 are approximate; below zero they may miss the estimate itself.
            assert low - 1e-6 <= value <= high + 1e-6


@settings(max_examples=30)
@given(TABLES, st.floats(-100, 100), st.floats(0.1, 10))
def test_coefficients_do_not_depend_on_unit_or_zero(scores, shift, scale):
    moved = [[shift + scale * score for score in row] for row in scores]
    for form, other in zip(icc(scores).values(), icc(moved).values(), strict=True):
        if form["value"] is not None and other["value"] is not None and two_way(scores).error > 1e-6:
            assert other["value"] == pytest.approx(form["value"], abs=1e-6)


def test_p_is_that_of_the_f_distribution():
    form = icc([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6]])["icc3"]
    assert form["p"] == pytest.approx(stats.f.sf(form["f"], form["df1"], form["df2"]))


def test_all_scores_equal_leave_everything_undefined():
    for value in (0.0, 0.1, 5.0):
        assert all(
            form[key] is None
            for form in icc([[value] * 3] * 4).values()
            for key in ("value", "low", "high", "f", "p")
        )
        assert typical_error_of([[value] * 3] * 4)[0] == 0.0


def test_perfect_agreement_is_one_with_an_infinite_f_as_null():
    form = icc([[0.1, 0.1], [0.3, 0.3], [0.7, 0.7]])["icc2"]
    assert (form["value"], form["low"], form["high"], form["f"], form["p"]) == (1.0, 1.0, 1.0, None, 0.0)


def test_a_shift_between_visits_counts_against_agreement_and_not_against_consistency():
    forms = icc([[1.0, 2.0], [2.0, 3.0], [4.0, 5.0], [6.0, 7.0]])
    assert forms["icc3"]["value"] == 1.0
    assert forms["icc2"]["value"] < 0.95


@pytest.mark.parametrize(
    "scores", [[[1, 2]], [[1], [2]], [1, 2, 3], [[1, math.nan], [2, 3]], [[1, math.inf], [2, 3]], [[]]]
)
def test_a_table_that_is_not_complete_is_refused(scores):
    with pytest.raises(ValueError):
        icc(scores)


@settings(max_examples=30)
@given(st.lists(st.tuples(st.floats(1, 500), st.floats(1, 500)), min_size=2, max_size=12))
def test_for_two_visits_both_ways_to_the_typical_error_agree(pairs):
    first, second = zip(*pairs, strict=True)
    assert typical_error_of(pairs)[0] == pytest.approx(typical_error(first, second), abs=1e-6)


def test_a_coefficient_of_variation_needs_scores_above_zero():
    assert typical_error_cv_pct([[1, 2], [0, 3]]) is None
    assert typical_error_cv_pct([[1, 2], [-4, 3]]) is None
    assert typical_error_cv_pct([[10, 10], [20, 20]]) == 0.0


def test_limits_of_agreement_take_second_minus_first():
    limits = limits_of_agreement([1, 2, 3], [2, 4, 6])
    assert limits.bias == pytest.approx(2.0)
    assert limits.high - limits.low == pytest.approx(2 * 1.96 * limits.sd)


@pytest.mark.parametrize(
    ("first", "second"), [([1], [2]), ([1, 2], [1]), ([1, 2], [1, math.nan]), ([[1]], [[2]])]
)
def test_two_visits_that_are_no_pairs_are_refused(first, second):
    with pytest.raises(ValueError):
        typical_error(first, second)


def test_the_pure_spread_between_athletes_leaves_the_error_out():
    assert smallest_worthwhile_change([90, 110], typical_error=10.0) == pytest.approx(
        0.2 * math.sqrt(200 - 100)
    )


def test_a_spread_that_is_all_error_gives_no_worthwhile_change():
    assert smallest_worthwhile_change([90, 110], typical_error=15.0) is None
    assert smallest_worthwhile_change([5, 5, 5], typical_error=0.0) is None


def test_the_pure_spread_is_the_between_athlete_component_of_the_two_way_table():
    rng = np.random.default_rng(3)
    scores = rng.normal(200, 30, (12, 1)) + rng.normal(0, 10, (12, 4))
    table = two_way(scores)
    component = (table.between - table.error) / table.visits
    found = smallest_worthwhile_change(scores, typical_error=math.sqrt(table.error))
    assert found == pytest.approx(0.2 * math.sqrt(component))


@pytest.mark.parametrize("error", [-1.0, math.nan, math.inf])
def test_a_detectable_change_refuses_what_is_no_error(error):
    with pytest.raises(ValueError):
        minimal_detectable_change(error)


def test_mean_change_carries_its_t_interval():
    change = mean_change([10, 20, 30, 40], [12, 21, 33, 42])
    low, high = stats.t.interval(0.95, 3, loc=2.0, scale=stats.sem([2, 1, 3, 2]))
    assert (change.change, change.low, change.high) == pytest.approx((2.0, low, high))


def test_an_entry_error_is_named_with_what_was_expected():
    rng = np.random.default_rng(11)
    scores = rng.normal(200, 30, (20, 1)) + rng.normal(0, 8, (20, 3))
    scores[4, 1] = 20.0
    found = doubtful_scores(scores)
    assert [(each.athlete, each.visit, each.value) for each in found] == [(4, 1, 20.0)]
    assert found[0].expected == pytest.approx(scores[4, [0, 2]].mean(), rel=0.1)


def test_with_two_visits_the_stranger_one_of_the_pair_is_named():
    rng = np.random.default_rng(12)
    scores = rng.normal(200, 30, (20, 1)) + rng.normal(0, 8, (20, 2))
    scores[7, 0] = 21.0
    found = doubtful_scores(scores)
    assert [(each.athlete, each.visit) for each in found] == [(7, 0)]
    assert found[0].expected == pytest.approx(scores[7, 1], rel=0.1)


def test_honest_scores_raise_no_doubt():
    rng = np.random.default_rng(13)
    assert (
        sum(len(doubtful_scores(rng.normal(200, 30, (20, 1)) + rng.normal(0, 8, (20, 3)))) for _ in range(50))
        <= 2
    )


def test_the_robust_error_is_the_classical_one_where_nothing_is_odd():
    rng = np.random.default_rng(14)
    ratio = [
        robust_typical_error(scores) / typical_error_of(scores)[0]
        for scores in (rng.normal(200, 30, (40, 1)) + rng.normal(0, 8, (40, 3)) for _ in range(40))
    ]
    assert np.mean(ratio) == pytest.approx(1.0, abs=0.06)


def test_an_error_that_grows_with_the_score_is_noticed():
    rng = np.random.default_rng(15)
    level = np.linspace(50, 400, 40)[:, None]
    correlation, p = error_grows_with_size(level * (1 + rng.normal(0, 0.08, (40, 3))))
    assert correlation > 0.3
    assert p < 0.01
    _, p_even = error_grows_with_size(level + rng.normal(0, 8, (40, 3)))
    assert p_even > 0.05
    assert error_grows_with_size([[1, 1], [1, 1], [1, 1]]) is None
