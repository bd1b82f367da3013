"""Rig checks: judging one with what the team knows of the rig, keeping it, and the facts cover rests on."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import orjson

from fieldlog.errors import NotFoundError
from fieldlog.fieldwork.books import at_site, everywhere, of_team, site_of
from fieldlog.fieldwork.results.cover import CheckFact, EventFact, fact_of
from fieldlog.fieldwork.rig_checks.check_basis import RECENT_CHECKS
from fieldlog.fieldwork.rig_checks.check_file import named_after, read_check_file
from fieldlog.fieldwork.rig_checks.check_judge import judge
from fieldlog.fieldwork.rig_checks.tolerance_book import team_tolerance_sets
from fieldlog.fieldwork.rig_life.rigs import ensure_rig, events_of, rig_named
from fieldlog.fieldwork.visit.visits import ensure_visit
from fieldlog.records.base import derived_id
from fieldlog.records.check_entry import CheckEntry, Place
from fieldlog.records.rig import Rig
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.standard import ReferenceStandard
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = [
    "SavedCheck",
    "check_facts",
    "checks_of_rig",
    "event_facts",
    "judge_at_site",
    "save_check",
    "save_check_file",
]


@dataclass(frozen=True)
class SavedCheck:
    """A check that is on disk; ``added`` is false where the same check was there already."""

    kept: Kept[RigCheck]
    added: bool

    @property
    def judged(self) -> dict[str, Any]:
        """The verdict as it was kept."""
        return self.kept.record.judged


def checks_of_rig(workspace: Workspace, rig_identity: str) -> list[RigCheck]:
    """All checks of a rig at all sites in order of time."""
    checks = [kept.record for _, kept in everywhere(workspace, RigCheck, rig_id=rig_identity)]
    return sorted(checks, key=lambda check: (check.at, check.id))


def judge_at_site(workspace: Workspace, store: Store, entry: CheckEntry, today: dt.date) -> dict[str, Any]:
    """Judge a check with the site's position, the team's standards and tolerances, and the rig's last checks."""
    site = site_of(store)
    rig = _known_rig(workspace, entry.rig)
    earlier = [check for check in checks_of_rig(workspace, rig.id) if check.at < entry.at] if rig else []
    return judge(
        entry,
        place=Place(latitude_deg=site.latitude_deg, height_m=site.height_m),
        earlier=[check.entry for check in earlier[-RECENT_CHECKS:]],
        standards=[kept.record for kept in of_team(workspace, ReferenceStandard).all()],
        rig=rig,
        tolerance_sets=team_tolerance_sets(workspace),
        today=today,
    )


def save_check_file(
    workspace: Workspace, store: Store, path: Path, *, today: dt.date, by: str = ""
) -> SavedCheck:
    """Judge and keep the check in a file. Saving the same file again adds nothing.

    Raises InputError naming the file where it is no check, or names a tolerance set that nobody knows.
    """
    entry = read_check_file(path)
    with named_after(path):
        return save_check(workspace, store, entry, today=today, by=by or entry.by)


def save_check(
    workspace: Workspace, store: Store, entry: CheckEntry, *, today: dt.date, by: str
) -> SavedCheck:
    """Judge and keep a check; the day's visit and a rig named for the first time are made if missing."""
    repo = at_site(store, RigCheck)
    content = orjson.dumps(entry.model_dump(mode="json"), option=orjson.OPT_SORT_KEYS)
    identity = derived_id("check", content.decode())
    known = repo.get(identity)
    if known is not None:
        return SavedCheck(known, added=False)
    judged = judge_at_site(workspace, store, entry, today)
    rig, is_new = ensure_rig(workspace, entry.rig, by)
    if is_new:
        judged["remarks"].append(f"rig {rig.record.name!r} is new and was entered with its name only")
    site = site_of(store)
    visit = ensure_visit(store, entry.at.date(), by)
    check = RigCheck(
        id=identity,
        visit_id=visit.record.id,
        site_id=site.id,
        rig_id=rig.record.id,
        stage=entry.stage,
        state=entry.state,
        at=entry.at,
        by=entry.by,
        entry=entry,
        verdict=judged["verdict"],
        judged=judged,
    )
    return SavedCheck(repo.save(check, by=by), added=True)


def check_facts(workspace: Workspace, rig_identity: str) -> list[CheckFact]:
    """What cover needs to know of each check of a rig, in order of time."""
    return [
        fact_of(
            check.id,
            at=check.at,
            site=check.site_id,
            stage=check.stage,
            state=check.state,
            judged=check.judged,
        )
        for check in checks_of_rig(workspace, rig_identity)
    ]


def event_facts(workspace: Workspace, rig_identity: str) -> list[EventFact]:
    """What cover needs to know of each event of a rig, in order of time."""
    return [EventFact(at=event.at, kind=event.kind) for event in events_of(workspace, rig_identity)]


def _known_rig(workspace: Workspace, name: str) -> Rig | None:
    try:
        return rig_named(workspace, name).record
    except NotFoundError:
        return None
