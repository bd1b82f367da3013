"""What the persons files say of an athlete: consent, and pain as the athlete told it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from fieldlog.date_words import day_text
from fieldlog.errors import InputError
from fieldlog.records.visit import Visit
from fieldlog.store.workspace import Workspace

__all__ = [
    "ConsentStatus",
    "consent_status",
    "pain_today",
    "persons_entries",
    "put_entry",
    "record_consent",
    "record_pain",
    "usual_consent_end",
    "withdraw_consent",
]


@dataclass(frozen=True)
class ConsentStatus:
    """Whether consent is on file and in date, and in words what is there."""

    in_date: bool
    text: str


def put_entry(
    workspace: Workspace, kind: str, athlete_id: str, *, by: str, at: dt.datetime, **said: object
) -> None:
    """Keep in the persons files what was said of an athlete, with who entered it and when."""
    workspace.persons.put({"kind": kind, "athlete_id": athlete_id, **said, "by": by, "at": at.isoformat()})


def usual_consent_end(given_on: dt.date) -> dt.date:
    """Return the day consent usually runs to: a year on, the first of March after a leap day (common practice)."""
    try:
        return given_on.replace(year=given_on.year + 1)
    except ValueError:
        return dt.date(given_on.year + 1, 3, 1)


def record_consent(
    workspace: Workspace,
    athlete_id: str,
    *,
    given_on: dt.date,
    valid_until: dt.date | None,
    wording: str,
    by_guardian: bool,
    by: str,
    at: dt.datetime,
) -> None:
    """Keep in the persons files that consent was given: when, until when, to which wording, by whom.

    Raises InputError where it ends before it begins.
    """
    if valid_until is not None and valid_until < given_on:
        raise InputError(f"consent: {valid_until} is before {given_on}", "type the day it ends")
    put_entry(
        workspace,
        "consent",
        athlete_id,
        by=by,
        at=at,
        given_on=given_on.isoformat(),
        valid_until=valid_until.isoformat() if valid_until else None,
        wording=wording,
        by_guardian=by_guardian,
    )


def withdraw_consent(workspace: Workspace, athlete_id: str, *, by: str, at: dt.datetime) -> None:
    """Keep in the persons files that consent was withdrawn; from now on the athlete is held."""
    put_entry(workspace, "consent_withdrawn", athlete_id, by=by, at=at)


def consent_status(
    workspace: Workspace,
    athlete_id: str,
    *,
    minor: bool,
    on: dt.date,
    day_words: Callable[[dt.date], str] = day_text,
) -> ConsentStatus:
    """Return whether consent is on file and in date on a day; for a minor the guardian's counts.

    ``day_words`` writes a day the way the reader has it.
    """
    said = persons_entries(workspace, athlete_id, "consent", "consent_withdrawn")
    if not said:
        return ConsentStatus(in_date=False, text="no consent on file")
    return _status_of(said[-1], minor=minor, on=on, day_words=day_words)


def pain_today(workspace: Workspace, visit: Visit, athlete_id: str) -> tuple[float | None, float | None]:
    """Return pain at the clearance and pain as last said at this visit, from the persons files."""
    entries = [
        entry
        for entry in persons_entries(workspace, athlete_id, "clearance_answers", "stop", "pain")
        if entry.get("visit_id") == visit.id
    ]
    before: float | None = None
    latest: float | None = None
    for entry in entries:
        if entry["kind"] == "clearance_answers":
            answers = entry.get("answers")
            before = _number(answers.get("pain_now")) if isinstance(answers, dict) else None
            latest = before
        else:
            said = _number(entry.get("pain"))
            latest = latest if said is None else said
    return before, latest


def record_pain(
    workspace: Workspace, visit: Visit, athlete_id: str, pain: float, *, by: str, at: dt.datetime
) -> None:
    """Keep in the persons files how much an athlete says it hurts between sets, 0 to 10."""
    if not 0 <= pain <= 10:
        raise InputError(f"pain: {pain:g} is not between 0 and 10", "ask again: 0 none, 10 the worst")
    put_entry(workspace, "pain", athlete_id, by=by, at=at, visit_id=visit.id, pain=pain)


def persons_entries(workspace: Workspace, athlete_id: str, *kinds: str) -> list[dict[str, Any]]:
    """Return an athlete's entries of these kinds in the persons files by time; undated ones are left out."""
    found = []
    for entry in workspace.persons.for_athlete(athlete_id):
        at = _instant(entry.get("at"))
        if entry.get("kind") in kinds and at is not None:
            found.append((at, entry))
    return [entry for _, entry in sorted(found, key=lambda dated: dated[0])]


def _status_of(
    entry: Mapping[str, Any], *, minor: bool, on: dt.date, day_words: Callable[[dt.date], str]
) -> ConsentStatus:
    given, until = _day(entry.get("given_on")), _day(entry.get("valid_until"))
    given_words, until_words = (day_words(day) if day else "" for day in (given, until))
    said_at = _instant(entry["at"])
    assert said_at is not None, "undated entries are left out"
    objections = (
        (entry["kind"] == "consent_withdrawn", f"consent withdrawn on {day_words(said_at.date())}"),
        (minor and entry.get("by_guardian") is not True, "the consent on file is not the guardian's"),
        (given is None or (until is None and entry.get("valid_until") is not None), "consent is unreadable"),
        (given is not None and given > on, f"consent is dated {given_words}"),
        (until is not None and until < on, f"consent ended on {until_words}"),
    )
    for objects, text in objections:
        if objects:
            return ConsentStatus(in_date=False, text=text)
    return ConsentStatus(
        in_date=True, text=f"consent of {given_words}" + (f" to {until_words}" if until else "")
    )


def _instant(value: object) -> dt.datetime | None:
    try:
        instant = dt.datetime.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        return None
    return instant if instant is not None and instant.utcoffset() is not None else None


def _day(value: object) -> dt.date | None:
    try:
        return dt.date.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        return None


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
