"""The arithmetic of a rig check: reference, line, uncertainty, decision."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from fieldlog.analysis.calibration import (
    VERDICTS,
    conformity_probability,
    coverage_factor,
    decide,
    effective_dof,
    fit_line,
    normalised_error,
    pooled_sd,
    reference_torque,
)


def test_a_lever_off_the_horizontal_has_less_torque_by_the_cosine():
    assert reference_torque(20, 0.5, 60.0) == pytest.approx(reference_torque(20, 0.5) / 2)
    assert reference_torque(20, 0.5, -60.0) == reference_torque(20, 0.5, 60.0)


def test_torque_follows_the_gravity_given():
    assert reference_torque(1, 1, gravity_m_s2=10.0) == pytest.approx(9.9985)


class TestLine:
    def test_takes_arrays_and_lists_alike(self):
        x, y = [1.0, 2.0, 4.0], [2.0, 3.0, 7.0]
        assert fit_line(np.array(x), np.array(y)) == fit_line(x, y)

    def test_agrees_with_least_squares_of_numpy(self):
        rng = np.random.default_rng(7)
        x, y = rng.uniform(0, 200, 12), rng.normal(0, 1, 12)
        slope, intercept = np.polyfit(x, y, 1)
        line = fit_line(x, y)
        assert (line.slope, line.intercept) == pytest.approx((slope, intercept))

    def test_predicts_whole_arrays(self):
        line = fit_line([0, 1, 2, 3], [0.1, 0.9, 2.1, 2.9])
        values, us = line.predict(np.array([0.0, 3.0]))
        assert values[1] == pytest.approx(line.predict(3.0)[0])
        assert us[0] == pytest.approx(line.u_intercept)

    def test_of_two_points_is_exact_and_owns_up_to_knowing_no_uncertainty(self):
        line = fit_line([1, 3], [2, 6])
        assert (line.slope, line.intercept, line.dof) == (2.0, 0.0, 0)
        assert math.isnan(line.u_slope)
        assert math.isnan(line.residual_sd)

    @pytest.mark.parametrize(
        ("x", "y", "reason"),
        [
            ([1], [1], "at least two points"),
            ([], [], "at least two points"),
            ([2, 2, 2], [1, 2, 3], "different x"),
            ([1, 2], [1], "as many"),
            ([1, math.nan], [1, 2], "finite"),
            ([1, 2], [1, math.inf], "finite"),
        ],
    )
    def test_refuses_what_carries_no_line(self, x, y, reason):
        with pytest.raises(ValueError, match=reason):
            fit_line(x, y)

    @settings(max_examples=30)
    @given(
        st.floats(-5, 5),
        st.floats(-50, 50),
        st.lists(st.floats(-300, 300), min_size=3, max_size=10, unique=True),
    )
    def test_recovers_an_exact_line(self, slope, intercept, x):
        assume(max(x) - min(x) > 1.0)
        line = fit_line(x, [intercept + slope * value for value in x])
        assert line.slope == pytest.approx(slope, abs=1e-9)
        assert line.intercept == pytest.approx(intercept, abs=1e-7)


class TestPooledSd:
    def test_of_identical_repeats_is_nothing_but_counts(self):
        assert pooled_sd([[98.1, 98.1]]) == (0.0, 1)

    def test_without_repeats_there_is_none(self):
        assert pooled_sd([[1.0], [2.0], []]) == (0.0, 0)

    def test_weights_groups_by_their_degrees_of_freedom(self):
        assert pooled_sd([[0, 2], [0, 0, 0]]) == (pytest.approx(math.sqrt(2 / 3)), 3)


class TestEffectiveDof:
    def test_is_infinite_where_everything_is_known(self):
        assert effective_dof(1.0, (0.6, 0.8), (math.inf, math.inf)) == math.inf

    def test_a_contribution_of_nothing_limits_nothing(self):
        assert effective_dof(1.0, (1.0, 0.0), (math.inf, 1)) == math.inf

    @settings(max_examples=50)
    @given(st.lists(st.tuples(st.floats(1e-6, 1e6), st.integers(1, 100)), min_size=1, max_size=6))
    def test_lies_between_the_smallest_and_the_sum(self, parts):
        us, dofs = zip(*parts, strict=True)
        dof = effective_dof(math.hypot(*us), us, dofs)
        assert min(dofs) * (1 - 1e-9) <= dof <= sum(dofs) * (1 + 1e-9)

    @pytest.mark.parametrize(
        ("us", "dofs"), [((1,), (0,)), ((-1,), (1,)), ((math.nan,), (1,)), ((1, 1), (1,))]
    )
    def test_refuses_what_is_no_uncertainty(self, us, dofs):
        with pytest.raises(ValueError):
            effective_dof(1.0, us, dofs)


class TestCoverageFactor:
    @settings(max_examples=30)
    @given(st.floats(0.5, 1e6))
    def test_never_falls_below_the_normal_one(self, dof):
        assert coverage_factor(dof) >= 1.9599

    @pytest.mark.parametrize(
        ("dof", "probability"), [(0, 0.95), (-1, 0.95), (math.nan, 0.95), (5, 0), (5, 1), (5, 1.5)]
    )
    def test_refuses_what_has_no_quantile(self, dof, probability):
        with pytest.raises(ValueError):
            coverage_factor(dof, probability)


class TestDecide:
    def test_simple_acceptance_knows_two_words(self):
        assert [decide(e, 0.3, 1.0, "simple") for e in (1.0, -1.0, 1.001)] == ["pass", "pass", "fail"]

    def test_a_reading_on_the_limit_is_inside_whatever_its_binary_rest(self):
        assert 20.8 - 20.0 > 0.8
        assert decide(20.8 - 20.0, 0.2, 1.0) == "pass"

    def test_a_large_uncertainty_lets_nothing_pass(self):
        assert decide(0.0, 1.5, 1.0) == "conditional pass"
        assert decide(2.4, 1.5, 1.0) == "conditional fail"

    @settings(max_examples=100)
    @given(st.floats(-10, 10), st.floats(0, 5), st.floats(0, 5), st.floats(0, 2))
    def test_a_larger_error_never_gets_a_better_word(self, error, u, tolerance, more):
        further = error + math.copysign(more, error)
        assert VERDICTS.index(decide(further, u, tolerance)) >= VERDICTS.index(decide(error, u, tolerance))

    @pytest.mark.parametrize(
        "arguments", [(math.nan, 1, 1), (0, math.inf, 1), (0, -1, 1), (0, 1, -1), (0, 1, 1, "strict")]
    )
    def test_refuses_what_cannot_be_decided(self, arguments):
        with pytest.raises(ValueError):
            decide(*arguments)


class TestConformityProbability:
    def test_halves_on_the_limit(self):
        assert conformity_probability(1.0, 0.3, upper=1.0) == pytest.approx(0.5)
        assert conformity_probability(1.0, 0.3, lower=1.0, dof=3) == pytest.approx(0.5)

    def test_without_uncertainty_is_yes_or_no(self):
        assert conformity_probability(1.0, 0.0, lower=0, upper=1) == 1.0
        assert conformity_probability(1.1, 0.0, lower=0, upper=1) == 0.0

    def test_keeps_the_digits_of_a_small_tail_on_both_sides(self):
        below = conformity_probability(0.0, 1.0, lower=-12, upper=-10)
        above = conformity_probability(0.0, 1.0, lower=10, upper=12)
        assert above == pytest.approx(below, rel=1e-12)
        assert above == pytest.approx(7.6199e-24, rel=1e-4)

    def test_t_gives_wider_tails_than_the_normal(self):
        normal = conformity_probability(0.0, 1.0, lower=-2, upper=2)
        assert conformity_probability(0.0, 1.0, lower=-2, upper=2, dof=4) == pytest.approx(0.8839, abs=5e-5)
        assert conformity_probability(0.0, 1.0, lower=-2, upper=2, dof=math.inf) == normal

    @pytest.mark.parametrize(
        ("value", "u", "limits"),
        [
            (0, 1, {}),
            (0, -1, {"upper": 1}),
            (math.nan, 1, {"upper": 1}),
            (0, 1, {"lower": 2, "upper": 1}),
            (0, 1, {"upper": math.nan}),
            (0, 1, {"upper": 1, "dof": 0}),
        ],
    )
    def test_refuses_what_has_no_probability(self, value, u, limits):
        with pytest.raises(ValueError):
            conformity_probability(value, u, **limits)


def test_a_normalised_error_compares_two_results_by_their_uncertainties():
    assert normalised_error(98.0, 99.0, 0.3, 0.4) == pytest.approx(2.0)
    with pytest.raises(ValueError, match="above zero"):
        normalised_error(1, 2, 0, 0)
