"""What a failed closing check does to the results before it."""

import math

import pytest

from fieldlog.fieldwork.results.impact import ErrorChange, error_change, impact_of
from fieldlog.fieldwork.rig_checks.check_basis import Repeatability


def judged(errors, direction="up"):
    """A verdict with points at (mass, reference, error)."""
    points = [
        {"mass_kg": mass, "direction": direction, "reference_nm": reference, "error_nm": error}
        for mass, reference, error in errors
    ]
    return {"torque": {"points": points}}


OPENING = judged([(10, 50.0, 0.1), (20, 100.0, 0.2), (40, 200.0, 0.3)])
CLOSING = judged([(10, 50.0, 0.6), (20, 100.0, 1.7), (40, 200.0, 4.3)])


def change(torque_nm, opening=OPENING, closing=CLOSING, direction="up", **more):
    return error_change(
        opening, closing, direction=direction, torque_nm=torque_nm, **{"resolution_nm": 0.1, **more}
    )


@pytest.mark.parametrize(
    ("torque_nm", "expected"),
    [(50, 0.5), (75, 1.0), (100, 1.5), (150, 2.75), (200, 4.0), (220, 4.4), (30, 0.5)],
)
def test_the_change_is_interpolated_over_torque(torque_nm, expected):
    assert change(torque_nm).change_nm == pytest.approx(expected)


def test_masses_and_lever_cancel_so_display_steps_and_scatter_are_left():
    steps = 2 * 0.1 / math.sqrt(12)
    assert change(100).u_expanded_nm == pytest.approx(2 * steps)
    scattered = change(100, repeatability=Repeatability(0.2, 1000))
    assert scattered.u_expanded_nm == pytest.approx(2 * math.hypot(steps, 0.2 * math.sqrt(2)), rel=0.02)


def test_few_repeats_widen_the_uncertainty():
    few, many = (change(100, repeatability=Repeatability(0.2, dof)) for dof in (2, 500))
    assert few.u_expanded_nm > 1.5 * many.u_expanded_nm


def test_repeated_readings_count_by_their_mean():
    closing = judged([(20, 100.0, 1.0), (20, 100.0, 2.0), (20, 100.0, 3.0)])
    found = change(100, closing=closing, repeatability=Repeatability(0.3, 1000), resolution_nm=0.0)
    assert found.change_nm == pytest.approx(1.8)
    assert found.u_expanded_nm == pytest.approx(2 * 0.3 * math.sqrt(1 + 1 / 3), rel=0.01)


def test_only_loads_of_both_checks_count():
    assert change(100, closing=judged([(25, 100.0, 9.0), (40, 200.0, 2.3)])).change_nm == pytest.approx(2.0)
    assert change(100, closing=judged([(25, 100.0, 9.0)])) is None
    assert change(100, direction="down") is None


@pytest.mark.parametrize(("torque_nm", "beyond"), [(49, True), (50, False), (240, False), (241, True)])
def test_beyond_the_checked_range_it_says_so(torque_nm, beyond):
    assert change(torque_nm).beyond_checked_range is beyond


@pytest.mark.parametrize(
    ("size", "word", "may_release"),
    [(2.0, "small", True), (2.01, "matters", False), (8.0, "matters", False), (8.01, "large", False)],
)
def test_words_compare_with_half_the_typical_error_and_half_the_detectable_change(size, word, may_release):
    found = impact_of(
        ErrorChange(100.0, -(size - 0.5), 0.5, beyond_checked_range=False),
        typical_error_nm=4.0,
        detectable_change_nm=16.0,
    )
    assert found.word == word
    assert ("release" in found.choices) is may_release
    assert {"correct", "withhold", "retest"} <= set(found.choices)
    assert "N·m" in found.text


def test_what_is_not_known_cannot_be_released():
    no_error = impact_of(
        ErrorChange(100.0, 0.1, 0.1, False), typical_error_nm=None, detectable_change_nm=None
    )
    outside = impact_of(ErrorChange(400.0, 0.1, 0.1, True), typical_error_nm=8.0, detectable_change_nm=22.0)
    for found in (no_error, outside):
        assert found.word == "unknown"
        assert "release" not in found.choices
    assert "beyond the checked range" in outside.text
