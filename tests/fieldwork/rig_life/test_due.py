"""What falls due: certificates, rig intervals, closing checks nobody took, planned retests."""

import datetime as dt

import pytest

from fieldlog.fieldwork.athletes.athletes import add_athlete
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.rig_checks.checks import save_check
from fieldlog.fieldwork.rig_checks.standards import read_standard, save_standard
from fieldlog.fieldwork.rig_life.due import certificates_due, checks_due, due_list, unclosed_days
from fieldlog.fieldwork.rig_life.life import rig_life
from fieldlog.fieldwork.squad.retests import plan_retest
from fieldlog.records.check_entry import CheckEntry
from fieldlog.records.rig import Rig
from fieldlog.records.rig_check import RigCheck
from fieldlog.store.lines import Change
from tests.simulation.rig import Place, SimulatedRig, check_entry

TODAY = dt.date(2026, 5, 6)


def keep(field, stage, at, by="Ann", state="as-found", slope=1.0):
    body = check_entry(
        SimulatedRig(slope_up=slope, slope_down=slope),
        Place(60.2, 4.0),
        name="rig B",
        stage=stage,
        state=state,
        at=at.isoformat(),
        by=by,
    )
    return save_check(field.workspace, field.store, CheckEntry.model_validate(body), today=at.date(), by=by)


def test_certificates_are_due_thirty_days_ahead_and_count_their_days_after(field):
    for name, due_on in (
        ("near", "2026-06-05"),
        ("far", "2026-06-06"),
        ("over", "2026-05-05"),
        ("now", "2026-05-06"),
    ):
        typed = {"name": name, "kind": "timer", "nominal": "1", "number": "K", "due_on": due_on}
        save_standard(field.workspace, read_standard(typed), by="lead")
    found = {due.what: due.text for due in certificates_due(field.workspace, TODAY)}
    assert found == {
        "near": "certificate ends in 30 days",
        "now": "certificate ends today",
        "over": "certificate overdue by 1 day",
    }


def test_masses_due_on_one_day_stand_by_their_size(field):
    for nominal in ("10", "40", "5"):
        name = f"mass {nominal} kg"
        typed = {"name": name, "kind": "mass", "nominal": nominal, "number": "K", "due_on": "2026-05-27"}
        save_standard(field.workspace, read_standard(typed), by="lead")
    assert [due.what for due in due_list(field.workspace, TODAY)] == ["mass 5 kg", "mass 10 kg", "mass 40 kg"]


def test_a_rigs_interval_is_the_one_its_history_suggests(sample):
    life = rig_life(sample, "rig A")
    (due,) = checks_due(sample, TODAY)
    late = (TODAY - dt.date.fromisoformat(life["due_on"])).days
    assert due.days == -late
    assert due.text == (
        f"calibration overdue by {late} days (interval {life['suggested_interval_days']} days)"
    )
    assert checks_due(sample, dt.date(2026, 3, 1)) == []


def test_a_rig_without_checks_is_not_due(field):
    of_team(field.workspace, Rig).save(Rig(id="b", name="rig B"), by="tester")
    assert checks_due(field.workspace, TODAY) == []


@pytest.mark.parametrize("error_nm", ["0.4", None, True])
def test_a_check_whose_points_hold_no_numbers_is_passed_over(field, error_nm):
    kept = keep(field, "opening", dt.datetime(2026, 5, 5, 8, 0, tzinfo=dt.UTC)).kept
    body = kept.revision.body
    body["judged"]["torque"]["points"][0]["error_nm"] = error_nm
    field.store.commit(
        [Change(RigCheck.table, kept.record.id, body, (kept.revision.id,))], by="another program"
    )
    assert checks_due(field.workspace, TODAY) == []


def test_missing_closing_checks_are_counted_by_tester(field):
    keep(field, "opening", field.clock("08:00"), by="Ann")
    next_day = field.clock("08:00") + dt.timedelta(days=1)
    keep(field, "opening", next_day, by="Bo")
    keep(field, "closing", next_day + dt.timedelta(hours=5), by="Bo")
    third = next_day + dt.timedelta(days=1)
    keep(field, "opening", third, by="Ann")
    today = third.date() + dt.timedelta(days=1)
    assert unclosed_days(field.workspace, today) == {"Ann": [third.date(), field.clock().date()]}
    (due,) = [due for due in due_list(field.workspace, today) if due.what == "Ann"]
    assert due.text == f"2 closing checks are missing, the last of {third.date()}"
    assert due.days == -1


@pytest.mark.parametrize("days", [0, 181])
def test_today_is_not_over_yet_and_what_is_long_past_is_no_longer_asked(field, days):
    keep(field, "opening", field.clock("08:00"))
    assert unclosed_days(field.workspace, field.clock().date() + dt.timedelta(days=days)) == {}


def test_a_failed_opening_leaves_nothing_to_close(field):
    keep(field, "opening", field.clock("08:00"), slope=1.1)
    tomorrow = field.clock().date() + dt.timedelta(days=1)
    assert unclosed_days(field.workspace, tomorrow) == {}


def test_the_most_pressing_stands_first(sample):
    days = [due.days for due in due_list(sample, TODAY)]
    assert days == sorted(days)


def retest(field, due_from, due_by):
    plan_retest(
        field.workspace,
        by="lead",
        squad="rowers",
        protocol_id="knee_60_180",
        due_from=dt.date.fromisoformat(due_from),
        due_by=dt.date.fromisoformat(due_by),
    )


def test_planned_retests_fall_due_with_everything_else(field):
    add_athlete(field.workspace, "R20", by="tester", squad="rowers")
    for bounds in (("2026-04-20", "2026-05-04"), ("2026-05-01", "2026-06-20"), ("2026-06-05", "2026-06-12")):
        retest(field, *bounds)
    retest(field, "2026-06-06", "2026-06-12")  # more than thirty days ahead
    rows = [(due.what, due.days, due.text.rsplit(": ", 1)[1]) for due in due_list(field.workspace, TODAY)]
    assert rows == [
        ("rowers", -2, "overdue by 2 days (1 athlete)"),
        ("rowers", 30, "due from 2026-06-05 (1 athlete)"),
        ("rowers", 45, "due until 2026-06-20 (1 athlete)"),
    ]
    assert due_list(field.workspace, TODAY)[0].text.startswith("retest, Knee")
