"""Torque over speed never leaves what was tested; SciPy's monotone cubic is the reference."""

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from fieldlog.analysis.torque_speed import torque_over_speed

PEAKS = {60: 210.0, 180: 150.0, 300: 118.0}


@pytest.mark.parametrize(
    "peaks",
    [PEAKS, {-60: 250.0, 60: 210.0, 120: 205.0, 300: 120.0}, {30: 100.0, 60: 120.0, 90: 90.0, 240: 95.0}],
)
def test_the_curve_is_the_monotone_cubic_through_the_points(peaks):
    tested = torque_over_speed(peaks)
    speeds, torques = tested.curve(101)
    assert torques == pytest.approx(
        PchipInterpolator(sorted(peaks), [peaks[s] for s in sorted(peaks)])(speeds)
    )
    for speed, torque in peaks.items():
        assert tested.at(speed) == pytest.approx(torque)


def test_the_curve_invents_no_peak():
    _, torques = torque_over_speed(PEAKS).curve(500)
    assert (np.diff(torques) <= 0).all()


def test_beyond_the_tested_speeds_there_is_no_value():
    tested = torque_over_speed(PEAKS)
    assert tested.at(59.9) is None
    assert tested.at(300.1) is None
    assert tested.curve()[0][[0, -1]].tolist() == [60, 300]


def test_two_speeds_make_no_curve():
    with pytest.raises(ValueError, match="3 speeds"):
        torque_over_speed({60: 200.0, 180: 150.0})


def test_missing_torques_are_refused():
    with pytest.raises(ValueError, match="finite"):
        torque_over_speed({**PEAKS, 90: float("nan")})
