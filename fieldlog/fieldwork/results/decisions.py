"""What the lead decides: a check is signed off, a result under a failed check released, corrected or held back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from pydantic import ValidationError

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.books import at_site, everywhere
from fieldlog.fieldwork.results.impact import proportional_change
from fieldlog.fieldwork.results.touched import TouchedResult, TouchedResults
from fieldlog.records.base import first_fault, folded_name
from fieldlog.records.review import ResultDecision, Review, RigChange, review_id, sign_off_id
from fieldlog.records.rig_check import RigCheck
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["CHOICE_WORDS", "decide", "sign_off", "sign_offs", "signed_off_until", "store_of_check"]

CHOICE_WORDS: dict[str, ResultDecision] = {
    "release": "released",
    "correct": "corrected",
    "withhold": "withheld",
    "retest": "retest",
}
"""What can be chosen for a touched result, and the decision it becomes."""


def decide(
    found: TouchedResults,
    touched: Sequence[TouchedResult],
    choice: str,
    *,
    by: str,
    at: dt.datetime,
    why: str,
) -> list[tuple[Store, Kept[Review]]]:
    """Keep a decision on results that a failed check touches; another decision later replaces it.

    ``release`` is for a small impact only and widens the rig's uncertainty. ``correct`` needs a cause in
    ``why`` and a change that is one percentage at every load; torques are then multiplied by 1/(1 + share).
    ``withhold`` gives no figures, ``retest`` asks for the test again. All are kept, or none is.
    Raises RefusedError where the choice is not open for one of them, InputError without a name or a reason.
    """
    reviews = [(each.store, _review(found, each, choice, by=by, at=at, why=why)) for each in touched]
    kept = []
    for store, review in reviews:
        repo = at_site(store, Review)
        present = repo.get(review.id)
        saved = repo.save(review, by=by, why=review.remark, seen=present.revision if present else None)
        kept.append((store, saved))
    return kept


def sign_off(workspace: Workspace, check: RigCheck, *, by: str, at: dt.datetime, remark: str) -> Kept[Review]:
    """Keep that ``by`` has looked at a check and stands by its verdict.

    Raises RefusedError where ``by`` took the check, InputError without a name or a remark.
    """
    if folded_name(by) in (folded_name(check.by), folded_name(check.entry.by)):
        raise RefusedError(
            f"{by.strip()} took this check and cannot sign it off", "somebody else looks at it and signs"
        )
    try:
        review = Review(
            id=sign_off_id(check.id, by),
            subject_table="rig_checks",
            subject_id=check.id,
            decision="signed_off",
            at=at,
            by=by,
            remark=remark,
        )
    except ValidationError as error:
        raise InputError(first_fault(error), "a sign-off needs a name and a remark") from None
    repo = at_site(store_of_check(workspace, check), Review)
    present = repo.get(review.id)
    return repo.save(review, by=by, why=review.remark, seen=present.revision if present else None)


def sign_offs(workspace: Workspace) -> dict[str, list[Review]]:
    """Who signed which check off, by the check's id, in order of time."""
    found: dict[str, list[Review]] = {}
    for _, kept in everywhere(workspace, Review, subject_table="rig_checks"):
        found.setdefault(kept.record.subject_id, []).append(kept.record)
    return {check: sorted(reviews, key=lambda review: review.at) for check, reviews in found.items()}


def signed_off_until(checks: Iterable[RigCheck], signed: dict[str, list[Review]]) -> dt.datetime | None:
    """The time of the last check up to which every check of the rig is signed off; None where the first is not."""
    until = None
    for check in sorted(checks, key=lambda check: (check.at, check.id)):
        if check.id not in signed:
            break
        until = check.at
    return until


def store_of_check(workspace: Workspace, check: RigCheck) -> Store:
    """The site's store a check is kept in. Raises InputError where the check is not kept."""
    for store in workspace.sites.values():
        if store.document(RigCheck.table, check.id):
            return store
    raise InputError(f"the check of {check.at:%Y-%m-%d %H:%M} is in no store", "save the check first")


def _review(
    found: TouchedResults, touched: TouchedResult, choice: str, *, by: str, at: dt.datetime, why: str
) -> Review:
    decision = CHOICE_WORDS.get(choice)
    if decision is None:
        raise InputError(f"{choice[:20]!r} is no choice", f"choose one of {', '.join(CHOICE_WORDS)}")
    if choice not in touched.impact.choices:
        raise RefusedError(
            f"{touched.code}, {touched.direction_name}: {choice} is not open ({touched.impact.text})",
            f"open: {', '.join(touched.impact.choices)}",
        )
    result, change = touched.result, touched.impact.change
    factor = 1.0 / (1.0 + _gain(found, touched)) if choice == "correct" else 1.0
    try:
        return Review(
            id=review_id(result.record.id, result.direction, touched.closing.id),
            subject_table="sets",
            subject_id=result.record.id,
            decision=decision,
            at=at,
            by=by,
            remark=why,
            change=RigChange(
                direction=result.direction,
                closing_id=touched.closing.id,
                opening_id=touched.opening.id if touched.opening else None,
                torque_nm=change.torque_nm if change else None,
                change_nm=change.change_nm if change else None,
                u_expanded_nm=change.u_expanded_nm if change else None,
                factor=factor,
            ),
        )
    except ValidationError as error:
        raise InputError(first_fault(error), "a decision needs a name and a reason") from None


def _gain(found: TouchedResults, touched: TouchedResult) -> float:
    assert touched.opening is not None
    share = proportional_change(
        found.changes_at_loads(touched.opening, touched.closing, touched.result.direction)
    )
    if share is None:
        raise RefusedError(
            f"{touched.code}, {touched.direction_name}: the rig's error did not change by one percentage at every "
            "mass, so there is no linear cause to correct",
            "withhold the result or ask for a retest",
        )
    return share
