"""The stop log: that a test was stopped, what follows, and who lets the athlete start again.

What hurt and how much goes to the persons files; the record says that it stopped and whether that holds.
"""

from __future__ import annotations

import datetime as dt
import itertools

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.athletes.person_entries import pain_today, put_entry
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.clearance.clearance_rules import StopAdvice, StopReason, stop_advice
from fieldlog.records.base import derived_id
from fieldlog.records.stop_entry import StopEntry
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["log_stop", "release_stop", "stops_today"]


def log_stop(
    workspace: Workspace,
    store: Store,
    visit: Visit,
    *,
    athlete_id: str,
    reason: StopReason,
    by: str,
    at: dt.datetime,
    pain: float | None = None,
    note: str = "",
) -> tuple[Kept[StopEntry], StopAdvice]:
    """Keep that the test of an athlete was stopped, and return what follows.

    The stop is on disk before the answers about it: it must hold even where the persons file fails.
    Raises InputError where the pain is not 0 to 10, or missing for the reason pain.
    """
    before, _ = pain_today(workspace, visit, athlete_id)
    advice = stop_advice(reason, pain=pain, pain_before=before)
    entry = StopEntry(
        id=_next_id(store, visit.id, athlete_id),
        visit_id=visit.id,
        athlete_id=athlete_id,
        at=at,
        by=by,
        kind=reason if reason in ("strap slip", "rig noise", "other") else "athlete",
        no_restart=advice.no_restart,
    )
    kept = at_site(store, StopEntry).save(entry, by=by)
    put_entry(
        workspace,
        "stop",
        athlete_id,
        by=by,
        at=at,
        visit_id=visit.id,
        stop_id=entry.id,
        reason=reason,
        pain=pain,
        note=note,
    )
    return kept, advice


def release_stop(
    store: Store, stop: StopEntry, *, released_by: str, released_role: str, by: str, at: dt.datetime
) -> Kept[StopEntry]:
    """Keep that a named, qualified person lets the athlete start again today.

    Raises RefusedError where name or qualification is missing, InputError where it is dated before the stop.
    """
    name, role = released_by.strip(), released_role.strip()
    if not name or not role:
        raise RefusedError(
            "after this stop the athlete starts again only when a named, qualified person says so",
            "give the name and the qualification of who decided",
        )
    if at < stop.at:
        raise InputError("the decision is dated before the stop it is about", "check the time")
    released = StopEntry.model_validate(
        stop.to_body() | {"released_by": name, "released_role": role, "released_at": at.isoformat()}
    )
    seen = store.shown(StopEntry.table, stop.id)
    return at_site(store, StopEntry).save(released, by=by, why=f"decided by {name}", seen=seen)


def stops_today(store: Store, visit: Visit, athlete_id: str) -> list[StopEntry]:
    """Return the stops of an athlete at a visit by time.

    A stop that was undone, or that another laptop logged apart, still stands here: taking a stop back is a
    decision with a name, not a keystroke.
    """
    stops: dict[tuple[int, dt.datetime], StopEntry] = {}
    for number in itertools.count(1):
        history = store.history(StopEntry.table, _stop_id(visit.id, athlete_id, number))
        if not history:
            break
        for revision in history:
            if revision.body is not None:
                entry = StopEntry.from_body(revision.body)
                if (number, entry.at) not in stops or entry.released_by:
                    stops[number, entry.at] = entry
    return sorted(stops.values(), key=lambda entry: entry.at)


def _next_id(store: Store, visit_id: str, athlete_id: str) -> str:
    for number in itertools.count(1):
        identity = _stop_id(visit_id, athlete_id, number)
        if not store.history(StopEntry.table, identity):
            break
    return identity


def _stop_id(visit_id: str, athlete_id: str, number: int) -> str:
    # Counted, so that every stop of an athlete is found by its id even when its record was deleted.
    return derived_id("stop", visit_id, athlete_id, str(number))
