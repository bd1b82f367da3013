"""The athlete today as a list of points: what is asked, how it is typed, and what stood there last time."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from pydantic import ValidationError

from fieldlog.errors import InputError
from fieldlog.fieldwork.athletes.athlete_days import note_injured_side, save_day
from fieldlog.fieldwork.athletes.person_entries import persons_entries, put_entry
from fieldlog.fieldwork.books import everywhere
from fieldlog.fieldwork.visit.arrival_entry import read_clock_time
from fieldlog.records.athlete_day import AthleteDay
from fieldlog.records.base import first_fault
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["DAY_ITEMS", "DayItem", "injured_side", "last_day", "note_typed", "note_yes_no", "value_words"]

INJURED = "injured_side"


@dataclass(frozen=True)
class DayItem:
    """One point. ``comes_back``: what stood there last time may be accepted as it is."""

    field: str
    label: str
    text: str
    kind: Literal["yes_no", "text", "side", "time"]
    comes_back: bool = False


DAY_ITEMS: tuple[DayItem, ...] = (
    DayItem(
        "footwear",
        "footwear",
        "Shoes change heights and grip: the same as last time.",
        "text",
        comes_back=True,
    ),
    DayItem("warm_up_done", "warmed up", "Warm-up done as the protocol says, before strapping in.", "yes_no"),
    DayItem("dominant_side", "dominant side", "left, right or both.", "side", comes_back=True),
    DayItem(
        INJURED,
        "injured side",
        "left or right; nothing for none. Kept in the persons files only; the other side then goes first.",
        "side",
    ),
    DayItem(
        "cheering",
        "cheering",
        "Is the athlete cheered on? The same at every visit.",
        "yes_no",
        comes_back=True,
    ),
    DayItem(
        "curve_visible",
        "sees the curve",
        "Does the athlete see the curve? The same always.",
        "yes_no",
        comes_back=True,
    ),
    DayItem("not_last", "not last", "Keep this turn from being the last; no reason is asked.", "yes_no"),
    DayItem("available_from", "here from", "Time from which the athlete can come, such as 9:30.", "time"),
    DayItem("available_until", "here until", "Time by which the athlete must leave.", "time"),
    DayItem("chaperone_from", "chaperone from", "Time from which the chaperone is here.", "time"),
    DayItem("chaperone_until", "chaperone until", "Time by which the chaperone must leave.", "time"),
)


def last_day(workspace: Workspace, athlete_id: str, *, before: dt.date) -> AthleteDay | None:
    """What was noted of an athlete at the latest earlier visit, over all sites."""
    earlier = [
        kept.record
        for _, kept in everywhere(workspace, AthleteDay, athlete_id=athlete_id)
        if kept.record.at.date() < before
    ]
    return max(earlier, key=lambda day: day.at, default=None)


def injured_side(workspace: Workspace, visit: Visit, athlete_id: str) -> str:
    """The injured side as noted at this visit in the persons files, or nothing."""
    entries = persons_entries(workspace, athlete_id, INJURED)
    sides = [str(entry.get("side") or "") for entry in entries if entry.get("visit_id") == visit.id]
    return sides[-1] if sides else ""


def value_words(day: AthleteDay | None, item: DayItem) -> str:
    """Return what stands at a point in words, nothing where it is open."""
    value = getattr(day, item.field, None) if day else None
    if value is None or value == "" or (item.field == "not_last" and value is False):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:%H:%M}" if isinstance(value, dt.datetime) else str(value)


def note_yes_no(
    store: Store, visit: Visit, athlete_id: str, item: DayItem, *, answer: bool, by: str, at: dt.datetime
) -> Kept[AthleteDay]:
    """Keep a yes or no. Raises InputError where the point takes none."""
    if item.kind != "yes_no":
        raise InputError(f"{item.label}: takes no yes or no", "enter asks for it")
    return save_day(store, visit, athlete_id, {item.field: answer}, by=by, at=at)


def note_typed(
    workspace: Workspace,
    store: Store,
    visit: Visit,
    athlete_id: str,
    *,
    item: DayItem,
    text: str,
    by: str,
    at: dt.datetime,
) -> Kept[AthleteDay]:
    """Keep what was typed at a point; nothing typed takes it back. The injured side goes to the persons files.

    Raises InputError where it is no side or no time, or where a window would end before it begins.
    """
    typed = text.strip()
    value: object = typed
    if item.kind == "side":
        value = _side(typed, item)
    elif item.kind == "time":
        value = read_clock_time(typed, at, visit.date).isoformat() if typed else None
    elif item.kind == "yes_no":
        raise InputError(f"{item.label}: answer yes or no", "y is yes, - is no")
    if item.field == INJURED:
        if value in ("left", "right"):
            return note_injured_side(
                workspace,
                store,
                visit,
                athlete_id=athlete_id,
                injured="left" if value == "left" else "right",
                by=by,
                at=at,
            )
        put_entry(workspace, INJURED, athlete_id, by=by, at=at, visit_id=visit.id, side=None)
        return save_day(store, visit, athlete_id, {"first_side": None}, by=by, at=at)
    try:
        return save_day(store, visit, athlete_id, {item.field: value}, by=by, at=at)
    except ValidationError as error:
        raise InputError(f"{item.label}: {first_fault(error)}", "type it again") from None


def _side(typed: str, item: DayItem) -> str | None:
    if not typed:
        return None
    sides = ("left", "right") if item.field == INJURED else ("left", "right", "both")
    found = [side for side in sides if side.startswith(typed.casefold())]
    if item.field == INJURED and typed.casefold() in ("none", "no", "-"):
        return None
    if len(found) != 1:
        raise InputError(f"{item.label}: {typed[:20]!r} is no side", f"type {', '.join(sides)}, or nothing")
    return found[0]
