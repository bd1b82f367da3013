"""Batches: the athletes and the protocol of a visit, and whose turn it is."""

from __future__ import annotations

from collections.abc import Sequence

from fieldlog.errors import InputError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.batch.side_order import side_order
from fieldlog.fieldwork.books import at_site
from fieldlog.records.base import new_id
from fieldlog.records.batch import Batch, BatchEntry
from fieldlog.records.protocol import Protocol
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["add_to_batch", "batch_of", "batches_of", "change_entry", "entry_of", "make_batch", "next_waiting"]


def batches_of(store: Store, visit: Visit) -> list[Kept[Batch]]:
    """The batches of a visit in the order they were made."""
    found = at_site(store, Batch).find(visit_id=visit.id)
    return sorted(found, key=lambda kept: (kept.revision.clock, kept.record.id))


def batch_of(store: Store, visit: Visit, athlete_id: str) -> Kept[Batch] | None:
    """The batch an athlete is in at this visit."""
    return next((kept for kept in batches_of(store, visit) if entry_of(kept.record, athlete_id)), None)


def entry_of(batch: Batch, athlete_id: str) -> BatchEntry | None:
    """An athlete's turn in a batch."""
    return next((entry for entry in batch.entries if entry.athlete_id == athlete_id), None)


def make_batch(
    workspace: Workspace,
    store: Store,
    visit: Visit,
    *,
    protocol_id: str,
    athlete_ids: Sequence[str],
    by: str,
    squad: str = "",
) -> Kept[Batch]:
    """Keep who is tested today under which protocol; each athlete's sides in the order of their last visit.

    Raises InputError where nobody is named or one athlete is named twice.
    """
    if not athlete_ids:
        raise InputError("the batch has no athlete", "pick at least one")
    if len(set(athlete_ids)) != len(athlete_ids):
        raise InputError("an athlete is in the batch twice", "name each athlete once")
    protocol = catalogue.protocol(workspace, protocol_id)
    batch = Batch(
        id=new_id(),
        visit_id=visit.id,
        protocol_id=protocol_id,
        squad=squad,
        entries=tuple(_entry(workspace, store, visit, athlete_id, protocol) for athlete_id in athlete_ids),
    )
    return at_site(store, Batch).save(batch, by=by)


def add_to_batch(
    workspace: Workspace,
    store: Store,
    visit: Visit,
    kept: Kept[Batch],
    athlete_ids: Sequence[str],
    *,
    by: str,
) -> Kept[Batch]:
    """Add athletes at the end of a batch; who is in it already stays where they are."""
    known = {entry.athlete_id for entry in kept.record.entries}
    protocol = catalogue.protocol(workspace, kept.record.protocol_id)
    added = tuple(
        _entry(workspace, store, visit, athlete_id, protocol)
        for athlete_id in dict.fromkeys(athlete_ids)
        if athlete_id not in known
    )
    changed = kept.record.model_copy(update={"entries": (*kept.record.entries, *added)})
    return at_site(store, Batch).save(changed, by=by, seen=kept.revision)


def change_entry(
    store: Store, kept: Kept[Batch], athlete_id: str, *, by: str, why: str = "", **changes: object
) -> Kept[Batch]:
    """Change one athlete's turn: its status, order of sides or body mass in kilograms.

    Raises InputError where the athlete is not in the batch.
    """
    if entry_of(kept.record, athlete_id) is None:
        raise InputError("this athlete is not in the batch", "add the athlete first")
    entries = tuple(
        BatchEntry.model_validate({**entry.model_dump(), **changes})
        if entry.athlete_id == athlete_id
        else entry
        for entry in kept.record.entries
    )
    changed = kept.record.model_copy(update={"entries": entries})
    return at_site(store, Batch).save(changed, by=by, why=why, seen=kept.revision)


def next_waiting(batch: Batch, after: str | None = None) -> BatchEntry | None:
    """Whose turn is next: the first who waits after an athlete, else the first who waits at all."""
    places = [index for index, entry in enumerate(batch.entries) if entry.athlete_id == after]
    start = places[0] + 1 if places else 0
    turns = [*batch.entries[start:], *batch.entries[:start]]
    return next((entry for entry in turns if entry.status == "waiting" and entry.athlete_id != after), None)


def _entry(
    workspace: Workspace, store: Store, visit: Visit, athlete_id: str, protocol: Protocol
) -> BatchEntry:
    return BatchEntry(athlete_id=athlete_id, sides=side_order(workspace, store, visit, athlete_id, protocol))
