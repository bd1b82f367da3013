"""Clearances: taking the answers, deciding about a held athlete, and what holds today.

Answers and reasons go to the persons files only. The record says go, held or limits, and who decided.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Literal

import orjson

from fieldlog.date_words import day_text
from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.athletes.person_entries import consent_status, put_entry
from fieldlog.fieldwork.books import at_site, of_team
from fieldlog.fieldwork.catalogue import read_shipped
from fieldlog.fieldwork.clearance.clearance_rules import Answer, Judgement, judge_answers
from fieldlog.records.athlete import Athlete
from fieldlog.records.clearance import Clearance, LimitRule, clearance_id
from fieldlog.records.clearance_form import ClearanceForm
from fieldlog.records.visit import Visit
from fieldlog.store.lines import Revision
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = [
    "clearance_form",
    "clearance_today",
    "decide_clearance",
    "recorded_without_clearance",
    "save_form",
    "take_clearance",
]

FORM_ID = "clearance_form"


def clearance_form(workspace: Workspace | None) -> ClearanceForm:
    """Return the team's form, or the shipped one."""
    own = of_team(workspace, ClearanceForm).get(FORM_ID) if workspace is not None else None
    return own.record if own else ClearanceForm.from_body(orjson.loads(read_shipped("clearance.json")))


def save_form(workspace: Workspace, edited: ClearanceForm, *, by: str, why: str = "") -> Kept[ClearanceForm]:
    """Keep the team's form as its next version."""
    repo = of_team(workspace, ClearanceForm)
    own = repo.get(FORM_ID)
    # A version that was undone keeps its number: clearances taken under it name it.
    given = [revision.body for revision in repo.history(FORM_ID) if revision.body is not None]
    version = max([clearance_form(workspace).version, *(int(body.get("version", 1)) for body in given)]) + 1
    form = edited.model_copy(update={"id": FORM_ID, "version": version})
    return repo.save(form, by=by, why=why, seen=own.revision if own else None)


def take_clearance(
    workspace: Workspace,
    store: Store,
    visit: Visit,
    athlete: Athlete,
    answers: Mapping[str, Answer],
    *,
    by: str,
    at: dt.datetime,
) -> tuple[Kept[Clearance], Judgement]:
    """Judge today's answers and keep the outcome; the answers go to the persons files.

    An athlete whom an answer held today stays held whatever is answered later: only
    :func:`decide_clearance` lets them go on. Raises InputError where an answer is missing or wrong, or
    where ``at`` is not the day of the visit; nothing is kept then.
    """
    _same_day(visit, at)
    form = clearance_form(workspace)
    consent = consent_status(workspace, athlete.id, minor=athlete.minor, on=visit.date)
    judgement = judge_answers(form, answers, minor=athlete.minor, consent_in_date=consent.in_date)
    # The answers are durable first: a record without them would hide why somebody is held.
    put_entry(
        workspace,
        "clearance_answers",
        athlete.id,
        by=by,
        at=at,
        visit_id=visit.id,
        form_version=form.version,
        answers=dict(answers),
        held_for=list(judgement.reasons),
    )
    identity = clearance_id(visit.id, athlete.id)
    standing_hold = _undecided_hold(store, identity) is not None
    held = standing_hold or judgement.outcome == "held"
    kept = at_site(store, Clearance).get(identity)
    clearance = Clearance(
        id=identity,
        visit_id=visit.id,
        athlete_id=athlete.id,
        at=at,
        by=by,
        outcome="held" if held else "go",
        consent_in_date=consent.in_date,
        missing=judgement.missing,
        on_answers=judgement.on_answers or standing_hold,
        form_version=form.version,
    )
    saved = at_site(store, Clearance).save(clearance, by=by, seen=kept.revision if kept else None)
    return saved, judgement


def decide_clearance(
    workspace: Workspace,
    store: Store,
    kept: Kept[Clearance],
    outcome: Literal["go", "held", "limits"],
    *,
    decided_by: str,
    decided_role: str,
    by: str,
    at: dt.datetime,
    limits: str = "",
    limit_rules: Iterable[LimitRule] = (),
    reason: str = "",
) -> Kept[Clearance]:
    """Keep the decision of a named, qualified person about an athlete; ``reason`` goes to the persons files.

    Raises RefusedError where name or qualification is missing, or a paper that no decision can stand in
    for; InputError where limits are not in words.
    """
    name, role = decided_by.strip(), decided_role.strip()
    if not name or not role:
        raise RefusedError(
            "a held athlete goes on only by the decision of a named, qualified person",
            "give the name and the qualification of who decided",
        )
    record = kept.record
    if outcome != "held" and record.missing:
        raise RefusedError(
            f"nobody can decide instead of what is missing: {', '.join(record.missing)}",
            "once it is there, take the clearance again",
        )
    if outcome == "limits" and not limits.strip():
        raise InputError("limits: not said", "say in words what the athlete may do, without health details")
    if at < record.at:
        raise InputError("the decision is dated before the clearance it is about", "check the time")
    if reason.strip():
        put_entry(
            workspace,
            "clearance_decision",
            record.athlete_id,
            by=by,
            at=at,
            visit_id=record.visit_id,
            outcome=outcome,
            reason=reason.strip(),
            decided_by=name,
        )
    decided = Clearance.model_validate(
        record.to_body()
        | {
            "outcome": outcome,
            "decided_by": name,
            "decided_role": role,
            "decided_at": at.isoformat(),
            "limits": limits.strip() if outcome == "limits" else "",
            "limit_rules": tuple(limit_rules) if outcome == "limits" else (),
        }
    )
    return at_site(store, Clearance).save(decided, by=by, why=f"decided by {name}", seen=kept.revision)


def clearance_today(store: Store, visit: Visit, athlete_id: str) -> Clearance | None:
    """Return the clearance that holds for an athlete at a visit, the strictest where there are several.

    Two laptops may have taken it apart, and a hold may have been undone or asked away: a hold by an
    answer counts until a decision of the same day that is later. Of the rest the latest holds.
    """
    heads: list[Clearance] = []
    holds: list[Clearance] = []
    for kept in at_site(store, Clearance).find(visit_id=visit.id, athlete_id=athlete_id):
        heads.extend(_bodies(store.heads(Clearance.table, kept.record.id)))
        hold = _undecided_hold(store, kept.record.id)
        if hold is not None:
            holds.append(hold)
    # A deleted record is no longer found, but its hold is not deleted with it.
    hold = _undecided_hold(store, clearance_id(visit.id, athlete_id))
    if hold is not None:
        holds.append(hold)
    today = [clearance for clearance in heads if clearance.at.date() == visit.date]
    holds = [clearance for clearance in holds if clearance.at.date() == visit.date]
    holds += [clearance for clearance in today if clearance.needs_decision]
    released = _latest_decision(today)
    still = [hold for hold in holds if released is None or _decided_before(released, hold)]
    if still:
        return max(still, key=lambda clearance: clearance.at)
    if released is not None:
        return released
    return max(today, key=lambda clearance: clearance.at, default=None)


def recorded_without_clearance(store: Store, visit: Visit, athlete_id: str, at: dt.datetime) -> bool:
    """Whether a recording made at ``at`` had no clearance: none of that day, held, or given only later."""
    clearance = clearance_today(store, visit, athlete_id)
    if clearance is None or clearance.outcome == "held" or at.date() != visit.date:
        return True
    return at < (clearance.decided_at or clearance.at)


def _same_day(visit: Visit, at: dt.datetime) -> None:
    if at.date() != visit.date:
        raise InputError(
            f"the clearance is of {day_text(at.date())}, the visit of {day_text(visit.date)}",
            "a clearance holds for the day it is taken",
        )


def _bodies(revisions: Iterable[Revision]) -> list[Clearance]:
    return [Clearance.from_body(revision.body) for revision in revisions if revision.body is not None]


def _undecided_hold(store: Store, identity: str) -> Clearance | None:
    undecided: Clearance | None = None
    for clearance in _bodies(store.history(Clearance.table, identity)):
        if clearance.outcome == "held" and not clearance.decided_by and clearance.needs_decision:
            undecided = clearance
        elif undecided is not None and clearance.decided_by and not _decided_before(clearance, undecided):
            undecided = None
    return undecided


def _latest_decision(clearances: Iterable[Clearance]) -> Clearance | None:
    decided = [each for each in clearances if each.decided_by and each.outcome != "held"]
    return max(decided, key=lambda each: each.decided_at or each.at, default=None)


def _decided_before(decision: Clearance, hold: Clearance) -> bool:
    return (decision.decided_at or decision.at) < (hold.decided_at or hold.at)
