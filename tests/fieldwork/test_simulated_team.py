"""The invented team's recordings and checks, taken in as a user would: quiet where all is well, named where not."""

import json
from datetime import date

import pytest

from fieldlog.fieldwork.recording.recording import analyse_recording, read_recording
from fieldlog.fieldwork.rig_checks.check_file import read_check_entry
from fieldlog.fieldwork.rig_checks.check_judge import judge
from fieldlog.records.column_map import ColumnMap
from fieldlog.records.recipe import TraceOptions
from tests.simulation.sample_people import VISITS
from tests.simulation.sample_team import (
    SLIPPED,
    STILL_CLIMBING,
    check_entries,
    manifest,
    scene_of,
    text_of,
)
from tests.simulation.writers import GERMAN

RECORDINGS = {recording.file: recording for recording in manifest()}
SETS = [recording for recording in RECORDINGS.values() if recording.kind == "set"]


def measures_of(recording):
    column_map = ColumnMap.model_validate(GERMAN.column_map()) if recording.column_map_file else None
    sweep = None
    if recording.sweep_file:
        text = text_of(RECORDINGS[recording.sweep_file])
        sweep = read_recording(text.encode(), name=recording.sweep_file)
    options = TraceOptions(
        speed_deg_s=recording.speed_deg_s,
        body_mass_kg=recording.body_mass_kg,
        leave_out=tuple(index for index, _ in recording.left_out),
    )
    source = read_recording(text_of(recording).encode(), name=recording.file, column_map=column_map)
    return analyse_recording(source, options, sweep=sweep)


@pytest.mark.parametrize("visit", VISITS, ids=lambda visit: visit.date)
def test_every_recording_of_the_team_has_its_ten_movements_and_raises_no_false_alarm(visit):
    for recording in SETS:
        if recording.visit_date != visit.date:
            continue
        result = measures_of(recording)
        assert len(result["movements"]) == 10
        assert [m["direction"] for m in result["movements"][:2]] == [
            t.direction for t in scene_of(recording).truth()[:2]
        ]
        codes = {remark["code"] for remark in result["quality"]} - {"gravity_missing", "left_out"}
        assert codes == ({"still_climbing"} if recording.file == STILL_CLIMBING else set()), recording.file


def test_knee_figures_of_the_weighed_limb_are_within_the_rigs_means():
    # 100 Hz, tenths of N·m and the swing of the caught limb leave up to 2 %
    for recording in SETS:
        if recording.protocol == "knee":
            for movement, truth in zip(
                measures_of(recording)["movements"], scene_of(recording).truth(), strict=True
            ):
                assert movement["peak_torque_nm"] == pytest.approx(truth.peak_torque_nm, rel=0.025)
                assert movement["work_j"] == pytest.approx(truth.work_j, rel=0.02)


def test_the_slipped_repetition_is_left_out_with_its_reason_and_four_of_five_count():
    recording = RECORDINGS[SLIPPED]
    assert {reason for _, reason in recording.left_out} == {"slip"}
    result = measures_of(recording)
    assert result["set"]["up"]["movements"] == result["set"]["down"]["movements"] == 4
    assert [m["index"] for m in result["movements"] if "left_out" in m["flags"]] == [7, 8]


@pytest.mark.parametrize("visit", VISITS, ids=lambda visit: visit.date)
def test_the_rig_checks_get_the_verdict_that_the_story_tells(visit):
    for check, (file, entry) in zip(visit.checks, check_entries(visit).items(), strict=True):
        read = read_check_entry(json.loads(json.dumps(entry)), file)
        judged = judge(read, today=date.fromisoformat(visit.date))
        assert judged["verdict"] == check.expected, file
        for direction in ("up", "down"):
            line = judged["torque"]["lines"][direction]
            assert line["slope"] == pytest.approx(check.rig.slope(direction), abs=0.002)
        if check.expected == "fail":
            assert any("every point is off by one percentage" in remark for remark in judged["remarks"])
