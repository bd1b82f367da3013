"""Places: every site with its last visit, what is left to finish there, and what falls due."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fieldlog.analysis.gravity import local_gravity
from fieldlog.fieldwork.books import at_site, of_team, site_of
from fieldlog.fieldwork.results.results import DirectionResult, ResultBook
from fieldlog.fieldwork.visit.visits import visits_of
from fieldlog.records.batch import Batch
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.rig import Rig
from fieldlog.records.rig_check import GOOD_VERDICTS, RigCheck
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["Place", "places"]


@dataclass(frozen=True)
class Place:
    """One line of the list of places."""

    folder: str
    name: str
    latitude_deg: float
    height_m: float
    local_gravity_m_s2: float
    last_visit: dt.date | None
    athletes_tested: int
    athletes_planned: int
    rig: str
    to_finish: str
    last_check: RigCheck | None


def places(workspace: Workspace, today: dt.date) -> list[Place]:
    """All sites, the latest visited first."""
    book = ResultBook(workspace)
    rows = [_place(workspace, store, book, today) for store in workspace.sites.values()]
    return sorted(rows, key=lambda row: (row.last_visit or dt.date.min, row.name), reverse=True)


def _place(workspace: Workspace, store: Store, book: ResultBook, today: dt.date) -> Place:
    site = site_of(store)
    visits = visits_of(store)
    last = visits[0].record if visits else None
    checks = [kept.record for kept in at_site(store, RigCheck).all()]
    tested = planned = 0
    if last is not None:
        tested = len({kept.record.athlete_id for kept in at_site(store, EffortSet).find(visit_id=last.id)})
        batches = at_site(store, Batch).find(visit_id=last.id)
        planned = len({entry.athlete_id for kept in batches for entry in kept.record.entries})
    last_check = max(checks, key=lambda check: check.at, default=None)
    rig = of_team(workspace, Rig).get(last_check.rig_id) if last_check else None
    return Place(
        folder=store.name,
        name=site.name,
        latitude_deg=site.latitude_deg,
        height_m=site.height_m,
        local_gravity_m_s2=local_gravity(site.latitude_deg, site.height_m),
        last_visit=last.date if last else None,
        athletes_tested=tested,
        athletes_planned=max(planned, tested),
        rig=rig.record.name if rig else "",
        to_finish=_to_finish(last, book.of_visit(store, last.id), checks, tested=tested, today=today)
        if last
        else "",
        last_check=last_check,
    )


def _to_finish(
    last: Visit, results: list[DirectionResult], checks: list[RigCheck], *, tested: int, today: dt.date
) -> str:
    suspect = sum(result.cover.word == "suspect" and result.cover.decision is None for result in results)
    if suspect:
        return f"{suspect} results suspect"
    closed = any(check.visit_id == last.id and check.stage == "closing" for check in checks)
    opened = any(check.visit_id == last.id and check.verdict in GOOD_VERDICTS for check in checks)
    if last.date == today and not opened:
        return "opening check"
    if tested and not closed:
        return "closing check"
    return ""
