"""Control charts and their run rules."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.analysis.charts import cusum, ewma, individuals


def fired(values, rules):
    return [(signal.index, signal.rule) for signal in individuals(values, rules=rules, baseline=10).signals]


STEADY = [0.0, 1.0, -1.0, 0.5, -0.5, 1.0, -1.0, 0.2, -0.2, 0.0]  # centre 0, sigma about 1


def test_equal_values_make_a_chart_without_signals():
    for value in (0.0, 0.1, -3.7, 1e9):
        chart = individuals([value] * 30)
        assert (chart.centre, chart.mean_moving_range) == (pytest.approx(value), 0.0)
        assert chart.signals == ()


def test_rule_1_names_the_point_and_its_side():
    signals = individuals([*STEADY, -9.0], baseline=10).signals
    assert [(signal.index, signal.rule) for signal in signals] == [(11, 1)]
    assert "lower" in signals[0].text


def test_rule_2_takes_two_of_three_beyond_two_sigma():
    two_sigma = 2.2 * individuals(STEADY).sigma
    assert fired([*STEADY, two_sigma, 0.0, two_sigma], (2,)) == [(13, 2)]
    assert fired([*STEADY, two_sigma, 0.0, -two_sigma], (2,)) == []


def test_rule_3_takes_four_of_five_beyond_one_sigma():
    one_sigma = 1.2 * individuals(STEADY).sigma
    assert fired([*STEADY, *[one_sigma] * 2, 0.0, *[one_sigma] * 2], (3,)) == [(15, 3)]


def test_rule_4_fires_at_the_eighth_in_a_row_and_not_at_the_seventh():
    assert fired([*STEADY, *[0.3] * 7], (4,)) == []
    assert fired([*STEADY, *[0.3] * 8], (4,)) == [(18, 4)]
    assert fired([*STEADY, *[-0.3] * 9], (4,)) == [(18, 4), (19, 4)]


def test_rule_5_sees_six_in_a_row_rising():
    assert fired([*STEADY, -0.1, 0.2, 0.3, 0.4, 0.5, 0.6], (5,)) == [(16, 5)]


def test_rule_6_sees_fourteen_alternating():
    assert fired([*[0.0] * 2, *[1.0, -1.0] * 7], (6,))[0] == (15, 6)


def test_rules_1_and_4_are_on_by_default():
    rising = [*STEADY, *[0.3] * 8, 30.0]
    assert {signal.rule for signal in individuals(rising, baseline=10).signals} == {1, 4}


@pytest.mark.parametrize("values", [[], [1.0], [1.0, math.nan], [1.0, math.inf]])
def test_a_chart_needs_two_finite_values(values):
    with pytest.raises(ValueError):
        individuals(values)


def test_an_unknown_rule_is_refused():
    with pytest.raises(ValueError, match="not 9"):
        individuals([1, 2], rules=(1, 9))


@settings(max_examples=40)
@given(st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=40), st.floats(-100, 100), st.floats(0.1, 10))
def test_a_chart_moves_and_stretches_with_its_values(values, shift, scale):
    chart = individuals(values)
    other = individuals([shift + scale * value for value in values])
    assert other.centre == pytest.approx(shift + scale * chart.centre, abs=1e-6)
    assert other.upper == pytest.approx(shift + scale * chart.upper, abs=1e-6)
    assert other.range_upper == pytest.approx(scale * chart.range_upper, abs=1e-6)


def test_a_moving_average_of_full_weight_is_the_values_themselves():
    chart = ewma([1.0, 5.0, 2.0], target=2.0, sigma=1.0, weight=1.0)
    assert chart.ewma == (1.0, 5.0, 2.0)
    assert (chart.lower, chart.upper) == (-1.0, 5.0)
    assert chart.signals == ()


def test_a_moving_average_signals_a_small_shift_that_no_single_value_shows():
    values = [0.9] * 20
    assert [signal.index for signal in ewma(values, target=0.0, sigma=1.0, weight=0.2).signals] == []
    signals = ewma([1.2] * 20, target=0.0, sigma=1.0, weight=0.2).signals
    assert signals[0].index == 9
    assert "above" in signals[0].text


@pytest.mark.parametrize(
    "setting", [{"weight": 0.0}, {"weight": 1.1}, {"sigma": -1.0}, {"sigma": math.nan}, {"target": math.inf}]
)
def test_a_moving_average_refuses_settings_that_mean_nothing(setting):
    with pytest.raises(ValueError):
        ewma([1.0], **({"target": 0.0, "sigma": 1.0, "weight": 0.3} | setting))


def test_cumulative_sums_see_both_directions():
    chart = cusum([1.0, 1.0, -3.0, -3.0], target=0.0, k=0.5, h=4.0)
    assert chart.high == (0.5, 1.0, 0.0, 0.0)
    assert chart.low == (0.0, 0.0, 2.5, 5.0)
    assert [(signal.index, "down" in signal.text) for signal in chart.signals] == [(4, True)]


def test_cumulative_sums_refuse_a_negative_slack():
    with pytest.raises(ValueError):
        cusum([1.0], target=0.0, k=-0.5, h=4.0)
