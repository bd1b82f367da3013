"""The simulated lever: exact kinematics that fit together."""

import numpy as np
import pytest

from tests.simulation.lever import Stroke, stairs, stand, to_and_fro

OVERSHOOTING = {"overshoot_share": 0.2, "overshoot_hz": 8.0, "overshoot_decay_s": 0.05}


@pytest.mark.parametrize("overshoot", [{}, OVERSHOOTING], ids=["smooth", "overshooting"])
@pytest.mark.parametrize("ends_deg", [(10.0, 90.0), (90.0, 10.0)])
def test_velocity_and_acceleration_are_the_derivatives_of_the_angle(ends_deg, overshoot):
    stroke = Stroke(*ends_deg, 60.0, **overshoot)
    t = np.linspace(0, stroke.duration_s, 200_001)
    angle, velocity, acceleration = stroke.kinematics(t)
    middle = (t[1:] + t[:-1]) / 2
    _, velocity_between, acceleration_between = stroke.kinematics(middle)
    assert np.abs(np.diff(angle) / np.diff(t) - velocity_between).max() < 1e-2
    jumps = np.abs(np.diff(velocity) / np.diff(t) - acceleration_between) > 1.0
    assert jumps.sum() <= 1  # the catch, where the acceleration may jump
    assert acceleration[0] == 0.0


@pytest.mark.parametrize("speed_deg_s", [30.0, 60.0, 180.0])
def test_a_stroke_ends_at_rest_exactly_at_its_end(speed_deg_s):
    stroke = Stroke(5.0, 85.0, speed_deg_s, **OVERSHOOTING)
    angle, velocity, _ = stroke.kinematics(np.array([0.0, stroke.duration_s]))
    assert angle == pytest.approx([5.0, 85.0], abs=1e-9)
    assert velocity == pytest.approx([0.0, 0.0], abs=1e-9)


def test_the_caught_limb_overshoots_the_set_speed_and_settles():
    stroke = Stroke(0.0, 90.0, 60.0, **OVERSHOOTING)
    _, velocity, _ = stroke.kinematics(np.linspace(0, stroke.duration_s, 5001))
    assert 63.0 < velocity.max() < 72.0
    _, settled, _ = stroke.kinematics(np.array([stroke.ramp_s + stroke.constant_s - 1e-6]))
    assert settled == pytest.approx([60.0], abs=1e-4)


def test_a_stroke_without_room_for_a_constant_part_is_refused():
    with pytest.raises(ValueError, match="no room for a constant part"):
        Stroke(0.0, 20.0, 300.0)


def test_to_and_fro_visits_both_ends_and_returns():
    motion = to_and_fro(10.0, 90.0, 60.0, repetitions=3, up_first=False)
    assert [stroke.direction for _, stroke in motion.strokes] == [-1, 1] * 3
    angle, velocity, _ = motion.kinematics(np.array([0.0, motion.duration_s]))
    assert angle == pytest.approx([90.0, 90.0])
    assert velocity == pytest.approx([0.0, 0.0])
    every_angle, _, _ = motion.kinematics(np.linspace(0, motion.duration_s, 20_001))
    assert np.abs(np.diff(every_angle)).max() < 0.1  # no jump between the parts
    assert (every_angle.min(), every_angle.max()) == pytest.approx((10.0, 90.0))


def test_stand_and_stairs_rest_where_they_should():
    angle, velocity, _ = stand(45.0, 3.0).kinematics(np.linspace(0, 3, 7))
    assert set(angle) == {45.0}
    assert set(velocity) == {0.0}
    flight = stairs([10.0, 50.0, 90.0], hold_s=2.0, speed_deg_s=20.0)
    middles = [start + 1.0 for start in flight.starts_s[:-1:2]]
    assert flight.kinematics(np.array(middles))[0] == pytest.approx([10.0, 50.0, 90.0])
