"""Is a change real? Verdict, chances and the rate at which it is wrong."""

import math
import os

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.analysis.change import judge_change

UNCHANGED = 10_000 if os.environ.get("FIELDLOG_LONG") else 4_000


def test_the_detectable_change_is_the_quantile_times_all_errors():
    assert judge_change(0.0, 8.0, 2.0).mdc == pytest.approx(1.959964 * math.sqrt(2) * 8.0, rel=1e-6)
    both = judge_change(0.0, 8.0, 2.0, u_rig_first=1.0, u_rig_second=2.0)
    assert both.mdc == pytest.approx(1.959964 * math.sqrt(2 * 64 + 5), rel=1e-6)


def test_an_error_that_rests_on_few_pairs_asks_for_more():
    # t for 95 % with 7 degrees of freedom is 2.365 (JCGM 100:2008 table G.2).
    assert judge_change(0.0, 8.0, 2.0, te_dof=7).mdc == pytest.approx(2.3646 * math.sqrt(2) * 8.0, rel=1e-4)


def test_a_known_rig_uncertainty_adds_degrees_of_freedom():
    alone = judge_change(0.0, 8.0, 2.0, te_dof=7)
    with_rig = judge_change(0.0, 8.0, 2.0, te_dof=7, u_rig_first=6.0, u_rig_second=6.0)
    assert alone.dof == pytest.approx(7.0)
    assert with_rig.dof == pytest.approx(7.0 * (200.0 / 128.0) ** 2)


@settings(max_examples=60)
@given(
    st.floats(-100, 100),
    st.floats(0, 30),
    st.floats(0, 20),
    st.one_of(st.none(), st.integers(1, 60)),
    st.floats(0, 5),
)
def test_chances_add_up_and_mirror(change, error, swc, dof, rig):
    one = judge_change(change, error, swc, te_dof=dof, u_rig_first=rig)
    other = judge_change(-change, error, swc, te_dof=dof, u_rig_first=rig)
    assert one.chance_higher + one.chance_trivial + one.chance_lower == pytest.approx(1.0, abs=1e-9)
    assert one.chance_higher == pytest.approx(other.chance_lower, abs=1e-9)
    assert one.real == other.real
    assert one.beyond_swc == other.beyond_swc
    assert not one.beyond_swc or one.real


def test_beyond_error_and_beyond_worthwhile_are_two_things():
    verdict = judge_change(25.0, 8.0, 4.0)
    assert verdict.real
    assert not verdict.beyond_swc
    assert judge_change(30.0, 8.0, 4.0).beyond_swc


def test_without_any_error_a_change_is_what_it_is():
    assert judge_change(1.0, 0.0, 0.0).real
    nothing = judge_change(0.0, 0.0, 0.0)
    assert (nothing.real, nothing.chance_trivial) == (False, 1.0)


def test_no_worthwhile_change_counts_as_zero():
    verdict = judge_change(3.0, 8.0, None)
    assert verdict.chance_trivial == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ((math.nan, 1, 1), {}),
        ((1, math.inf, 1), {}),
        ((1, -1, 1), {}),
        ((1, 1, -1), {}),
        ((1, 1, 1), {"u_rig_first": -1}),
        ((1, 1, 1), {"te_dof": 0}),
        ((1, 1, 1), {"confidence": 1.0}),
    ],
)
def test_what_is_no_change_is_refused(arguments, named):
    with pytest.raises(ValueError):
        judge_change(*arguments, **named)


def wrongly_real(pairs, use_dof, rig=0.0):
    """Share of unchanged athletes called changed, the error estimated from ``pairs`` unchanged retests."""
    rng = np.random.default_rng(pairs)
    true_error = 9.0
    errors = true_error * np.sqrt(rng.chisquare(pairs - 1, UNCHANGED) / (pairs - 1))
    changes = rng.normal(0, math.sqrt(2 * true_error**2 + 2 * rig**2), UNCHANGED)
    real = [
        judge_change(c, e, 2.0, te_dof=pairs - 1 if use_dof else None, u_rig_first=rig, u_rig_second=rig).real
        for c, e in zip(changes, errors, strict=True)
    ]
    return np.mean(real)


@pytest.mark.parametrize(("pairs", "rig"), [(8, 0.0), (20, 0.0), (8, 4.0)])
def test_real_at_95_percent_is_wrong_in_4_to_6_percent_of_unchanged_athletes(pairs, rig):
    assert 0.04 <= wrongly_real(pairs, use_dof=True, rig=rig) <= 0.06


def test_with_the_normal_quantile_it_would_be_wrong_in_9_percent():
    assert 0.075 <= wrongly_real(8, use_dof=False) <= 0.11
