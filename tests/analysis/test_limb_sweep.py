"""Weighing the limb with a relaxed sweep: friction cancels, and tension is noticed."""

import pytest

from fieldlog.analysis.limb_sweep import weigh_sweep
from tests.simulation.acquisition import Acquisition
from tests.simulation.lever import Motion, Rest, Stroke, to_and_fro
from tests.simulation.muscle import HalfSine
from tests.simulation.recording import Burst, Effort, Scene, Weight

KNEE = Weight(11.6, -2.0, 0.5)


def weigh(*, velocity=True, acquisition=None, motion=None, **scene):
    motion = motion or to_and_fro(2, 98, 8, repetitions=1, dwell_s=1.0)
    samples = (acquisition or Acquisition()).sample(Scene(motion, **{"weight": KNEE, **scene}))
    columns = (samples.time_s, samples.angle_deg, samples.torque_nm)
    return weigh_sweep(*columns, samples.velocity_deg_s if velocity else None)


def codes(weighing):
    return [remark.code for remark in weighing.remarks]


@pytest.mark.parametrize("velocity", [True, False])
@pytest.mark.parametrize("rate_hz", [100, 1000])
def test_a_relaxed_limb_on_a_rig_with_friction_is_weighed_right(velocity, rate_hz):
    weighing = weigh(velocity=velocity, friction_nm=1.2, acquisition=Acquisition(rate_hz=rate_hz))
    weight = weighing.weight_torque
    assert (weight.cos_nm, weight.sin_nm, weight.offset_nm) == pytest.approx((11.6, -2.0, 0.5), abs=0.15)
    assert weighing.up_down_difference_nm == pytest.approx(2.4, abs=0.1)
    assert weight.up_down_difference_nm == weighing.up_down_difference_nm
    assert weight.separable
    assert codes(weighing) == []


def test_friction_cancels_where_the_two_ways_run_at_different_speeds():
    motion = to_and_fro(2, 98, 6, repetitions=1, dwell_s=1.0, down_speed_deg_s=14)
    weight = weigh(motion=motion, friction_nm=1.5).weight_torque
    assert (weight.cos_nm, weight.sin_nm, weight.offset_nm) == pytest.approx((11.6, -2.0, 0.5), abs=0.15)


def test_a_limb_that_is_held_one_way_is_not_relaxed():
    held = {1: Effort(HalfSine(12, -20, 120), 1, 0.3, 0.3)}
    assert codes(weigh(efforts=held)) == ["not_relaxed"]


def test_directions_just_inside_the_limit_pass():
    # A quarter of the amplitude (11.8 N·m) is below 4 N·m, so 4 N·m is the limit.
    assert codes(weigh(friction_nm=1.8)) == []
    assert codes(weigh(friction_nm=2.2)) == ["not_relaxed"]


@pytest.mark.parametrize("duration_s", [0.3, 0.8, 1.5])
def test_a_burst_is_noticed(duration_s):
    assert codes(weigh(bursts=(Burst(6.0, duration_s, 4.0),))) == ["not_relaxed"]
    assert codes(weigh(bursts=(Burst(6.0, duration_s, 0.4),))) == []


def test_the_remark_says_what_was_seen_and_what_to_do():
    (remark,) = weigh(bursts=(Burst(6.0, 0.5, 4.0),)).remarks
    assert remark.level == "stop"
    assert "burst of" in remark.text
    assert "weigh again" in remark.text


def test_a_sweep_one_way_only_is_refused():
    motion = Motion((Rest(2, 1), Stroke(2, 98, 8), Rest(98, 1)))
    with pytest.raises(ValueError, match="moves only up"):
        weigh(motion=motion)


def test_a_limb_that_does_not_move_is_refused():
    with pytest.raises(ValueError, match="does not move"):
        weigh(motion=Motion((Rest(30, 5),)))
