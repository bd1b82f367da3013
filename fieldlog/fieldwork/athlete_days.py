"""What is noted of an athlete on the day, which can change a result without being strength."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from fieldlog.fieldwork.books import at_site
from fieldlog.records.athlete_day import AthleteDay, athlete_day_id
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store

__all__ = ["day_of", "save_day"]


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
