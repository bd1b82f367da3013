"""A batch of the workspace put in order: last setups, windows, no-shows, and minutes the team has learned."""

import datetime as dt

import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.athlete_days import save_day
from fieldlog.fieldwork.athletes.athletes import add_athlete
from fieldlog.fieldwork.batch.batch_durations import LEAST_SPANS, planned_minutes, scale_costs, turn_minutes
from fieldlog.fieldwork.batch.batch_turns import keep_order, no_show, order_today
from fieldlog.fieldwork.batch.batches import change_entry
from fieldlog.fieldwork.setup import setups
from fieldlog.records.batch import Batch, BatchEntry
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.setup import StepTaken
from fieldlog.store.repo import Repo
from tests.fieldwork.bodies import NO_MEASURES

PROTOCOL = catalogue.shipped_protocols()["trunk_standing_60_120"]
KNEE = catalogue.shipped_protocols()["knee_60_180"]
PLAN = catalogue.shipped_plans()["trunk_standing"]
EARLIER = dt.date(2030, 11, 12)


def a_squad(field, plates, at="10:00"):
    """Athletes with an earlier setup, each with a foot plate of their own."""
    athletes = []
    visit = field.visit_on(EARLIER)
    for number, plate in enumerate(plates):
        athlete = add_athlete(field.workspace, f"S{number:02}", by="t").record
        setups.save_step(
            field.workspace,
            field.store,
            visit,
            athlete_id=athlete.id,
            plan=PLAN,
            side="both",
            taken=StepTaken(key="foot_plate", reading=plate),
            by="t",
            at=field.clock(at, EARLIER),
        )
        athletes.append(athlete)
    return athletes


def a_batch(field, athletes, protocol=PROTOCOL):
    entries = tuple(BatchEntry(athlete_id=athlete.id, sides=("both",)) for athlete in athletes)
    batch = Batch(id="b1", visit_id=field.visit.id, protocol_id=protocol.id, entries=entries)
    return Repo(field.store, Batch).save(batch, by="t")


def a_set(field, athlete, at, day, number=1):
    record = EffortSet(
        id=f"set{athlete.id[:8]}{number}{day.isoformat()}",
        visit_id=field.visit_on(day).id,
        batch_id="b0",
        athlete_id=athlete.id,
        protocol_id=PROTOCOL.id,
        rig_id="rig-a",
        number=number,
        side="both",
        mode="concentric",
        speed_deg_s=60,
        at=field.clock(at, day),
        by="t",
        body_mass_kg=80,
        trace="0" * 64,
        trace_name="x.csv",
        options={},
        measures=NO_MEASURES,
    )
    Repo(field.store, EffortSet).save(record, by="t")


def order(field, batch, at="09:00", frozen=0):
    return order_today(
        field.workspace, field.store, field.visit, batch.record, now=field.clock(at), frozen=frozen
    )


def test_athletes_are_put_in_order_of_their_last_foot_plate(field):
    athletes = a_squad(field, [40.0, 20.0, 41.0, 21.0, 42.0])
    found = order(field, a_batch(field, athletes))
    plates = {
        athlete.id: plate for athlete, plate in zip(athletes, [40.0, 20.0, 41.0, 21.0, 42.0], strict=True)
    }
    assert [plates[key] for key in found.order] in (
        [20.0, 21.0, 40.0, 41.0, 42.0],
        [42.0, 41.0, 40.0, 21.0, 20.0],
    )
    assert found.saved_minutes > 0.0
    assert found.timetable[0].start >= 9 * 60.0


def test_the_rig_as_it_stands_decides_where_to_begin(field):
    athletes = a_squad(field, [20.0, 30.0, 40.0])
    setups.save_step(
        field.workspace,
        field.store,
        field.visit,
        athlete_id=field.adult.id,
        plan=PLAN,
        side="both",
        taken=StepTaken(key="foot_plate", reading=41.0),
        by="t",
        at=field.clock("08:55"),
    )
    found = order(field, a_batch(field, athletes))
    assert found.order == tuple(athlete.id for athlete in reversed(athletes))


def test_the_next_two_are_left_alone_when_the_day_runs_late(field):
    athletes = a_squad(field, [40.0, 20.0, 41.0, 21.0])
    batch = a_batch(field, athletes)
    found = order(field, batch, at="11:00", frozen=2)
    assert found.order[:2] == (athletes[0].id, athletes[1].id)


def test_a_no_show_goes_to_the_tail_and_comes_back_with_one_more_mark(field):
    athletes = a_squad(field, [40.0, 30.0, 20.0])
    batch = no_show(field.store, a_batch(field, athletes), athletes[0].id, by="t")
    assert batch.record.entries[-1].athlete_id == athletes[0].id
    assert order(field, batch).order[-1] == athletes[0].id
    batch = change_entry(field.store, batch, athletes[0].id, by="t", status="waiting")
    assert order(field, batch).order[-1] != athletes[1].id


def test_who_is_done_is_not_planned_again(field):
    athletes = a_squad(field, [40.0, 30.0, 20.0])
    batch = change_entry(field.store, a_batch(field, athletes), athletes[1].id, by="t", status="done")
    found = order(field, batch)
    assert set(found.order) == {athletes[0].id, athletes[2].id}
    kept = keep_order(field.store, batch, found.order, by="t")
    assert [entry.athlete_id for entry in kept.record.entries] == [athletes[1].id, *found.order]
    with pytest.raises(InputError, match="once"):
        keep_order(field.store, kept, [athletes[0].id], by="t")


def test_windows_of_athlete_and_chaperone_and_the_minors_place_are_kept(field):
    athletes = [*a_squad(field, [40.0, 41.0]), field.minor]
    save_day(
        field.store,
        field.visit,
        athletes[0].id,
        {"available_from": field.clock("09:40").isoformat()},
        by="t",
        at=field.clock("08:00"),
    )
    save_day(
        field.store,
        field.visit,
        field.minor.id,
        {"chaperone_until": field.clock("09:30").isoformat()},
        by="t",
        at=field.clock("08:00"),
    )
    found = order(field, a_batch(field, athletes))
    start = {row.key: row.start for row in found.timetable}
    end = {row.key: row.end for row in found.timetable}
    assert start[athletes[0].id] >= 9 * 60 + 40
    assert end[field.minor.id] <= 9 * 60 + 30
    assert found.order[-1] != field.minor.id
    assert found.broken == ()


def test_the_time_of_day_of_the_last_visit_is_kept_within_two_hours(field):
    athletes = a_squad(field, [20.0, 21.0, 22.0, 23.0])
    for athlete in athletes:
        a_set(field, athlete, "09:30" if athlete is not athletes[0] else "11:30", EARLIER)
    found = order(field, a_batch(field, athletes), at="08:50")
    start = {row.key: row.start for row in found.timetable}
    assert start[athletes[0].id] >= 9 * 60 + 30
    assert found.broken == ()


def test_the_same_athlete_twice_is_refused(field):
    athletes = a_squad(field, [40.0])
    with pytest.raises(InputError, match="twice"):
        order(field, a_batch(field, athletes * 2))


def test_only_who_is_in_the_batch_can_be_absent(field):
    batch = a_batch(field, a_squad(field, [40.0]))
    with pytest.raises(InputError, match="not in the batch"):
        no_show(field.store, batch, field.adult.id, by="t")


def test_planned_minutes_are_those_of_the_trade():
    """Common practice: trunk at two speeds 10 to 12 minutes, knee both sides at two speeds 20 to 25."""
    assert 10.0 <= planned_minutes(PROTOCOL, ("both",)) <= 12.0
    assert 20.0 <= planned_minutes(KNEE, ("right", "left")) <= 25.0


def test_minutes_are_learned_from_the_teams_own_turns_once_there_are_enough(field):
    athletes = a_squad(field, [30.0] * LEAST_SPANS)
    for athlete in athletes[:-1]:
        a_set(field, athlete, "10:15", EARLIER)
    planned = planned_minutes(PROTOCOL, ("both",))
    assert turn_minutes(field.workspace, PROTOCOL, ("both",)) == (planned, 0)
    a_set(field, athletes[-1], "10:15", EARLIER)
    assert turn_minutes(field.workspace, PROTOCOL, ("both",)) == (15.0, LEAST_SPANS)


def test_the_minutes_of_a_step_are_learned_too(field):
    assert scale_costs(field.workspace, PLAN).scale_change == 0.3
    scales = [step.key for step in PLAN.readings][:11]
    for number in range(3):
        athlete = add_athlete(field.workspace, f"T{number}", by="t").record
        for minute, key in enumerate(scales):
            setups.save_step(
                field.workspace,
                field.store,
                field.visit,
                athlete_id=athlete.id,
                plan=PLAN,
                side="both",
                taken=StepTaken(key=key, reading=PLAN.step(key).high),
                by="t",
                at=field.clock(f"09:{minute:02}"),
            )
    assert scale_costs(field.workspace, PLAN).scale_change == 1.0
