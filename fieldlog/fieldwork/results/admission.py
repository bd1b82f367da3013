"""A set recorded without clearance: on no page until a named, qualified person decides that it counts."""

from __future__ import annotations

import datetime as dt

from pydantic import ValidationError

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.clearance.clearances import clearance_today
from fieldlog.records.base import first_fault
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.review import Review, admission_id
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store

__all__ = ["admit_set"]


def admit_set(
    store: Store, visit: Visit, kept: Kept[EffortSet], *, decided_by: str, why: str, at: dt.datetime, by: str
) -> tuple[Kept[EffortSet], Kept[Review]]:
    """Let a set that was recorded without clearance count, by the decision of a named person; both are undone alike.

    The decision is about the figures and lets nobody start: a hold has to be decided on first. Raises
    RefusedError where the set needs no decision or the athlete is still held, InputError without a name or a
    reason.
    """
    record = kept.record
    if not record.without_clearance:
        raise RefusedError(f"set {record.number} needs no decision", "it was recorded with a clearance")
    clearance = clearance_today(store, visit, record.athlete_id)
    if clearance is not None and clearance.outcome == "held":
        raise RefusedError(
            "the athlete is still held", "first the clearance is decided on, then what was recorded"
        )
    try:
        review = Review(
            id=admission_id(record.id),
            subject_table="sets",
            subject_id=record.id,
            decision="released",
            at=at,
            by=decided_by,
            remark=why,
        )
    except ValidationError as error:
        raise InputError(first_fault(error), "a decision needs a name and a reason") from None
    reviews = at_site(store, Review)
    present = reviews.get(review.id)
    saved = reviews.save(review, by=by, why=review.remark, seen=present.revision if present else None)
    changed = record.model_copy(update={"without_clearance": False})
    said = f"counts by decision of {review.by}: {review.remark}"
    return at_site(store, EffortSet).save(changed, by=by, why=said, seen=kept.revision), saved
