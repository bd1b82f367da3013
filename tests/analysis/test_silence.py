"""Silence can be trusted: whatever clean recording comes, nothing is remarked and every figure is right."""

import os

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.analysis.limb_sweep import weigh_sweep
from fieldlog.analysis.trace import Trace, analyse
from tests.simulation.acquisition import Acquisition
from tests.simulation.lever import to_and_fro
from tests.simulation.muscle import CosineBell, HalfSine
from tests.simulation.recording import Effort, Impact, Scene, Weight

MORE = 40 if os.environ.get("FIELDLOG_LONG") else 1


@st.composite
def clean_sets(draw):
    """A scene of 3 to 6 repetitions, its measuring chain, and whether the file has a velocity column."""
    low = draw(st.floats(-30, 20))
    high = low + draw(st.floats(80, 110))
    speed = draw(st.sampled_from([30.0, 60.0, 90.0, 120.0, 180.0, 240.0]))
    if draw(st.booleans()):
        up, down = (HalfSine(draw(st.floats(120, 280)), low - 5, high + 5) for _ in range(2))
    else:
        up, down = (CosineBell(draw(st.floats(120, 280)), (low + high) / 2, 90) for _ in range(2))
    signs = draw(st.sampled_from([(1, -1), (-1, 1)]))
    rise = draw(st.floats(0.08, 0.2))
    repetitions = draw(st.integers(3, 6))
    scene = Scene(
        to_and_fro(
            low,
            high,
            speed,
            repetitions=repetitions,
            dwell_s=draw(st.floats(0.1, 0.6)),
            ramp_s=draw(st.floats(0.08, 0.12)),
            overshoot_share=draw(st.floats(0, 0.08)),
        ),
        {1: Effort(up, signs[0], rise, rise), -1: Effort(down, signs[1], rise, rise)},
        weight=Weight(draw(st.floats(-20, 20)), draw(st.floats(-8, 8)), draw(st.floats(-2, 2))),
        inertia_kg_m2=draw(st.floats(0.05, 0.25)),
        impact=Impact(draw(st.floats(0, 30))),
        repetition_scale=tuple(
            draw(st.lists(st.floats(0.98, 1.0), min_size=repetitions, max_size=repetitions))
        ),
    )
    chain = Acquisition(
        rate_hz=draw(st.sampled_from([200.0, 500.0, 1000.0, 2000.0])),
        seed=draw(st.integers(0, 10_000)),
        torque_noise_nm=draw(st.floats(0, 0.4)),
        torque_step_nm=draw(st.sampled_from([0.0, 0.05, 0.1, 0.5])),
        angle_step_deg=draw(st.sampled_from([0.0, 0.1])),
        velocity_noise_deg_s=draw(st.floats(0, 0.5)),
    )
    return scene, chain, draw(st.booleans())


@settings(max_examples=25 * MORE, deadline=None)
@given(clean_sets())
def test_a_clean_set_is_measured_right_and_in_silence(case):
    scene, chain, has_velocity = case
    first = scene.motion.strokes[0][1]
    low, high = sorted((first.start_deg, first.end_deg))
    sweep = chain.sample(
        Scene(to_and_fro(low - 3, high + 3, 10, repetitions=1), weight=scene.weight, friction_nm=0.8)
    )
    weighing = weigh_sweep(
        sweep.time_s, sweep.angle_deg, sweep.torque_nm, sweep.velocity_deg_s if has_velocity else None
    )
    assert weighing.remarks == ()
    samples = chain.sample(scene)
    trace = Trace(
        samples.time_s, samples.angle_deg, samples.torque_nm, samples.velocity_deg_s if has_velocity else None
    )
    measured = analyse(trace, weight_torque=weighing.weight_torque)
    assert [(remark.code, remark.text) for remark in measured.quality] == []
    truths = scene.truth()
    assert [m.direction for m in measured.movements] == [truth.direction for truth in truths]
    for movement, truth in zip(measured.movements, truths, strict=True):
        assert movement.mode == truth.mode
        assert movement.peak_torque_nm == pytest.approx(truth.peak_torque_nm, rel=0.01)
        assert movement.work_j == pytest.approx(truth.work_j, rel=0.01)
    assert measured.set_speed_deg_s == pytest.approx(first.speed_deg_s, rel=0.01)
