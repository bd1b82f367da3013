"""Real recordings of an ankle at 40°/s, 2 kHz.

Data of a 2024 paper in J Appl Physiol, doi 10.1152/japplphysiol.00845.2023 (public repository
PaulT95/Tecchio_et_al_2023, commit 8a0c221, Apache-2.0, re-saved as CSV). Figures are regression values of
this analysis, held against one earlier analysis by others: about 33 N·m raw, 29 at 50 Hz, 28 at
12 Hz; relaxed sweeps 2-3 N·m apart; cosine and offset not to be told apart over 40°.
"""

import os
from pathlib import Path

import numpy as np
import pytest

from fieldlog.analysis.limb import fit_weight_torque
from fieldlog.analysis.limb_sweep import weigh_sweep
from fieldlog.fieldwork.recording.recording import TraceOptions, analyse_recording, read_recording
from fieldlog.records.column_map import ColumnMap

OPEN_DATA = Path(os.environ.get("FIELDLOG_OPEN_DATA") or Path(__file__).parents[3] / "shared" / "open-data")
FOLDER = OPEN_DATA / "ankle_isokinetic_2khz"

pytestmark = pytest.mark.skipif(
    not FOLDER.is_dir(), reason="the open recordings are not here; FIELDLOG_OPEN_DATA names their folder"
)

COLUMNS = ColumnMap.model_validate(
    {"time": {"column": "time_s"}, "angle": {"column": "crank_angle_deg"}, "torque": {"column": "torque_Nm"}}
)


@pytest.fixture(scope="module")
def contraction():
    return read_recording(FOLDER / "PL_0_01.csv", column_map=COLUMNS)


def movement(recording, **options):
    found = analyse_recording(recording, TraceOptions(**{"speed_deg_s": 40.0, **options}))
    (only,) = found["movements"]
    return only


def test_one_movement_of_forty_one_degrees_with_an_overshoot_is_found(contraction):
    only = movement(contraction)
    assert (only["direction"], only["mode"]) == ("up", "concentric")
    assert (only["start_s"], only["end_s"]) == pytest.approx((5.0, 6.1), abs=0.1)
    assert only["range_deg"] == pytest.approx(41, abs=1.5)
    assert only["flags"] == ["overshoot"]


@pytest.mark.parametrize(
    ("cutoff_hz", "elsewhere_nm", "ours_nm"),
    [(0, 32.9, 32.93), (50, 29.3, 28.57), (15, None, 28.50), (12, 28.4, 28.45), (6, None, 28.34)],
)
def test_the_peak_depends_on_the_cut_off_as_found_elsewhere(contraction, cutoff_hz, elsewhere_nm, ours_nm):
    peak_nm = movement(contraction, cutoff_hz=cutoff_hz)["peak_torque_nm"]
    assert peak_nm == pytest.approx(ours_nm, abs=0.02)
    assert elsewhere_nm is None or peak_nm == pytest.approx(elsewhere_nm, abs=1.5)


@pytest.mark.parametrize(
    ("band_pct", "share_pct", "peak_nm"), [(5, 45.7, 28.50), (10, 94.9, 28.50), (15, 95.5, 28.50)]
)
def test_a_wider_band_joins_more_of_a_lever_that_swings(contraction, band_pct, share_pct, peak_nm):
    only = movement(contraction, band_pct=band_pct)
    assert only["load_range_share_pct"] == pytest.approx(share_pct, abs=1.5)
    assert only["peak_torque_nm"] == pytest.approx(peak_nm, abs=0.05)


def sweeps():
    return [
        read_recording(FOLDER / f"Pas_{name}.csv", column_map=COLUMNS) for name in ("Long2Sho", "Sho2Long")
    ]


def joined():
    """Both sweeps as one recording, the second after the first."""
    first, second = sweeps()
    later_s = second.time_s - second.time_s[0] + first.time_s[-1] + first.time_s[1] - first.time_s[0]
    return (
        np.concatenate((first.time_s, later_s)),
        np.concatenate((first.angle_deg, second.angle_deg)),
        np.concatenate((first.torque_nm, second.torque_nm)),
    )


def test_the_relaxed_sweeps_are_two_to_three_newton_metre_apart():
    weighing = weigh_sweep(*joined())
    assert 2.0 < weighing.up_down_difference_nm < 3.0
    assert weighing.remarks == ()


def test_cosine_and_offset_cannot_be_told_apart_over_forty_degrees_but_the_curve_fits():
    weight = weigh_sweep(*joined()).weight_torque
    assert not weight.separable
    assert weight.rms_nm < 0.5
    _, angle, torque = joined()
    other = fit_weight_torque(angle, torque)
    assert not other.separable
    inside = np.linspace(weight.lowest_deg + 3, weight.highest_deg - 3, 30)
    assert weight.at(inside) == pytest.approx(other.at(inside), abs=1.0)
