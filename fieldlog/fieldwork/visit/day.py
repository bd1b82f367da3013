"""One day at a site: which rig stands there, its checks today, and what covers the results so far."""

from __future__ import annotations

from fieldlog.fieldwork.books import at_site, of_team
from fieldlog.fieldwork.entry import checked_note
from fieldlog.fieldwork.results.cover import CheckFact, not_for_use_since
from fieldlog.fieldwork.rig_checks.checks import check_facts, checks_of_rig
from fieldlog.fieldwork.rig_life.rigs import ensure_rig, events_of
from fieldlog.records.check_entry import State
from fieldlog.records.rig import ADJUSTING_EVENTS, EVENT_WORDS, Rig
from fieldlog.records.rig_check import GOOD_VERDICTS, RigCheck
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = [
    "check_state",
    "checks_of_visit",
    "choose_rig",
    "cover_words",
    "last_check_of_rig",
    "rig_names",
    "rig_of_visit",
    "save_day_note",
]


def rig_of_visit(workspace: Workspace, store: Store, visit: Visit) -> Rig | None:
    """The rig of the day: the one chosen on arrival, else that of the day's latest check, else the only one."""
    repo = of_team(workspace, Rig)
    checks = checks_of_visit(store, visit)
    identity = visit.rig_id or (checks[-1].rig_id if checks else None)
    if identity is not None:
        kept = repo.get(identity)
        return kept.record if kept else None
    rigs = repo.all()
    return rigs[0].record if len(rigs) == 1 else None


def choose_rig(workspace: Workspace, store: Store, visit: Kept[Visit], name: str, by: str) -> Kept[Visit]:
    """Say which rig stands there today; a rig named for the first time is entered with its name only."""
    rig, _ = ensure_rig(workspace, name, by)
    if visit.record.rig_id == rig.record.id:
        return visit
    changed = visit.record.model_copy(update={"rig_id": rig.record.id})
    return at_site(store, Visit).save(changed, by=by, seen=visit.revision)


def checks_of_visit(store: Store, visit: Visit) -> list[RigCheck]:
    """The checks of a visit in order of time."""
    found = [kept.record for kept in at_site(store, RigCheck).find(visit_id=visit.id)]
    return sorted(found, key=lambda check: (check.at, check.id))


def last_check_of_rig(workspace: Workspace, rig: Rig | None, *, full: bool = False) -> RigCheck | None:
    """The latest check of a rig over all sites; with ``full`` the latest that is no quick one."""
    checks = checks_of_rig(workspace, rig.id) if rig else []
    found = [check for check in checks if check.stage != "interim"] if full else checks
    return found[-1] if found else None


def rig_names(workspace: Workspace) -> list[str]:
    """Names of all rigs of the team, in order."""
    return sorted(kept.record.name for kept in of_team(workspace, Rig).all())


def check_state(workspace: Workspace, rig: Rig | None) -> State:
    """``as-left`` for the first check after an adjustment or service, else ``as-found``."""
    if rig is None:
        return "as-found"
    last = last_check_of_rig(workspace, rig)
    changes = [event for event in events_of(workspace, rig.id) if event.kind in ADJUSTING_EVENTS]
    return "as-left" if changes and last is not None and changes[-1].at >= last.at else "as-found"


def cover_words(workspace: Workspace, store: Store, visit: Visit, rig: Rig | None) -> tuple[str, str]:
    """What covers results at this moment, in words, and whether the rig may be used: go, not for use or unknown.

    A check that failed on an earlier day, at any site, keeps the rig out of use until one passes.
    """
    checks = [check for check in checks_of_visit(store, visit) if rig is None or check.rig_id == rig.id]
    if not checks:
        failed = _failed_before(workspace, rig, visit) if rig else None
        if failed is not None:
            said = f"{failed.stage} check {failed.verdict} on {failed.at.date().isoformat()}"
            return f"not for use: {said}", "not for use"
        return "no cover yet today", "unknown"
    last = checks[-1]
    if last.verdict not in GOOD_VERDICTS:
        return f"not for use: {last.stage} check {last.verdict} at {last.at:%H:%M}", "not for use"
    events = events_of(workspace, rig.id) if rig else []
    since = [event for event in events if event.at >= last.at and event.at.date() == visit.date]
    if since:
        return (
            f"no cover: {EVENT_WORDS[since[-1].kind]} at {since[-1].at:%H:%M} since the check",
            "unknown",
        )
    largest = max(point["reference_nm"] for point in last.judged["torque"]["points"])
    return f"{last.stage} check {last.verdict} {last.at:%H:%M}, to {largest:.0f} N·m", "go"


def _failed_before(workspace: Workspace, rig: Rig, visit: Visit) -> CheckFact | None:
    facts = check_facts(workspace, rig.id)
    return not_for_use_since(fact for fact in facts if fact.at.date() < visit.date)


def save_day_note(store: Store, visit: Kept[Visit], note: str, *, by: str) -> Kept[Visit]:
    """Keep another note of the day. Raises InputError for one longer than a note may be."""
    changed = visit.record.model_copy(update={"note": checked_note(note)})
    return at_site(store, Visit).save(changed, by=by, seen=visit.revision)
