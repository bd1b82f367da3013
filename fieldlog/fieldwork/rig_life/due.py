"""What falls due: certificates, the rigs' own intervals, closing checks nobody took, planned retests."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from fieldlog.count_words import counted
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.rig_life.rig_interval import as_found_day, good_days, suggest_interval
from fieldlog.fieldwork.squad.retests import retests_due
from fieldlog.records.rig import Rig
from fieldlog.records.rig_check import GOOD_VERDICTS, RigCheck
from fieldlog.records.standard import ReferenceStandard
from fieldlog.store.workspace import Workspace

__all__ = ["Due", "certificates_due", "checks_due", "due_list", "unclosed_days"]

CLOSING_CHECK_DAYS = 180
"""How far back a closing check that nobody took is still asked about."""


@dataclass(frozen=True)
class Due:
    """Something that falls due; ``days`` counts from today and is negative once it is overdue."""

    what: str
    text: str
    days: int


def due_list(workspace: Workspace, today: dt.date, within_days: int = 30) -> list[Due]:
    """Everything that falls due within ``within_days`` or is overdue, the most pressing first."""
    rows = [
        *certificates_due(workspace, today, within_days),
        *checks_due(workspace, today, within_days),
        *_unclosed_rows(workspace, today),
        *_retest_rows(workspace, today, within_days),
    ]
    return sorted(rows, key=lambda row: row.days)


def certificates_due(workspace: Workspace, today: dt.date, within_days: int = 30) -> list[Due]:
    """Certificates of reference standards that end within ``within_days`` or have ended."""
    rows = []
    standards = of_team(workspace, ReferenceStandard).all()
    for kept in sorted(standards, key=lambda kept: (kept.record.kind, kept.record.nominal, kept.record.name)):
        certificate = kept.record.certificate
        if certificate is None or certificate.due_on is None:
            continue
        days = (certificate.due_on - today).days
        if days <= within_days:
            text = (
                f"certificate overdue by {counted(-days, 'day')}"
                if days < 0
                else f"certificate ends {_in_days(days)}"
            )
            rows.append(Due(kept.record.name, text, days))
    return rows


def checks_due(workspace: Workspace, today: dt.date, within_days: int = 30) -> list[Due]:
    """Rigs whose next calibration (see ``rig_interval.INTERVAL_RULE``) falls due within ``within_days``, or was."""
    rows = []
    for kept in of_team(workspace, Rig).all():
        rig = kept.record
        checks = sorted(_bodies(workspace, rig.id), key=lambda pair: pair[0])
        as_found = [
            as_found_day(at.date(), body["judged"]) for at, body in checks if body["state"] == "as-found"
        ]
        suggested = suggest_interval(as_found, good_days((at, body["verdict"]) for at, body in checks))
        if suggested is None:
            continue
        days = (suggested.due_on - today).days
        if days <= within_days:
            text = (
                f"calibration overdue by {counted(-days, 'day')}"
                if days < 0
                else f"calibration due {_in_days(days)}"
            )
            rows.append(Due(rig.name, f"{text} (interval {suggested.days} days)", days))
    return rows


def unclosed_days(workspace: Workspace, today: dt.date) -> dict[str, list[dt.date]]:
    """Days before today, by the tester who opened them, on which no closing check followed; the latest first.

    A day counts where its last opening check was good, so that there were results to close, and lies within
    ``CLOSING_CHECK_DAYS``.
    """
    opened: dict[tuple[str, str, dt.date], str] = {}
    for at, body in sorted(_bodies(workspace), key=lambda pair: pair[0]):
        place = (body["rig_id"], body["site_id"], at.date())
        if body["stage"] == "opening" and body["verdict"] in GOOD_VERDICTS:
            opened[place] = body["by"]
        elif body["stage"] == "closing":
            opened.pop(place, None)
    found: dict[str, set[dt.date]] = {}
    for (_, _, day), by in opened.items():
        if 0 < (today - day).days <= CLOSING_CHECK_DAYS:
            found.setdefault(by, set()).add(day)
    return {by: sorted(days, reverse=True) for by, days in sorted(found.items())}


def _unclosed_rows(workspace: Workspace, today: dt.date) -> Iterator[Due]:
    for by, days in unclosed_days(workspace, today).items():
        latest = days[0]
        count = "a closing check is" if len(days) == 1 else f"{len(days)} closing checks are"
        yield Due(by, f"{count} missing, the last of {latest.isoformat()}", (latest - today).days)


def _retest_rows(workspace: Workspace, today: dt.date, within_days: int) -> Iterator[Due]:
    """Planned retests: counted to their first day while it is to come, then to their last."""
    for due in retests_due(workspace, today):
        record = due.kept.record
        days = ((record.due_from if due.state == "to come" else record.due_by) - today).days
        if due.state != "done" and (days <= within_days or due.state == "due"):
            yield Due(due.who, f"retest, {due.protocol_name}: {due.words}", days)


_POINT_NUMBERS = ("error_nm", "tolerance_nm")


def _bodies(workspace: Workspace, rig_id: str | None = None) -> Iterator[tuple[dt.datetime, dict[str, Any]]]:
    # The first room asks at every start. It needs a few words of each of hundreds of large records, so they
    # are read as they lie; what a newer fieldlog wrote otherwise is passed over.
    for store in workspace.sites.values():
        revisions = (
            store.documents(RigCheck.table)
            if rig_id is None
            else store.equal(RigCheck.table, ("rig_id",), rig_id)
        )
        for revision in revisions:
            body = revision.body or {}
            try:
                at = dt.datetime.fromisoformat(body["at"])
                words = [body[name] for name in ("stage", "state", "verdict", "rig_id", "site_id", "by")]
                words.append(body["judged"]["verdict"])
                known = all(isinstance(word, str) and word for word in words)
                points = body["judged"]["torque"]["points"]
                known = known and all(_is_number(point[name]) for point in points for name in _POINT_NUMBERS)
            except (KeyError, TypeError, ValueError):
                continue
            if known and points and at.utcoffset() is not None:
                yield at, body


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _in_days(count: int) -> str:
    return "today" if count == 0 else f"in {counted(count, 'day')}"
