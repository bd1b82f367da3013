"""What is noted of an athlete on the day, which can change a result without being strength."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Literal

from fieldlog.fieldwork.athletes.person_entries import put_entry
from fieldlog.fieldwork.books import at_site
from fieldlog.records.athlete_day import AthleteDay, athlete_day_id
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["day_of", "note_injured_side", "save_day"]


def day_of(store: Store, visit: Visit, athlete_id: str) -> Kept[AthleteDay] | None:
    """Return what is noted of an athlete at this visit."""
    return at_site(store, AthleteDay).get(athlete_day_id(visit.id, athlete_id))


def save_day(
    store: Store, visit: Visit, athlete_id: str, noted: Mapping[str, object], *, by: str, at: dt.datetime
) -> Kept[AthleteDay]:
    """Keep what was noted, field by field; fields not named stay as they were."""
    before = day_of(store, visit, athlete_id)
    body = before.record.to_body() if before else {"id": athlete_day_id(visit.id, athlete_id)}
    body |= {"visit_id": visit.id, "athlete_id": athlete_id, "at": at.isoformat(), "by": by, **noted}
    day = AthleteDay.from_body(body)
    return at_site(store, AthleteDay).save(day, by=by, seen=before.revision if before else None)


def note_injured_side(
    workspace: Workspace,
    store: Store,
    visit: Visit,
    *,
    athlete_id: str,
    injured: Literal["left", "right"],
    by: str,
    at: dt.datetime,
) -> Kept[AthleteDay]:
    """Keep the injured side in the persons files, and put the other side first (common practice).

    The record says only which side goes first.
    """
    put_entry(workspace, "injured_side", athlete_id, by=by, at=at, visit_id=visit.id, side=injured)
    first = "left" if injured == "right" else "right"
    return save_day(store, visit, athlete_id, {"first_side": first}, by=by, at=at)
