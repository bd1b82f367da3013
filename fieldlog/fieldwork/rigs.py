"""Rigs and what happens to them, over all sites."""

from __future__ import annotations

import datetime as dt

from fieldlog.errors import NotFoundError
from fieldlog.fieldwork.books import at_site, everywhere, of_team
from fieldlog.records.base import new_id
from fieldlog.records.rig import EventKind, Rig, RigEvent, rig_id
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["add_event", "ensure_rig", "events_of", "rig_named"]


def rig_named(workspace: Workspace, name_or_id: str) -> Kept[Rig]:
    """The rig with this name or id. Raises NotFoundError naming the rigs there are."""
    repo = of_team(workspace, Rig)
    found = repo.get(name_or_id) if _may_be_id(name_or_id) else None
    found = found or repo.get(rig_id(name_or_id))
    if found:
        return found
    wanted = name_or_id.strip().casefold()
    for kept in repo.all():
        if kept.record.name.casefold() == wanted:
            return kept
    known = ", ".join(sorted(kept.record.name for kept in repo.all())) or "none yet"
    raise NotFoundError(f"no rig named {name_or_id!r}", f"rigs: {known}")


def ensure_rig(workspace: Workspace, name_or_id: str, by: str) -> tuple[Kept[Rig], bool]:
    """The rig of this name, entered with nothing but its name where it is new, and whether it was."""
    try:
        return rig_named(workspace, name_or_id), False
    except NotFoundError:
        name = " ".join(name_or_id.split())
        return of_team(workspace, Rig).save(Rig(id=rig_id(name), name=name), by=by), True


def add_event(
    store: Store, rig: Rig, kind: EventKind, *, at: dt.datetime, by: str, note: str = ""
) -> Kept[RigEvent]:
    """Keep that something happened to the rig: until the next check its cover rests on nothing."""
    event = RigEvent(id=new_id(), rig_id=rig.id, at=at, kind=kind, note=note)
    return at_site(store, RigEvent).save(event, by=by, why=note)


def events_of(workspace: Workspace, rig_identity: str) -> list[RigEvent]:
    """Everything that happened to a rig, at all sites, in order of time."""
    events = [kept.record for _, kept in everywhere(workspace, RigEvent, rig_id=rig_identity)]
    return sorted(events, key=lambda event: event.at)


def _may_be_id(text: str) -> bool:
    return bool(text) and len(text) <= 64 and text.isascii() and text.replace("-", "").isalnum()
