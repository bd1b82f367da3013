"""From a recording to its measures: what counts, which mode, what is refused, what is said."""

import numpy as np
import pytest

from fieldlog.analysis.limb import WeightTorque
from fieldlog.analysis.trace import Trace, analyse
from tests.analysis.recordings import box_trace
from tests.simulation.acquisition import PERFECT, Acquisition
from tests.simulation.lever import to_and_fro
from tests.simulation.muscle import HalfSine
from tests.simulation.recording import Effort, Scene, Weight

FLEXION, EXTENSION = HalfSine(110, 0, 100), HalfSine(180, 0, 100)
BOTH_WAYS = {1: Effort(FLEXION, 1, 0.1, 0.1), -1: Effort(EXTENSION, -1, 0.1, 0.1)}


def scene(repetitions=4, speed=60, efforts=BOTH_WAYS, **rest):
    motion = to_and_fro(5, 95, speed, repetitions=repetitions, **rest.pop("motion", {}))
    return Scene(motion, efforts, **rest)


def measures(of, *, velocity=True, acquisition=Acquisition(), **options):  # noqa: B008 (a frozen value)
    samples = acquisition.sample(of)
    trace = Trace(
        samples.time_s, samples.angle_deg, samples.torque_nm, samples.velocity_deg_s if velocity else None
    )
    return analyse(trace, **options)


def codes(measured):
    return [remark.code for remark in measured.quality]


def test_a_clean_set_is_measured_in_silence():
    measured = measures(scene())
    assert codes(measured) == []
    assert measured.mode == "concentric"
    assert (measured.set_speed_deg_s, measured.set_speed_source) == (60, "estimated")
    assert [m.direction for m in measured.movements] == ["up", "down"] * 4
    assert [m.index for m in measured.movements] == list(range(1, 9))
    assert measured.up.best_peak_torque_nm == pytest.approx(110, rel=0.01)
    assert measured.down.best_peak_torque_nm == pytest.approx(180, rel=0.01)
    assert measured.down_up_peak_ratio_pct == pytest.approx(100 * 180 / 110, rel=0.01)


def test_without_a_velocity_column_a_tenth_of_a_degree_at_a_kilohertz_is_enough():
    acquisition = Acquisition(angle_step_deg=0.1)
    with_column, without = (
        measures(scene(), velocity=velocity, acquisition=acquisition) for velocity in (True, False)
    )
    assert without.velocity_source == "angle"
    assert codes(without) == []
    for ours, theirs in zip(without.movements, with_column.movements, strict=True):
        assert ours.load_range_deg == pytest.approx(theirs.load_range_deg, abs=1.0)
        assert ours.peak_torque_nm == pytest.approx(theirs.peak_torque_nm, rel=1e-3)
        assert ours.work_j == pytest.approx(theirs.work_j, rel=5e-3)


@pytest.mark.parametrize(("speed", "source"), [(5, "column_smoothed"), (10, "column")])
def test_a_noisy_velocity_column_does_not_break_a_slow_movement_to_pieces(speed, source):
    acquisition = Acquisition(velocity_noise_deg_s=2.0, rate_hz=200)
    measured = measures(scene(repetitions=1, speed=speed), acquisition=acquisition)
    assert measured.velocity_source == source
    assert [m.direction for m in measured.movements] == ["up", "down"]
    assert measured.set_speed_deg_s == pytest.approx(speed, rel=0.02)


def test_a_noisy_angle_without_a_velocity_column_does_not_either():
    samples = Acquisition(rate_hz=500).sample(scene(repetitions=1, speed=5))
    wander = np.cumsum(np.random.default_rng(2).normal(0, 0.02, samples.time_s.size))
    wander -= np.convolve(wander, np.ones(100) / 100, mode="same")
    measured = analyse(Trace(samples.time_s, samples.angle_deg + wander, samples.torque_nm))
    assert measured.signals.velocity_cutoff_hz < 15
    assert [m.direction for m in measured.movements] == ["up", "down"]


def test_a_velocity_column_that_contradicts_the_angle_is_not_believed():
    samples = Acquisition().sample(scene())
    wrong_unit = Trace(
        samples.time_s, samples.angle_deg, samples.torque_nm, np.radians(samples.velocity_deg_s)
    )
    unsigned = Trace(samples.time_s, samples.angle_deg, samples.torque_nm, np.abs(samples.velocity_deg_s))
    for trace in (wrong_unit, unsigned):
        measured = analyse(trace)
        assert measured.velocity_source == "angle_instead_of_column"
        assert codes(measured) == ["implausible"]
        assert measured.set_speed_deg_s == 60
        assert measured.down.movements == 4


def test_eccentric_and_concentric_movements_of_one_muscle_are_mixed_and_have_no_ratio():
    one_muscle = {1: Effort(EXTENSION, 1, 0.1, 0.1), -1: Effort(HalfSine(210, 0, 100), 1, 0.1, 0.1)}
    measured = measures(scene(efforts=one_muscle))
    assert measured.mode == "mixed"
    assert [m.mode for m in measured.movements[:2]] == ["concentric", "eccentric"]
    assert measured.down.best_peak_torque_nm == pytest.approx(210, rel=0.01)
    assert measured.down_up_peak_ratio_pct is None


def test_two_eccentric_directions_have_a_ratio():
    braking = {1: Effort(EXTENSION, -1, 0.1, 0.1), -1: Effort(FLEXION, 1, 0.1, 0.1)}
    measured = measures(scene(efforts=braking))
    assert measured.mode == "eccentric"
    assert measured.down_up_peak_ratio_pct == pytest.approx(100 * 110 / 180, rel=0.01)


@pytest.mark.parametrize(("back_nm", "has_ratio"), [(7.0, False), (12.0, True)])
def test_a_limb_carried_back_is_no_effort_to_put_into_a_ratio(back_nm, has_ratio):
    carried = {1: Effort(EXTENSION, 1, 0.1, 0.1), -1: Effort(HalfSine(back_nm, 0, 100), -1, 0.1, 0.1)}
    assert (measures(scene(efforts=carried)).down_up_peak_ratio_pct is not None) is has_ratio


def test_a_declared_mode_is_flagged_where_torque_and_motion_disagree():
    measured = measures(scene(), mode="eccentric")
    assert all("mode_differs" in m.flags for m in measured.movements)
    assert codes(measured).count("mode_differs") == 1
    assert measured.mode == "eccentric"


def test_the_weight_torque_is_taken_off_before_anything_else():
    weight = WeightTorque(11.6, -2.0, 0.5)
    measured = measures(scene(weight=Weight(11.6, -2.0, 0.5)), weight_torque=weight)
    assert measured.up.best_peak_torque_nm == pytest.approx(110, rel=0.01)
    assert measured.down.best_peak_torque_nm == pytest.approx(180, rel=0.01)


def test_dropped_and_left_out_movements_are_listed_but_do_not_count():
    grown = scene(repetition_scale=(0.5, 1.2, 1.0, 1.0))
    measured = measures(grown, drop=1, leave_out=(3, 8))
    assert [m.flags for m in measured.movements] == [
        ("dropped",), ("dropped",), ("left_out",), (), (), (), (), ("left_out",),
    ]  # fmt: skip
    assert (measured.up.movements, measured.down.movements) == (2, 2)
    assert measured.up.best_peak_torque_nm == pytest.approx(110, rel=0.01)
    assert measured.down.best_peak_torque_nm == pytest.approx(1.2 * 180, rel=0.01)
    assert codes(measured)[:2] == ["dropped", "left_out"]


def test_a_short_movement_is_named_and_the_median_is_of_the_counted_ones():
    efforts = dict(BOTH_WAYS)
    parts = list(to_and_fro(5, 95, 60, repetitions=4).parts)
    motion = to_and_fro(5, 80, 60, repetitions=1)
    shortened = type(motion)((*motion.parts[:-1], *parts[1:]))
    measured = measures(Scene(shortened, efforts))
    assert [m.index for m in measured.movements if "range_differs" in m.flags] == [1, 2]
    assert measured.up.movements == 5
    assert measured.up.total_work_j == pytest.approx(sum(m.work_j for m in measured.movements[2::2]))


def test_every_flag_of_a_movement_stands_once_in_the_verdict():
    measured = measures(scene(), speed_deg_s=200.0, drop=1)
    flags = {flag for m in measured.movements for flag in m.flags}
    assert flags == {"no_load_range", "dropped"}
    assert sorted(codes(measured)) == ["dropped", "no_load_range"]
    (remark,) = (remark for remark in measured.quality if remark.code == "no_load_range")
    assert remark.text.startswith("Movements 1–8: ")


def test_a_spread_of_peaks_is_called_high_variation():
    assert codes(measures(scene(repetition_scale=(1.0, 0.7, 1.0, 0.6)))) == ["high_variation"] * 2


def test_fatigue_in_a_long_set_is_no_high_variation():
    fading = scene(
        repetitions=30, speed=180, motion={"dwell_s": 0.05}, repetition_scale=tuple(np.linspace(1, 0.5, 30))
    )
    measured = measures(fading)
    assert codes(measured) == []
    assert measured.up.decline_pct == pytest.approx(100 * (1 - 0.5 / np.linspace(1, 0.5, 30)[2]), rel=0.01)
    assert measured.up.work_thirds_drop_pct == pytest.approx(
        100 * (1 - (0.5 + 9 / 2 * 0.5 / 29) / (1 - 9 / 2 * 0.5 / 29)), rel=0.01
    )


def test_a_rising_set_is_still_climbing():
    assert codes(measures(scene(repetition_scale=(0.8, 0.87, 0.93, 1.0)))) == ["still_climbing"] * 2


def test_uneven_sampling_and_gaps_are_said_and_do_not_spoil_the_peak():
    jittered = measures(scene(), acquisition=Acquisition(jitter_share=0.3))
    assert codes(jittered) == ["uneven_sampling"]
    assert jittered.resampled
    assert jittered.down.best_peak_torque_nm == pytest.approx(180, rel=0.01)
    torn = measures(scene(), acquisition=Acquisition(dropouts_s=((1.5, 1.58),)))
    assert codes(torn) == ["gap"]
    assert torn.movements[0].flags == ("gap",)


def test_a_gap_at_rest_is_said_too():
    measured = measures(scene(), acquisition=Acquisition(dropouts_s=((0.3, 0.5),)))
    assert codes(measured) == ["gap"]
    assert all(m.flags == () for m in measured.movements)


@pytest.mark.parametrize(("rate_hz", "said"), [(50, ["low_rate"]), (99.8, []), (100, [])])
def test_a_low_rate_is_said(rate_hz, said):
    assert codes(measures(scene(repetitions=2), acquisition=Acquisition(rate_hz=rate_hz))) == said


def test_a_recording_too_slow_for_the_filter_is_measured_without_and_says_so():
    measured = measures(scene(repetitions=2), acquisition=Acquisition(rate_hz=25))
    assert measured.cutoff_hz == 0
    assert "the filter could not be used" in measured.quality[0].text


def test_a_torque_limit_is_said_with_the_movements_it_touches():
    measured = measures(scene(repetition_scale=(1.0, 0.7)), acquisition=Acquisition(torque_limit_nm=150.0))
    assert [m.index for m in measured.movements if "clipped" in m.flags] == [2]
    (remark,) = (remark for remark in measured.quality if remark.code == "clipped")
    assert remark.level == "stop"


def test_torque_without_sign_takes_that_of_the_movement():
    samples = PERFECT.sample(scene())
    unsigned = Trace(samples.time_s, samples.angle_deg, np.abs(samples.torque_nm), samples.velocity_deg_s)
    measured = analyse(unsigned, torque_is_magnitude=True)
    signed = measures(scene(), acquisition=PERFECT)
    assert measured.down.best_peak_torque_nm == pytest.approx(signed.down.best_peak_torque_nm, rel=1e-4)
    assert measured.down.total_work_j == pytest.approx(signed.down.total_work_j, rel=1e-3)
    assert codes(measured) == ["magnitude_torque"]
    braked = analyse(unsigned, torque_is_magnitude=True, mode="eccentric")
    assert braked.mode == "eccentric"
    assert "mode_differs" not in codes(braked)
    assert braked.up.best_peak_torque_nm == pytest.approx(110, rel=0.01)


@pytest.mark.parametrize(
    ("torque", "mass", "said"),
    [(100.0, 80, []), (1200.0, None, ["implausible"]), (700.0, 80, ["implausible"]), (700.0, None, [])],
)
def test_a_torque_no_person_has_is_implausible(torque, mass, said):
    recorded = box_trace(
        (0, 0.5), (60, 1.4), (0, 0.5), torque=lambda _t, angle, _v: torque * np.sin(np.radians(angle + 30))
    )
    assert codes(analyse(recorded, body_mass_kg=mass)) == said


def test_an_angle_or_speed_no_joint_has_is_implausible():
    assert "implausible" in codes(analyse(box_trace((0, 0.3), (60, 1), (0, 0.3), torque=50, start_deg=500)))
    assert "implausible" in codes(analyse(box_trace((0, 0.3), (1500, 0.1), (0, 0.3), torque=50)))


def test_radians_taken_for_degrees_are_noticed():
    samples = Acquisition(angle_step_deg=0).sample(scene())
    measured = analyse(Trace(samples.time_s, np.radians(samples.angle_deg), samples.torque_nm))
    assert measured.mode == "isometric"
    assert "radians" in " ".join(remark.text for remark in measured.quality if remark.code == "implausible")


def test_a_lever_that_gives_way_under_a_hold_is_not_taken_for_radians():
    time_s = np.arange(8000) / 1000
    torque = 200 * (1 - np.exp(-np.maximum(time_s - 2, 0) / 0.08)) * np.exp(-np.maximum(time_s - 6, 0) / 0.08)
    noise = np.random.default_rng(3).normal(0, 0.05, 8000)
    assert codes(analyse(Trace(time_s, 60 + torque / 80 + noise, torque + noise))) == []


def test_torque_per_kilogram_uses_the_body_mass():
    assert measures(scene(), body_mass_kg=75.0).down.best_peak_torque_nm_kg == pytest.approx(
        180 / 75, rel=0.01
    )


MOVING = box_trace((0, 0.3), (60, 1), (0, 0.3), torque=50)


def test_a_resting_lever_is_isometric_although_a_set_speed_was_given():
    measured = analyse(
        box_trace((0, 4), torque=lambda t, a, v: np.where((t > 1) & (t < 3), 80.0, 0.0)), speed_deg_s=60.0
    )
    assert (measured.mode, len(measured.isometric.holds)) == ("isometric", 1)
    assert measured.quality[0].code == "mode_differs"
    assert "60°/s was given" in measured.quality[0].text


def test_a_torque_that_never_changes_is_no_measurement():
    stretches = ((0, 0.5), (60, 1.5), (0, 0.5), (-60, 1.5), (0, 0.5))
    for torque in (0.0, 50.0):
        (entry,) = [
            e for e in analyse(box_trace(*stretches, torque=torque)).quality if e.code == "implausible"
        ]
        assert f"{torque:g} N·m on every sample" in entry.text


RESTING = box_trace((0, 2), torque=50)


@pytest.mark.parametrize(
    ("trace", "options", "what"),
    [
        (RESTING, {"mode": "concentric"}, "a movement was declared"),
        (box_trace((0.5, 20)), {}, "no movement was found"),
        (MOVING, {"cutoff_hz": 500.0}, "does not fit a recording at 1000 Hz"),
        (MOVING, {"cutoff_hz": 0.01}, "choose one from 0.5"),
        (MOVING, {"cutoff_hz": -1.0}, "choose one from 0.5"),
        (MOVING, {"cutoff_hz": float("nan")}, "choose one from 0.5"),
        (MOVING, {"speed_deg_s": 0.0}, "not above 0"),
        (MOVING, {"band_pct": 0.0}, "band"),
        (MOVING, {"body_mass_kg": -3.0}, "body mass"),
        (MOVING, {"drop": -1}, "cannot be dropped"),
        (MOVING, {"leave_out": (2,)}, "movement 2 cannot be left out; the recording has 1 movements"),
    ],
)
def test_what_cannot_be_analysed_is_refused_with_a_sentence(trace, options, what):
    with pytest.raises(ValueError, match=what):
        analyse(trace, **options)


@pytest.mark.parametrize(
    ("columns", "what"),
    [
        (([0, 1], [0, 1], [0, 1]), "2 samples are too few"),
        ((np.arange(30), np.arange(29), np.arange(30)), "differ in length"),
        ((np.arange(30), np.full(30, np.nan), np.arange(30)), r"angle_deg\[0\] is not a finite number"),
        ((np.arange(30), np.arange(30), np.append(np.arange(29), np.inf)), r"torque_nm\[29\]"),
        ((np.arange(30), np.arange(30), np.full(30, 2e6)), r"torque_nm\[0\] = 2e\+06 is beyond"),
        (([*range(29), 5], np.arange(30), np.arange(30)), r"time_s\[29\] does not come after"),
        ((np.zeros(30), np.arange(30), np.arange(30)), r"time_s\[1\]"),
        ((np.zeros((3, 10)), np.arange(30), np.arange(30)), "plain list"),
    ],
)
def test_a_recording_that_is_none_is_refused(columns, what):
    with pytest.raises(ValueError, match=what):
        Trace(*columns)
