"""Rigs and what happens to them, over all sites."""

from __future__ import annotations

import datetime as dt

from fieldlog.errors import InputError, NotFoundError
from fieldlog.fieldwork.books import at_site, everywhere, of_team
from fieldlog.records.base import new_id
from fieldlog.records.rig import EVENT_WORDS, EventKind, Rig, RigEvent, rig_id
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["add_event", "ensure_rig", "event_kind", "events_of", "rig_named", "set_display_step"]

LARGEST_DISPLAY_STEP_NM = 10.0


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


def event_kind(typed: str) -> EventKind:
    """The kind of event whose words begin with what was typed. Raises InputError where none or several do."""
    wanted = typed.strip().casefold()
    found = [kind for kind, words in EVENT_WORDS.items() if wanted and words.startswith(wanted)]
    if len(found) != 1:
        raise InputError(
            f"{typed.strip()[:30] or 'nothing'!r} is no event", f"one of {', '.join(EVENT_WORDS.values())}"
        )
    kind: EventKind = found[0]  # type: ignore[assignment]  # the keys of EVENT_WORDS are the kinds
    return kind


def set_display_step(workspace: Workspace, rig: Kept[Rig], step_nm: float, *, by: str) -> Kept[Rig]:
    """Keep the smallest step the rig's display shows, in N·m: asked once, used in every uncertainty.

    Raises InputError for a step no display has.
    """
    if not 0.0 < step_nm <= LARGEST_DISPLAY_STEP_NM:
        raise InputError(
            f"a display step of {step_nm:g} N·m is none",
            f"type the smallest change the display shows, for example 0.1; up to {LARGEST_DISPLAY_STEP_NM:g}",
        )
    if rig.record.display_step_nm == step_nm:
        return rig
    changed = rig.record.model_copy(update={"display_step_nm": step_nm})
    return of_team(workspace, Rig).save(changed, by=by, why="display step", seen=rig.revision)


def _may_be_id(text: str) -> bool:
    return bool(text) and len(text) <= 64 and text.isascii() and text.replace("-", "").isalnum()
