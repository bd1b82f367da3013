"""A recording through its column map, and the rules about weight and what was already done to it."""

import json

import numpy as np
import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork.recording.column_maps import read_column_map
from fieldlog.fieldwork.recording.recording import (
    TraceOptions,
    analyse_batch,
    analyse_recording,
    curves,
    read_recording,
)
from fieldlog.fieldwork.recording.recording_files import read_fitting
from fieldlog.fieldwork.recording.trace_options import trace_options
from fieldlog.records.column_map import ColumnMap
from tests.simulation.acquisition import PERFECT, Acquisition
from tests.simulation.lever import stand, to_and_fro
from tests.simulation.muscle import HalfSine
from tests.simulation.recording import Effort, Hold, Scene, Weight
from tests.simulation.writers import own_columns

WEIGHT = Weight(11.6, -2.0, 0.5)
EFFORTS = {1: Effort(HalfSine(110, 0, 100), 1, 0.1, 0.1), -1: Effort(HalfSine(180, 0, 100), -1, 0.1, 0.1)}
SCENE = Scene(to_and_fro(5, 95, 60, repetitions=3), EFFORTS, weight=WEIGHT)
SET = own_columns(Acquisition(rate_hz=500).sample(SCENE)).encode()
SWEEP = own_columns(
    Acquisition(rate_hz=200).sample(Scene(to_and_fro(2, 98, 8, repetitions=1), weight=WEIGHT))
).encode()

MAP = {
    "time": {"column": "time_s"},
    "angle": {"column": "angle_deg"},
    "velocity": {"column": "velocity_deg_s"},
    "torque": {"column": "torque_nm"},
}


def mapped(**changes):
    return ColumnMap.model_validate({**MAP, **changes})


def body(data=SET, column_map=None, sweep=None, **options):
    recording = read_recording(data, name="set.csv", column_map=column_map)
    weighed = None if sweep is None else read_recording(sweep, name="sweep.csv", column_map=column_map)
    return analyse_recording(recording, TraceOptions(**options), sweep=weighed)


def codes(found):
    return [entry["code"] for entry in found["quality"]]


def refusal(*args, **kwargs):
    with pytest.raises(InputError) as caught:
        body(*args, **kwargs)
    assert caught.value.hint or ":" in caught.value.message
    return str(caught.value)


def test_a_sweep_and_its_coefficients_by_hand_give_the_same_peaks():
    swept = body(sweep=SWEEP)
    assert swept["recipe"]["gravity"] == "sweep"
    weight = swept["weight_torque"]
    assert (weight["cos_nm"], weight["sin_nm"], weight["offset_nm"]) == pytest.approx(
        (11.6, -2.0, 0.5), abs=0.2
    )
    assert weight["separable"] is True
    assert codes(swept) == []
    given = body(gravity_fit=(11.6, -2.0, 0.5))
    assert given["recipe"]["gravity"] == "given"
    assert given["set"]["up"]["best_peak_torque_nm"] == pytest.approx(
        swept["set"]["up"]["best_peak_torque_nm"], rel=2e-3
    )
    assert given["set"]["up"]["best_peak_torque_nm"] == pytest.approx(110, rel=0.01)


def test_without_a_weight_torque_that_is_said():
    found = body()
    assert found["weight_torque"] is None
    assert found["recipe"]["gravity"] == "none"
    assert codes(found) == ["gravity_missing"]
    assert found["quality"][0]["level"] == "note"


def test_a_recording_declared_weight_corrected_is_not_missing_a_weight():
    assert codes(body(column_map=mapped(already={"weight_corrected": "yes"}))) == []


def test_the_limb_is_never_counted_twice():
    corrected = mapped(already={"weight_corrected": "yes"})
    for options in ({"sweep": SWEEP}, {"gravity_fit": (11.6, -2.0, 0.5)}):
        assert "the limb would be counted twice" in refusal(column_map=corrected, **options)


def test_unknown_processing_is_a_warning_that_says_what_is_unknown():
    found = body(column_map=mapped(already={"weight_corrected": "unknown"}), sweep=SWEEP)
    (entry,) = found["quality"]
    assert (entry["code"], entry["level"]) == ("processing_unknown", "warning")
    assert "weight torque" in entry["text"]
    missing = body(column_map=mapped(already={"weight_corrected": "unknown", "filtered": "unknown"}))
    assert codes(missing) == ["gravity_missing", "processing_unknown", "processing_unknown"]
    assert {entry["level"] for entry in missing["quality"]} == {"warning"}


def test_a_file_of_load_ranges_only_is_said_and_stands_in_the_recipe():
    found = body(column_map=mapped(already={"load_range_only": "yes"}), sweep=SWEEP)
    assert codes(found) == ["load_range_only"]
    assert found["recipe"]["already"] == {
        "weight_corrected": "no",
        "filtered": "no",
        "load_range_only": "yes",
    }


def test_a_weight_cannot_be_taken_off_a_magnitude():
    samples = PERFECT.sample(SCENE)
    unsigned = type(samples)(
        samples.time_s, samples.angle_deg, samples.velocity_deg_s, np.abs(samples.torque_nm)
    )
    data = own_columns(unsigned).encode()
    magnitude = mapped(torque_sign="magnitude")
    assert "magnitude_torque" in codes(body(data, column_map=magnitude))
    for options in ({"sweep": data}, {"gravity_fit": (1.0, 2.0, 3.0)}):
        assert "cannot be subtracted from a torque without sign" in refusal(
            data, column_map=magnitude, **options
        )


def test_a_magnitude_that_is_negative_is_none():
    assert "is negative, but the map says magnitude" in refusal(column_map=mapped(torque_sign="magnitude"))


def test_a_sweep_and_coefficients_together_are_one_too_many():
    assert "use --gravity or --gravity-fit" in refusal(sweep=SWEEP, gravity_fit=(1.0, 2.0, 3.0))


def test_a_sweep_that_is_none_is_named():
    still = own_columns(Acquisition(rate_hz=200).sample(Scene(stand(30, 5), weight=WEIGHT))).encode()
    assert refusal(sweep=still).startswith("sweep.csv: the sweep does not move")


@pytest.mark.parametrize(
    ("torque", "factor"),
    [
        ({"unit": "nm"}, 1.0),
        ({"unit": "lbf_ft"}, 1.3558179483314003),
        ({"unit": "lbf_in"}, 0.1129848290276167),
        ({"unit": "kgf_m"}, 9.80665),
        ({"sign": -1}, -1.0),
    ],
)
def test_torque_comes_in_newton_metre_with_our_sign(torque, factor):
    plain = read_recording(SET, column_map=mapped())
    scaled = read_recording(SET, column_map=mapped(torque={"column": "torque_nm", **torque}))
    assert scaled.torque_nm == pytest.approx(factor * plain.torque_nm, rel=1e-12)


def test_time_angle_and_velocity_come_in_our_units():
    plain = read_recording(SET, column_map=mapped())
    foreign = read_recording(
        SET,
        column_map=mapped(
            time={"column": "time_s", "unit": "ms"},
            angle={"column": "angle_deg", "unit": "rad", "sign": -1, "offset_deg": 90},
            velocity={"column": "velocity_deg_s", "unit": "rad/s"},
        ),
    )
    assert foreign.time_s == pytest.approx(plain.time_s / 1000)
    assert foreign.angle_deg == pytest.approx(90 - np.degrees(plain.angle_deg))
    assert foreign.velocity_deg_s == pytest.approx(-np.degrees(plain.velocity_deg_s)), (
        "velocity turns with the angle"
    )
    own_sign = mapped(
        angle={"column": "angle_deg", "sign": -1}, velocity={"column": "velocity_deg_s", "sign": 1}
    )
    assert read_recording(SET, column_map=own_sign).velocity_deg_s == pytest.approx(plain.velocity_deg_s)


def test_the_unit_of_the_file_does_not_change_the_measures():
    samples = PERFECT.sample(SCENE)
    pounds = type(samples)(
        samples.time_s * 1000,
        np.radians(samples.angle_deg),
        np.radians(samples.velocity_deg_s),
        samples.torque_nm / 1.3558179483314003,
    )
    text = own_columns(pounds, decimals=(2, 9, 9, 9))
    units = mapped(
        time={"column": "time_s", "unit": "ms"},
        angle={"column": "angle_deg", "unit": "rad"},
        velocity={"column": "velocity_deg_s", "unit": "rad/s"},
        torque={"column": "torque_nm", "unit": "lbf_ft"},
    )
    ours = body(own_columns(samples, decimals=(5, 9, 9, 9)).encode())
    theirs = body(text.encode(), column_map=units)
    for key in ("peak_torque_nm", "work_j", "load_range_deg", "mean_power_w", "impulse_nms"):
        assert [m[key] for m in theirs["movements"]] == pytest.approx(
            [m[key] for m in ours["movements"]], rel=1e-6
        )


def test_without_a_map_a_velocity_column_may_be_missing_and_with_one_it_may_not():
    text = own_columns(PERFECT.sample(SCENE), velocity=False).encode()
    assert read_recording(text).velocity_deg_s is None
    assert read_recording(text, column_map=mapped(velocity=None)).velocity_deg_s is None
    with pytest.raises(InputError, match="no column 'velocity_deg_s'"):
        read_recording(text, column_map=mapped())


def lines(*changes):
    """The text of the set with some lines (counted from 1) replaced."""
    text = SET.decode().splitlines()
    for number, line in changes:
        text[number - 1] = line
    return ("\n".join(text) + "\n").encode()


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (lines((40, "0.001,5,0,0")), "line 40, time_s: time runs backwards (0.001 s)"),
        (
            lines((40, "0.0740,5,0,0"), (39, "0.0740,5,0,0")),
            "line 40, time_s: time is the same as on the sample before",
        ),
        (b"\n".join(SET.splitlines()[:3]), "2 samples, at least 20 are needed"),
        (SET.splitlines(keepends=True)[0], "0 samples"),
        (lines((40, "0.0760,5,0,1e300")), "line 40, torque_nm: 1e+300 is beyond anything a rig records"),
        (lines((40, "0.0760,NaN,0,0")), "line 40, angle_deg: 'NaN' is not a finite number"),
    ],
)
def test_a_recording_that_cannot_be_right_is_refused_with_its_line(data, what):
    assert what in refusal(data)


def test_a_constant_angle_where_a_movement_was_declared_is_refused():
    data = own_columns(Acquisition().sample(Scene(stand(60, 6), holds=(Hold(2, 4, 100),)))).encode()
    assert body(data)["mode"] == "isometric"
    assert "a movement was declared" in refusal(data, mode="concentric")


def assert_plain(value):
    """Only what JSON knows, and no NaN."""
    if isinstance(value, dict):
        assert all(type(key) is str for key in value)
        value = list(value.values())
    if isinstance(value, list):
        for item in value:
            assert_plain(item)
    else:
        assert value is None or type(value) in (str, int, float, bool), repr(value)
        assert value == value, "NaN"


def test_the_body_is_plain_json_with_every_promised_key():
    found = body(sweep=SWEEP, at_deg=(30.0, 62.5), body_mass_kg=75.0, drop=1, leave_out=(5,))
    assert_plain(found)
    assert json.loads(json.dumps(found)) == found
    assert {"file", "samples", "rate_hz", "duration_s", "mode", "set_speed_deg_s", "set_speed_source", "recipe",
            "weight_torque", "movements", "set", "isometric", "quality"} == set(found)  # fmt: skip
    assert {"version", "cutoff_hz", "band_pct", "gravity"} < set(found["recipe"])
    assert {
        "cos_nm",
        "sin_nm",
        "offset_nm",
        "rms_nm",
        "range_deg",
        "up_down_difference_nm",
        "separable",
    } < set(found["weight_torque"])
    assert {"index", "direction", "mode", "start_s", "end_s", "start_deg", "end_deg", "range_deg", "load_range_deg",
            "load_range_share_pct", "mean_speed_deg_s", "peak_torque_nm", "peak_torque_angle_deg", "time_to_peak_s",
            "work_j", "load_range_work_j", "mean_power_w", "peak_power_w", "impulse_nms", "torque_at_nm",
            "flags"} < set(found["movements"][0])  # fmt: skip
    assert set(found["movements"][0]["torque_at_nm"]) == {"30", "62.5"}
    figures = {"movements", "best_peak_torque_nm", "best_peak_torque_nm_kg", "mean_peak_torque_nm", "mean_best_three_nm",
               "peak_torque_cv_pct", "total_work_j", "work_thirds_drop_pct", "decline_pct", "work_slope_j"}  # fmt: skip
    assert set(found["set"]) == {"up", "down", "down_up_peak_ratio_pct"}
    assert set(found["set"]["up"]) == set(found["set"]["down"]) >= figures
    assert found["isometric"] is None
    assert found["recipe"]["drop"] == 1
    assert found["recipe"]["leave_out"] == [5]
    assert found["samples"] == len(SET.splitlines()) - 1


def test_the_body_of_a_hold_has_every_promised_key():
    found = body(own_columns(Acquisition().sample(Scene(stand(60, 8), holds=(Hold(2, 5, 180),)))).encode())
    assert_plain(found)
    assert found["movements"] == []
    assert set(found["isometric"]) == {"holds", "rtd_cutoff_hz"}
    assert {"angle_deg", "peak_torque_nm", "mean_torque_nm", "onset_s", "rtd_50_nm_s", "rtd_100_nm_s",
            "rtd_200_nm_s", "flags"} < set(found["isometric"]["holds"][0])  # fmt: skip


def test_the_same_recording_and_options_give_the_same_body():
    assert body(sweep=SWEEP) == body(sweep=SWEEP)


def test_curves_are_those_the_measures_were_taken_from():
    recording = read_recording(SET, name="set.csv")
    options = TraceOptions(leave_out=(2,))
    movements = analyse_recording(recording, options)["movements"]
    drawn = curves(recording, options)
    assert [curve.index for curve in drawn] == [m["index"] for m in movements]
    assert [curve.counted for curve in drawn] == [True, False, True, True, True, True]
    for curve, movement in zip(drawn, movements, strict=True):
        assert curve.direction == movement["direction"]
        assert curve.torque_nm[curve.in_load_range].max() == pytest.approx(movement["peak_torque_nm"])
        assert curve.time_s[0] == movement["start_s"]
        inside = curve.angle_deg[curve.in_load_range]
        assert abs(inside[-1] - inside[0]) == pytest.approx(movement["load_range_deg"])


def test_curves_of_holds_are_positive_too():
    data = own_columns(Acquisition().sample(Scene(stand(60, 8), holds=(Hold(2, 5, 180, sign=-1),)))).encode()
    (curve,) = curves(read_recording(data))
    assert curve.direction == "down"
    assert curve.torque_nm.max() == pytest.approx(180, rel=0.01)


def test_one_bad_recording_does_not_stop_a_batch():
    results = dict(analyse_batch([("a", SET), ("b", b"nonsense"), ("c", SET)]))
    assert results["a"] == {**results["c"], "file": "a"}
    assert isinstance(results["b"], InputError)


def test_a_column_map_is_read_from_its_file(tmp_path):
    path = tmp_path / "map.json"
    path.write_text(json.dumps({**MAP, "separator": ";", "decimal": ","}), encoding="utf-8-sig")
    assert read_column_map(path).separator == ";"


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("{", "line 1, column 2: not JSON"),
        (json.dumps(MAP)[:-1] + ', "time": {"column": "t2"}}', "time stands twice"),
        ("[" * 100_000, "nested or written beyond reason"),
        (json.dumps({**MAP, "skip_lines": "1"}), "skip_lines: Input should be a valid integer"),
        (json.dumps({**MAP, "angle": {"column": "a", "offset_deg": True}}), "angle.offset_deg"),
        ("[]", "map.json"),
        ('{"time": {"column": "t"}}', "map.json: angle: Field required"),
        (
            json.dumps({**MAP, "torque": {"column": "M", "unit": "Nm"}}),
            "map.json: torque.unit: Input should be 'nm'",
        ),
        (json.dumps({**MAP, "angel": 1}), "map.json: angel: Extra inputs are not permitted"),
        (json.dumps({**MAP, "torque": {"column": "time_s"}}), "two entries name the same column"),
        (json.dumps({**MAP, "decimal": ",", "separator": ","}), "the same character"),
        (json.dumps({**MAP, "angle": {"column": "a", "offset_deg": "NaN"}}), "angle.offset_deg"),
        ("\xff", "line 1: the text is not UTF-8"),
    ],
)
def test_a_wrong_column_map_is_refused_with_its_field(tmp_path, text, what):
    path = tmp_path / "map.json"
    path.write_bytes(text.encode("latin-1"))
    with pytest.raises(InputError) as caught:
        read_column_map(path)
    assert what in str(caught.value)
    assert str(caught.value).startswith("map.json")


def test_a_column_map_that_is_missing_or_huge_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"nothing\.json"):
        read_column_map(tmp_path / "nothing.json")
    huge = tmp_path / "huge.json"
    huge.write_bytes(b" " * 300_000)
    with pytest.raises(InputError, match="larger than 256 KB"):
        read_column_map(huge)


@pytest.mark.parametrize(
    "options",
    [
        {"cutoff_hz": -1}, {"cutoff_hz": float("nan")}, {"band_pct": 0}, {"speed_deg_s": -60}, {"speed_deg_s": float("inf")},
        {"body_mass_kg": 0}, {"drop": -1}, {"leave_out": (0,)}, {"at_deg": (float("nan"),)}, {"mode": "fast"},
        {"gravity_fit": (1.0, 2.0)}, {"unknown": 1},
    ],
)  # fmt: skip
def test_options_out_of_their_range_are_refused_by_name(options):
    with pytest.raises(InputError) as caught:
        trace_options(**options)
    assert str(caught.value).startswith(next(iter(options)))


def test_the_only_map_beside_a_recording_says_what_does_not_fit(tmp_path):
    (tmp_path / "set.csv").write_text("t,pos,M\n0,1,2\n", encoding="utf-8")
    map_ = {"time": {"column": "t"}, "angle": {"column": "angle"}, "torque": {"column": "M"}}
    (tmp_path / "rig.json").write_text(json.dumps(map_), encoding="utf-8")
    with pytest.raises(InputError, match=r"no column 'angle'.*correct the column map"):
        read_fitting(tmp_path / "set.csv")
