"""Isometric sets count: simulated holds stand in results, exports, comparisons and on the pages."""

import datetime as dt
from dataclasses import replace
from itertools import count

import pytest

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.batch.run_of_sets import RunRow
from fieldlog.fieldwork.batch.turn import one_more
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.pages.coach_page import coach_page
from fieldlog.fieldwork.results.holds import direction_figures
from fieldlog.fieldwork.results.imports import Import
from fieldlog.fieldwork.results.measure_list import MEASURES, PEAK
from fieldlog.fieldwork.results.result_rows import repetition_rows, result_rows
from fieldlog.fieldwork.results.results import ResultBook
from fieldlog.fieldwork.results.sets import add_set, leave_out
from fieldlog.fieldwork.rig_checks.check_reach import reach_of
from fieldlog.records.effort_set import LeaveOut
from fieldlog.records.protocol import PlannedSet
from fieldlog.records.rig import rig_id
from fieldlog.screens.bench_view import set_rows
from fieldlog.screens.set_view import figure_lines
from fieldlog.screens.set_view import repetition_rows as repetition_view
from fieldlog.sheets.athlete_page import athlete_sheet
from fieldlog.sheets.coach_page import coach_sheet
from fieldlog.sheets.export_schema import TABLES
from fieldlog.sheets.making import SheetSubject
from tests.simulation.acquisition import Acquisition
from tests.simulation.lever import stand
from tests.simulation.recording import Hold, Scene
from tests.simulation.squad_tests import RIG, InventedTeam
from tests.simulation.writers import own_columns

PROTOCOL = "knee_isometric_60"
FIRST, BEFORE, NOW = "2031-03-01", "2031-03-08", "2031-06-15"
SHARES = (0.95, 1.0, 0.9)


@pytest.fixture
def team(tmp_path):
    team = InventedTeam(tmp_path / "workspace")
    yield team
    team.workspace.close()


seeds = count(1)


def held(
    team, visit, athlete, plateau_nm, *, angle_deg=60.0, side="right", sign=-1, shares=SHARES, masses=80.0
):
    """Keep a recording of holds at one angle; extension pulls towards smaller angles."""
    holds = tuple(
        Hold(2.0 + 6.0 * turn, 6.0 + 6.0 * turn, share * plateau_nm, sign=sign)
        for turn, share in enumerate(shares)
    )
    scene = Scene(stand(angle_deg, 8.0 + 6.0 * len(shares)), holds=holds)
    data = own_columns(Acquisition(rate_hz=500.0, seed=next(seeds)).sample(scene)).encode()
    kept = add_set(
        team.workspace,
        team.store,
        Import("hold.csv", data, side, "isometric", 0.0, body_mass_kg=masses),
        visit_id=visit.id,
        batch_id="batch",
        athlete_id=athlete.id,
        protocol_id=PROTOCOL,
        rig_id=rig_id(RIG),
        at=dt.datetime.fromisoformat(f"{visit.date}T10:00:00+02:00"),
        by="tester 1",
    )
    return kept, holds


def only_result(team, kept):
    (result,) = ResultBook(team.workspace).of_set(kept)
    return result


def test_holds_give_the_figures_of_the_direction_their_torque_has(team):
    kept, holds = held(team, team.day(NOW), team.athlete("R07"), 180.0)
    result = only_result(team, kept)
    assert result.direction == "down"
    assert result.cover.word == "confirmed"
    assert result.figures["movements"] == 3
    assert result.peak_torque_nm == pytest.approx(180.0, rel=0.01)
    assert result.recorded_peak_nm == result.peak_torque_nm
    assert result.figures["best_peak_torque_nm_kg"] == pytest.approx(180.0 / 80.0, rel=0.01)
    assert result.figures["mean_peak_torque_nm"] == pytest.approx(180.0 * 0.95, rel=0.01)
    assert result.figures["best_mean_torque_nm"] == pytest.approx(180.0, rel=0.01)
    assert result.figures["best_rtd_200_nm_s"] == pytest.approx(holds[1].rate_nm_s(0.2), rel=0.05)
    assert result.figures["hold_angle_deg"] == pytest.approx(60.0, abs=0.1)
    assert result.figures["total_work_j"] is None
    assert result.mean_power_w is None
    assert result.best_movement["index"] == 2
    assert result.best_movement["peak_torque_angle_deg"] == pytest.approx(60.0, abs=0.1)


def test_a_pull_the_other_way_is_no_effort_of_this_protocol(team):
    kept, _ = held(team, team.day(NOW), team.athlete("R07"), 180.0, sign=1)
    assert ResultBook(team.workspace).of_set(kept) == []


def test_a_hold_left_out_does_not_count(team):
    kept, _ = held(team, team.day(NOW), team.athlete("R07"), 180.0)
    changed = leave_out(team.store, kept, [LeaveOut(index=2, reason="slip")], by="tester 1")
    result = only_result(team, changed)
    assert (result.figures["movements"], len(result.movements)) == (2, 3)
    assert result.peak_torque_nm == pytest.approx(0.95 * 180.0, rel=0.01)


def test_rows_of_results_and_repetitions_hold_the_holds(team):
    held(team, team.day(NOW), team.athlete("R07"), 180.0)
    (row,) = result_rows(team.workspace)
    assert (row["mode"], row["direction"], row["set_speed_deg_s"]) == ("isometric", "down", 0.0)
    assert row["peak_torque_nm"] == pytest.approx(180.0, rel=0.01)
    assert row["peak_torque_angle_deg"] == pytest.approx(60.0, abs=0.1)
    assert row["best_rtd_200_nm_s"] > 0
    assert row["work_j"] is row["mean_power_w"] is None
    assert list(row) == [field.name for field in TABLES["results"]]
    repetitions = list(repetition_rows(team.workspace))
    assert [each["mode"] for each in repetitions] == ["isometric"] * 3
    assert {name for each in repetitions for name in each} <= {field.name for field in TABLES["repetitions"]}


def test_the_coachs_page_shows_holds_at_their_angle(team):
    athlete, visit = team.athlete("R07"), team.day(NOW)
    for side in ("right", "left"):
        held(team, visit, athlete, 180.0, side=side)
    (group,) = coach_page(team.workspace, team.store, visit).groups
    assert group.hold_angles_deg == (60.0,)
    assert [line.side for line in group.lines] == ["left", "right"]
    assert group.lines[0].peak_torque_nm == {"down": pytest.approx(180.0, rel=0.01)}
    assert group.lines[0].repetitions == "3"
    assert "held at 60°" in str(coach_sheet(coach_page(team.workspace, team.store, visit)))
    assert "held" in str(
        athlete_sheet(team.workspace, SheetSubject("athlete", team.store, visit, athlete_id=athlete.id))
    )


def change_since(team, *, angle_deg):
    athlete = team.athlete("R07", sex="male")
    for day, plateau_nm, at_deg in ((FIRST, 170.0, 60.0), (BEFORE, 180.0, 60.0), (NOW, 270.0, angle_deg)):
        held(team, team.day(day), athlete, plateau_nm, angle_deg=at_deg)
    comparer = Comparer(team.workspace)
    trial = comparer.trials.trials(athlete.id)[-1]
    return comparer.latest(comparer.trials.score(MEASURES[PEAK], trial))


def test_holds_at_one_angle_compare_over_time(team):
    change = change_since(team, angle_deg=61.0)
    assert change.word == "higher, beyond error"
    assert change.change_pct == pytest.approx(50.0, abs=1.5)


def test_holds_at_another_angle_do_not_compare(team):
    assert change_since(team, angle_deg=75.0).word == "no comparison: held at 75° against 60°"


def test_the_reach_of_the_masses_counts_what_holds_have_shown(team):
    athlete = team.athlete("R07")
    kept, _ = held(team, team.day(NOW), athlete, 180.0)
    protocol = catalogue.protocol(team.workspace, PROTOCOL)
    reach = reach_of(team.workspace, None, protocol)
    assert reach.peaks_nm == {athlete.id: {"down": pytest.approx(180.0, rel=0.01)}}
    leave_out(team.store, kept, [LeaveOut(index=2, reason="slip")], by="tester 1")
    reach = reach_of(team.workspace, None, protocol)
    assert reach.peaks_nm == {athlete.id: {"down": pytest.approx(0.95 * 180.0, rel=0.01)}}


def test_holds_beyond_the_plan_use_up_what_is_allowed_beside_it(team):
    athlete, visit = team.athlete("R07"), team.day(NOW)
    kept, _ = held(team, visit, athlete, 180.0, shares=(0.9, 0.95, 0.97, 1.0))
    climbing = {"code": "still_climbing", "level": "note", "text": "Still rising."}
    record = kept.record.model_copy(
        update={"measures": {**kept.record.measures, "quality": [*kept.record.measures["quality"], climbing]}}
    )
    planned = PlannedSet(speed_deg_s=0, mode="isometric", repetitions=3, extra_allowed=1)
    row = RunRow(("right", 2), planned, "hold × 3", "done", record)
    said = one_more(team.workspace, team.store, visit, athlete, row)
    assert said.startswith("still climbing, no more")
    enough = planned.model_copy(update={"repetitions": 4})
    assert said != one_more(team.workspace, team.store, visit, athlete, replace(row, planned=enough))


def test_the_bench_and_the_set_show_the_figures_of_holds(team):
    athlete, protocol = team.athlete("R07"), catalogue.protocol(team.workspace, PROTOCOL)
    before, _ = held(team, team.day(BEFORE), athlete, 170.0)
    planned = protocol.sets[1]
    row = RunRow(("right", 2), planned, "hold × 3", "next")
    last = {("right", 0.0, "isometric"): (team.store, before.record)}
    (shown,) = set_rows((row,), protocol, {}, last)
    best_nm = max(hold["peak_torque_nm"] for hold in before.record.measures["isometric"]["holds"])
    assert f"({best_nm:.0f})" in shown.words
    now, _ = held(team, team.day(NOW), athlete, 180.0)
    now = leave_out(team.store, now, [LeaveOut(index=2, reason="slip")], by="tester 1").record
    (shown,) = set_rows((replace(row, state="done", recorded=now),), protocol, {}, {})
    best_nm = direction_figures(now, "down", protocol.efforts)["best_peak_torque_nm"]
    assert best_nm == pytest.approx(171.0, rel=0.01)
    assert f"{best_nm:.0f} n·m" in shown.words
    (line,) = figure_lines(now.measures, protocol, 80, now.left_out)
    text = "".join(span.text for span in line)
    assert f"{best_nm:.1f} N·m" in text
    assert "2 counted" in text
    rows = repetition_view(now.measures, protocol, now.left_out)
    assert "left out: slip" in rows[1].words
