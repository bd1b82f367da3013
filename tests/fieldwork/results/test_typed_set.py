"""A set typed from the display: what is read from what was typed, and that it says everywhere what it is."""

import datetime as dt
import shutil
from pathlib import Path

import pytest

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.change.comparability import set_differences
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.change.trials import weight_way
from fieldlog.fieldwork.pages.coach_page import coach_page
from fieldlog.fieldwork.results.imports import Import, analyse_import
from fieldlog.fieldwork.results.keep_set import keep_set
from fieldlog.fieldwork.results.result_rows import repetition_rows, result_rows
from fieldlog.fieldwork.results.results import quality_word
from fieldlog.fieldwork.results.sets import leave_out, reanalyse, reload_recording
from fieldlog.fieldwork.results.typed_set import TYPED, is_typed, read_peaks, typed_measures, typed_text
from fieldlog.records.effort_set import LeaveOut
from fieldlog.records.protocol import PlannedSet
from fieldlog.records.recipe import TraceOptions
from fieldlog.sheets.athlete_page import athlete_sheet
from fieldlog.sheets.making import SheetSubject
from fieldlog.sheets.visit_page import visit_sheet
from fieldlog.store.audit import audit
from fieldlog.store.workspace import Workspace
from tests.fieldwork.results.test_arrived import MORNING, SAMPLE, seat_of


@pytest.mark.parametrize(
    ("text", "peaks"),
    [
        ("100 98,5 97.5", (100, 98.5, 97.5)),
        ("100,5, 98,5, 97", (100.5, 98.5, 97)),
        ("100;98;97", (100, 98, 97)),
        ("100,5\n98,25\r\n97\n", (100.5, 98.25, 97)),
        ("100\t98", (100, 98)),
        ("100 N·m 98 Nm", (100, 98)),
        ("55lbf.ft 50 lbf.ft", (74.5699872, 67.7908974)),
        ("", ()),
        (" ,\n", ()),
    ],
)
def test_numbers_with_comma_or_point_in_a_row_or_a_column(text, peaks):
    assert read_peaks(text) == pytest.approx(peaks)


@pytest.mark.parametrize(
    ("text", "field"),
    [("100 x 97", "repetition 1"), ("100 -5", "repetition 2"), ("0", "repetition 1"), ("99999", "repetition 1"),
     ("nan", "repetition 1"), ("1.2.3", "repetition 1"), ("100 55kg", "repetition 2")],
)  # fmt: skip
def test_what_is_no_peak_torque_is_named_by_its_repetition(text, field):
    with pytest.raises(InputError, match=field):
        read_peaks(text)


def test_more_numbers_than_a_set_has_are_refused():
    with pytest.raises(InputError, match="201 numbers"):
        read_peaks("7 " * 201)


def test_the_figures_are_those_of_the_typed_peaks_and_the_rest_is_empty():
    peaks = {"up": (200.0, 210.0, 190.0), "down": (100.0, 105.0, 95.0)}
    measures = typed_measures(peaks, mode="concentric", speed_deg_s=60.0, body_mass_kg=70.0)
    up = measures["set"]["up"]
    assert (up["movements"], up["best_peak_torque_nm"], up["mean_peak_torque_nm"]) == (3, 210.0, 200.0)
    assert up["best_peak_torque_nm_kg"] == 3.0
    assert up["peak_torque_cv_pct"] == pytest.approx(5.0)
    assert measures["set"]["down_up_peak_ratio_pct"] == 50.0
    assert [(m["direction"], m["peak_torque_nm"]) for m in measures["movements"][:3]] == [
        ("up", 200.0), ("down", 100.0), ("up", 210.0)
    ]  # fmt: skip
    assert {m["work_j"] for m in measures["movements"]} == {None}
    assert up["total_work_j"] is None
    assert [entry["code"] for entry in measures["quality"]] == [TYPED]


def test_holds_are_typed_as_holds():
    measures = typed_measures({"down": (150.0, 160.0)}, mode="isometric", speed_deg_s=0.0)
    assert [hold["peak_torque_nm"] for hold in measures["isometric"]["holds"]] == [150.0, 160.0]
    assert measures["set_speed_deg_s"] is None


def test_a_repetition_left_out_is_listed_and_not_counted():
    measures = typed_measures({"up": (200.0, 250.0)}, mode="concentric", speed_deg_s=60.0, left_out=[2])
    assert measures["set"]["up"]["best_peak_torque_nm"] == 200.0
    assert "left_out" in measures["movements"][1]["flags"]


@pytest.fixture
def typed(tmp_path):
    """A typed set of R01 on the day of the sample, kept through the gate."""
    if not (SAMPLE / "workspace.json").is_file():
        pytest.skip("the sample workspace is not in this checkout")
    shutil.copytree(SAMPLE, tmp_path / "sample")
    with Workspace.open(Path(tmp_path / "sample")) as workspace:
        seat = seat_of(workspace)
        peaks = {"up": (240.0, 250.0, 245.0), "down": (330.0, 340.0, 335.0)}
        import_ = Import(
            TYPED, typed_text(peaks, at=MORNING, by="Kim"), "both", "concentric", 60.0, 88.5, typed=peaks
        )
        planned = PlannedSet(speed_deg_s=60.0, repetitions=3)
        yield seat, keep_set(seat, import_, planned, at=MORNING, by="Kim").kept


def counted(seat, kept):
    """As if clearance had been there: pages show only what was cleared."""
    from fieldlog.fieldwork.books import at_site
    from fieldlog.records.effort_set import EffortSet

    record = kept.record.model_copy(update={"without_clearance": False})
    return at_site(seat.store, EffortSet).save(record, by="t", seen=kept.revision)


def test_a_typed_set_goes_through_the_gate_and_is_kept_as_what_was_typed(typed):
    seat, kept = typed
    assert kept.record.without_clearance
    assert seat.store.traces.get(kept.record.trace).decode().splitlines()[2] == "up,1,240.0"
    assert audit(seat.workspace)["ok"]
    again = reload_recording(seat.store, kept.record)
    assert analyse_import(again).measures["set"] == kept.record.measures["set"]
    with pytest.raises(InputError, match="typed"):
        again.recordings()


def test_the_same_numbers_may_be_typed_for_two_sets(typed):
    later = MORNING + dt.timedelta(minutes=5)
    assert typed_text({"up": (1.0,)}, at=MORNING, by="k") != typed_text({"up": (1.0,)}, at=later, by="k")


def test_repetitions_are_left_out_of_a_typed_set_and_no_recipe_measures_it_again(typed):
    seat, kept = typed
    kept = leave_out(seat.store, kept, [LeaveOut(index=3, reason="slip")], by="t")
    assert kept.record.measures["set"]["up"]["best_peak_torque_nm"] == 245.0
    with pytest.raises(RefusedError, match="was typed"):
        reanalyse(seat.store, kept, TraceOptions(cutoff_hz=10.0), by="t", why="to see")


def test_a_typed_set_is_marked_in_results_pages_and_exports(typed):
    seat, kept = typed
    kept = counted(seat, kept)
    assert is_typed(kept.record.measures)
    assert quality_word(kept.record.measures) == "warning"
    assert weight_way(kept.record) == "unknown"
    rows = [row for row in result_rows(seat.workspace) if row["recipe"].startswith(TYPED)]
    assert [(row["direction"], row["peak_torque_nm"], row["work_j"]) for row in rows] == [
        ("up", 250.0, None), ("down", 340.0, None)
    ]  # fmt: skip
    repetitions = [row for row in repetition_rows(seat.workspace) if TYPED in row["flags"]]
    assert len(repetitions) == 6
    line = next(
        line
        for group in coach_page(seat.workspace, seat.store, seat.visit).groups
        for line in group.lines
        if line.peak_torque_nm.get("up") == 250.0
    )
    assert line.repetitions == "3 typed"
    subject = SheetSubject("athlete", seat.store, seat.visit, athlete_id=seat.athlete_id)
    assert "typed from the display" in repr(athlete_sheet(seat.workspace, subject))
    assert TYPED in repr(visit_sheet(seat.workspace, SheetSubject("visit", seat.store, seat.visit)))


def test_a_typed_result_is_not_compared_with_a_recorded_one(typed):
    seat, kept = typed
    recorded = next(
        trial.record
        for trial in Comparer(seat.workspace).trials.trials(seat.athlete_id)
        if trial.record.speed_deg_s == 60.0 and not is_typed(trial.record.measures)
    )
    assert any("weight" in reason for reason in set_differences(kept.record, recorded))
    assert list(set_differences(kept.record, kept.record)) == []
