"""From a batch to the order of its turns: what each athlete needs, how long it takes, when they can come."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from fieldlog.errors import InputError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.athlete_days import day_of
from fieldlog.fieldwork.batch.batch_durations import scale_costs, turn_minutes
from fieldlog.fieldwork.batch.batch_order import FROZEN, BatchOrder, RigState, Turn, order_batch
from fieldlog.fieldwork.books import at_site, everywhere, of_team
from fieldlog.fieldwork.setup import setups
from fieldlog.fieldwork.setup.dial_in import reading_of
from fieldlog.records.athlete import Athlete
from fieldlog.records.athlete_day import AthleteDay
from fieldlog.records.batch import Batch, BatchEntry
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Protocol, Side
from fieldlog.records.setup import Setup
from fieldlog.records.setup_plan import SetupPlan
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = [
    "keep_order",
    "no_show",
    "order_today",
]

LEAST_GAIN_MINUTES_A_TURN = 0.05


@dataclass(frozen=True)
class _Day:
    """The day as minutes from its midnight, in the clock the tester reads."""

    date: dt.date
    zone: dt.tzinfo | None

    def minutes(self, instant: dt.datetime) -> float:
        local = instant.astimezone(self.zone)
        return (
            (local.date() - self.date).days * 1440.0 + local.hour * 60.0 + local.minute + local.second / 60.0
        )


def order_today(
    workspace: Workspace,
    store: Store,
    visit: Visit,
    batch: Batch,
    *,
    now: dt.datetime,
    frozen: int = FROZEN,
    rig_id: str | None = None,
) -> BatchOrder:
    """Return the best order of the athletes still waiting, from ``now`` on; keys are athlete ids.

    The next ``frozen`` of the list stay where they are (0 before the day has begun); absent ones go to the
    tail. An order that gains less than three seconds a turn, and keeps no constraint more, is not offered. Times in the timetable are minutes from midnight of the visit's day, in the offset of ``now``.
    Raises InputError where an athlete is in the batch twice.
    """
    protocol = catalogue.protocol(workspace, batch.protocol_id)
    plan = catalogue.plan(workspace, protocol.plan_id)
    day = _Day(visit.date, now.tzinfo)
    open_entries = [entry for entry in batch.entries if entry.status != "done"]
    waiting = [entry.athlete_id for entry in open_entries if entry.status == "waiting"]
    usual = _usual_starts(workspace, visit, protocol)
    minutes: dict[int, float] = {}
    turns = []
    for entry in open_entries:
        count = len(entry.sides)
        if count not in minutes:
            minutes[count] = turn_minutes(workspace, protocol, entry.sides)[0]
        turns.append(
            _turn(workspace, store, visit, entry, plan=plan, day=day, minutes=minutes[count], usual=usual)
        )
    standing = setups.standing_on_rig(store, visit, rig_id)
    plan_order = partial(
        order_batch,
        turns,
        start=day.minutes(now),
        rig=_rig_state(standing, plan, workspace),
        costs=scale_costs(workspace, plan),
        absent=tuple(entry.athlete_id for entry in open_entries if entry.status == "absent"),
    )
    try:
        best = plan_order(frozen=tuple(waiting[:frozen]))
        gain_minutes = best.list_end - best.end
        if gain_minutes < LEAST_GAIN_MINUTES_A_TURN * len(waiting) and len(best.broken) >= best.list_broken:
            # Nobody is told to come at another time for a gain that a day does not show.
            best = replace(plan_order(frozen=tuple(waiting)), proven_best=best.proven_best)
    except ValueError as error:
        raise InputError(f"batch: {error}", "look at the list of the batch") from None
    return best


def keep_order(
    store: Store, batch: Kept[Batch], order: Iterable[str], *, by: str, why: str = ""
) -> Kept[Batch]:
    """Keep a new order of the batch; those who are done stay in front.

    Raises InputError where ``order`` does not name everyone who is not done exactly once.
    """
    wanted = tuple(order)
    done = [entry for entry in batch.record.entries if entry.status == "done"]
    rest = {entry.athlete_id: entry for entry in batch.record.entries if entry.status != "done"}
    if sorted(wanted) != sorted(rest):
        raise InputError("the order does not name everyone who is still to come once", "order the batch anew")
    return _save(store, batch, [*done, *(rest[athlete_id] for athlete_id in wanted)], by=by, why=why)


def no_show(store: Store, batch: Kept[Batch], athlete_id: str, *, by: str) -> Kept[Batch]:
    """Mark an athlete absent and move the turn to the tail of the list.

    Raises InputError where the athlete is not in the batch.
    """
    absent = [
        entry.model_copy(update={"status": "absent"})
        for entry in batch.record.entries
        if entry.athlete_id == athlete_id
    ]
    if not absent:
        raise InputError("this athlete is not in the batch", "add the athlete first")
    others = [entry for entry in batch.record.entries if entry.athlete_id != athlete_id]
    return _save(store, batch, [*others, *absent], by=by, why="did not show up")


def _save(
    store: Store, batch: Kept[Batch], entries: Sequence[BatchEntry], *, by: str, why: str
) -> Kept[Batch]:
    changed = batch.record.model_copy(update={"entries": tuple(entries)})
    return at_site(store, Batch).save(changed, by=by, why=why, seen=batch.revision)


def _turn(
    workspace: Workspace,
    store: Store,
    visit: Visit,
    entry: BatchEntry,
    *,
    plan: SetupPlan,
    day: _Day,
    minutes: float,
    usual: dict[str, dt.datetime],
) -> Turn:
    athlete = of_team(workspace, Athlete).get(entry.athlete_id)
    noted = day_of(store, visit, entry.athlete_id)
    opens, closes = _window(noted.record if noted else None, day)
    at = usual.get(entry.athlete_id)
    first, last = (entry.sides[0], entry.sides[-1]) if entry.sides else ("both", "both")
    readings = _readings(workspace, visit, entry.athlete_id, plan, first)
    return Turn(
        key=entry.athlete_id,
        minutes=minutes,
        unit=plan.id,
        first_side=first,
        last_side=last,
        readings=readings,
        last_readings=readings
        if first == last
        else _readings(workspace, visit, entry.athlete_id, plan, last),
        earliest_start=opens,
        latest_end=closes,
        usual_start=None if at is None else at.hour * 60.0 + at.minute,
        not_last=bool((athlete and athlete.record.minor) or (noted and noted.record.not_last)),
    )


def _readings(
    workspace: Workspace, visit: Visit, athlete_id: str, plan: SetupPlan, side: Side
) -> dict[str, float]:
    last = setups.last_setup(workspace, athlete_id, plan.id, side, before=visit.date)
    return _comparable(last.record if last else None, plan, workspace)


def _rig_state(standing: Setup | None, plan: SetupPlan, workspace: Workspace) -> RigState:
    if standing is None:
        return RigState()
    return RigState(
        unit=standing.plan_id, side=standing.side, readings=_comparable(standing, plan, workspace)
    )


def _comparable(setup: Setup | None, plan: SetupPlan, workspace: Workspace) -> dict[str, float]:
    found = {}
    setup_plan = setups.plan_of(workspace, setup)
    for step in plan.readings:
        reading, _ = reading_of(step, setup, plan, setup_plan)
        if step.dialled and reading is not None:
            found[step.key] = reading
    return found


def _window(noted: AthleteDay | None, day: _Day) -> tuple[float | None, float | None]:
    if noted is None:
        return None, None
    opens = [day.minutes(each) for each in (noted.available_from, noted.chaperone_from) if each is not None]
    closes = [
        day.minutes(each) for each in (noted.available_until, noted.chaperone_until) if each is not None
    ]
    return max(opens, default=None), min(closes, default=None)


def _usual_starts(workspace: Workspace, visit: Visit, protocol: Protocol) -> dict[str, dt.datetime]:
    """First set of each athlete's latest earlier visit under this protocol, in the clock of that place."""
    first: dict[str, dt.datetime] = {}
    for _, kept in everywhere(workspace, EffortSet, protocol_id=protocol.id):
        record = kept.record
        if record.at.date() >= visit.date:
            continue
        known = first.get(record.athlete_id)
        if (
            known is None
            or record.at.date() > known.date()
            or (record.at.date() == known.date() and record.at < known)
        ):
            first[record.athlete_id] = record.at
    return first
