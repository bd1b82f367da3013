"""Visits: opening the day, and saying what is done and what holds up the next stage."""

from __future__ import annotations

import datetime as dt
from collections.abc import Container, Sequence
from dataclasses import dataclass
from typing import Literal

from fieldlog.count_words import counted
from fieldlog.errors import NotFoundError
from fieldlog.fieldwork.books import at_site, site_of
from fieldlog.records.batch import Batch
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.issued_sheet import IssuedSheet
from fieldlog.records.rig_check import GOOD_VERDICTS, RigCheck
from fieldlog.records.visit import Arrival, Visit, visit_id
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store

__all__ = ["STAGES", "StageState", "day_stages", "ensure_visit", "find_visit", "save_arrival", "visits_of"]

STAGES = ("arrive", "opening check", "test", "closing check", "hand over")


@dataclass(frozen=True)
class StageState:
    """One stage of the day: done or not, what there is to say, and what it waits for."""

    name: str
    done: bool
    text: str
    waits_for: str = ""


def visits_of(store: Store) -> list[Kept[Visit]]:
    """The visits of a site, latest first."""
    return sorted(at_site(store, Visit).all(), key=lambda kept: kept.record.date, reverse=True)


def ensure_visit(store: Store, date: dt.date, by: str) -> Kept[Visit]:
    """The visit of ``date``, made with nothing but site and date where there is none yet."""
    site = site_of(store)
    repo = at_site(store, Visit)
    key = visit_id(site.id, date)
    return repo.get(key) or repo.save(Visit(id=key, site_id=site.id, date=date), by=by)


def find_visit(store: Store, date: dt.date | None = None) -> Kept[Visit]:
    """The visit of ``date``; without a date the latest that has results.

    Raises NotFoundError naming the visits there are.
    """
    visits = visits_of(store)
    if date is None:
        with_results = {kept.record.visit_id for kept in at_site(store, EffortSet).all()}
        for kept in visits:
            if kept.record.id in with_results:
                return kept
        raise NotFoundError(f"{site_of(store).name}: no visit with results", "name a day with --visit")
    for kept in visits:
        if kept.record.date == date:
            return kept
    known = ", ".join(kept.record.date.isoformat() for kept in visits[:5]) or "none yet"
    raise NotFoundError(f"{site_of(store).name}: no visit on {date.isoformat()}", f"visits: {known}")


def save_arrival(store: Store, visit: Kept[Visit], arrival: Arrival, by: str) -> Kept[Visit]:
    """Keep what was seen to on arrival."""
    changed = visit.record.model_copy(update={"arrival": arrival})
    return at_site(store, Visit).save(changed, by=by, seen=visit.revision)


def day_stages(store: Store, visit: Visit, stale: Container[str] = ()) -> tuple[StageState, ...]:
    """The five stages of a visit in order.

    ``stale`` are the numbers of sheets that no longer hold: handing over is done while a coach's sheet does.
    """
    checks = [kept.record for kept in at_site(store, RigCheck).find(visit_id=visit.id)]
    checks = [check for check in checks if visit.rig_id in (None, check.rig_id)]
    batches = [kept.record for kept in at_site(store, Batch).find(visit_id=visit.id)]
    sets = [kept.record for kept in at_site(store, EffortSet).find(visit_id=visit.id)]
    sheets = [kept.record for kept in at_site(store, IssuedSheet).find(visit_id=visit.id)]
    opening = _latest(checks, ("opening", "interim"))
    closing = _latest(checks, ("closing",))
    entries = [entry for batch in batches for entry in batch.entries]
    waiting = [entry for entry in entries if entry.status == "waiting"]
    tested = {kept.athlete_id for kept in sets}
    opened = opening is not None and opening.verdict in GOOD_VERDICTS
    return (
        _arrive(visit.arrival),
        StageState("opening check", opened, _check_text(opening), "" if visit.arrival else "arrive"),
        StageState(
            "test",
            bool(sets) and not waiting,
            f"{len(tested)} of {max(len(entries), len(tested))} athletes"
            if entries or sets
            else "nobody yet",
            "" if opened else "a passed opening check",
        ),
        StageState(
            "closing check",
            closing is not None and closing.verdict in GOOD_VERDICTS,
            _check_text(closing),
            "" if sets else "results",
        ),
        StageState(
            "hand over",
            any(sheet.kind == "coach" and sheet.number not in stale for sheet in sheets),
            _sheets_text(sheets, stale),
            "" if closing else "the closing check",
        ),
    )


def _sheets_text(sheets: Sequence[IssuedSheet], stale: Container[str]) -> str:
    numbers = {sheet.number for sheet in sheets}
    if not numbers:
        return "no sheet yet"
    made = f"{counted(len(numbers), 'sheet')} made"
    old = sum(number in stale for number in numbers)
    return f"{made}, {old} to make again" if old else made


def _arrive(arrival: Arrival | None) -> StageState:
    if arrival is None:
        return StageState("arrive", False, "nothing confirmed yet")
    seen = [value for name, value in arrival if isinstance(value, bool)]
    open_points = len([name for name, value in arrival if value is None and name in _CONFIRMED])
    text = "all confirmed" if not open_points else f"{open_points} points open"
    return StageState("arrive", bool(seen) and all(seen) and not open_points, text)


_CONFIRMED = frozenset(
    name for name, field in Arrival.model_fields.items() if field.annotation == bool | None
)


def _latest(
    checks: list[RigCheck], stages: tuple[Literal["opening", "closing", "interim"], ...]
) -> RigCheck | None:
    fitting = [check for check in checks if check.stage in stages]
    return max(fitting, key=lambda check: check.at, default=None)


def _check_text(check: RigCheck | None) -> str:
    return "not done" if check is None else f"{check.verdict} at {check.at:%H:%M}"
