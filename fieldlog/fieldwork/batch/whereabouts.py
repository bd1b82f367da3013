"""Where an athlete is found: the latest day whose batch they are in."""

from __future__ import annotations

from dataclasses import dataclass

from fieldlog.fieldwork.batch.batches import batches_of
from fieldlog.fieldwork.books import of_team, site_of
from fieldlog.fieldwork.visit.visits import visits_of
from fieldlog.records.athlete import Athlete
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["Whereabouts", "athletes_by_code", "whereabouts"]


@dataclass(frozen=True)
class Whereabouts:
    """One seat in a batch: the site's store and name, the visit and the batch."""

    store: Store
    site_name: str
    visit: Visit
    batch_id: str


def athletes_by_code(workspace: Workspace) -> list[Athlete]:
    """Return every athlete of the team, by code."""
    return sorted(
        (kept.record for kept in of_team(workspace, Athlete).all()), key=lambda athlete: athlete.code
    )


def whereabouts(workspace: Workspace, athlete_id: str) -> Whereabouts | None:
    """Return the latest visit over all sites in whose batch the athlete is; None where there is none."""
    visits = [(store, kept.record) for store in workspace.sites.values() for kept in visits_of(store)]
    for store, visit in sorted(visits, key=lambda each: each[1].date, reverse=True):
        for batch in batches_of(store, visit):
            if any(entry.athlete_id == athlete_id for entry in batch.record.entries):
                return Whereabouts(store, site_of(store).name, visit, batch.record.id)
    return None
