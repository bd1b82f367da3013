"""One athlete's turn at the rig: its sets in order, the rest, and whether one more repetition is worth it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fieldlog.fieldwork.athletes.person_entries import pain_today
from fieldlog.fieldwork.batch.run_of_sets import RestClock, RunRow, run_of_sets
from fieldlog.fieldwork.batch.side_order import side_order
from fieldlog.fieldwork.books import everywhere
from fieldlog.fieldwork.clearance.clearance_rules import one_more_allowed
from fieldlog.fieldwork.clearance.clearances import clearance_today
from fieldlog.fieldwork.clearance.stops import stops_today
from fieldlog.fieldwork.results.direction_ratio import direction_ratio_pct
from fieldlog.fieldwork.results.holds import direction_figures
from fieldlog.fieldwork.results.sets import sets_of
from fieldlog.records.athlete import Athlete
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Direction, Mode, PlannedSet, Protocol, Side
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = [
    "Effort",
    "effort_of",
    "is_through",
    "last_sets",
    "next_counted",
    "one_more",
    "ratio_pct",
    "rest_of",
    "row_key",
    "turn_rows",
]

Effort = tuple[Side, float, Mode]
"""Side, speed in degrees a second, and mode: what two sets must share to be set beside each other."""


def turn_rows(
    workspace: Workspace, store: Store, visit: Visit, athlete_id: str, protocol: Protocol
) -> tuple[RunRow, ...]:
    """The sets of an athlete's turn in the order they are done, sides as at the last visit."""
    sides = side_order(workspace, store, visit, athlete_id, protocol)
    sets = [kept.record for kept in sets_of(store, visit.id, athlete_id)]
    return run_of_sets(protocol, sides, [record for record in sets if record.protocol_id == protocol.id])


def row_key(row: RunRow) -> str:
    """A name for a row that stays the same."""
    return f"{row.place[0]}.{row.place[1]}"


def is_through(rows: Sequence[RunRow]) -> bool:
    """Whether every set that counts is done."""
    return next_counted(rows) is None


def next_counted(rows: Sequence[RunRow]) -> RunRow | None:
    """The first set that counts and is not done yet."""
    return next((row for row in rows if row.recorded is None and row.planned.purpose == "counted"), None)


def last_sets(
    workspace: Workspace, visit: Visit, athlete_id: str, protocol_id: str
) -> dict[Effort, tuple[Store, EffortSet]]:
    """The athlete's latest counted set before this visit for each side, speed and mode, over all sites."""
    latest: dict[Effort, tuple[Store, EffortSet]] = {}
    for store, kept in everywhere(workspace, EffortSet, athlete_id=athlete_id, protocol_id=protocol_id):
        record = kept.record
        if record.standing != "counted" or record.without_clearance or record.at.date() >= visit.date:
            continue
        effort = (record.side, record.speed_deg_s, record.mode)
        if effort not in latest or latest[effort][1].at < record.at:
            latest[effort] = (store, record)
    return latest


def effort_of(row: RunRow) -> Effort:
    """Side, speed and mode of a planned set."""
    return (row.place[0], row.planned.speed_deg_s, row.planned.mode)


def rest_of(rows: Sequence[RunRow]) -> RestClock | None:
    """The rest after the last set that was done; ``None`` before the first and once the turn is through."""
    done = [row for row in rows if row.recorded is not None]
    if not done or is_through(rows):
        return None
    last = max(done, key=lambda row: row.recorded.at if row.recorded else 0)
    assert last.recorded is not None
    return RestClock(since=last.recorded.at, rest_s=last.planned.rest_s)


def ratio_pct(measures: Mapping[str, Any], protocol: Protocol) -> float | None:
    """The protocol's ratio of best peak torques in percent, ``None`` where there is none to be had."""
    down_to_up = measures["set"]["down_up_peak_ratio_pct"]
    return direction_ratio_pct(protocol, {"down": down_to_up, "up": 100.0})


def one_more(workspace: Workspace, store: Store, visit: Visit, athlete: Athlete, row: RunRow) -> str:
    """Return what to say of one more repetition where the peaks still climbed, else an empty text."""
    if row.recorded is None:
        return ""
    measures = row.recorded.measures
    if not any(entry["code"] == "still_climbing" for entry in measures["quality"]):
        return ""
    before, now = pain_today(workspace, visit, athlete.id)
    answer = one_more_allowed(
        row.planned,
        extra_done=_extra_done(row.recorded, row.planned),
        pain_now=now,
        pain_before=before,
        stop_logged=bool(stops_today(store, visit, athlete.id)),
        minor=athlete.minor,
        clearance=clearance_today(store, visit, athlete.id),
    )
    return (
        f"still climbing; {answer.reason}" if answer.allowed else f"still climbing, no more: {answer.reason}"
    )


def _extra_done(record: EffortSet, planned: PlannedSet) -> int:
    both: tuple[Direction, ...] = ("up", "down")
    figures = (direction_figures(record, direction, both) for direction in both)
    done = max((each or {}).get("movements", 0) for each in figures)
    return max(int(done) - planned.repetitions, 0)
