"""What a sync has to say of a store in the end: its name, what is missing, which conflicts are new."""

from __future__ import annotations

from fieldlog.exchange.store_side import StoreSide
from fieldlog.exchange.summaries import conflict_summary
from fieldlog.store.workspace import TEAM, site_record

__all__ = ["report"]


def report(side: StoreSide) -> None:
    """Complete the store's outcome, and note up to where it was reported."""
    if side.held:
        _name(side)
        _find_missing(side)
        if side.taking or side.noted.unfinished:
            _find_new_conflicts(side)
    side.noted.finish()


def _name(side: StoreSide) -> None:
    labels = side.session.known.labels
    assert side.folder is not None
    if side.id == TEAM:
        return
    if side.opened:
        record = site_record(side.store)
        labels[side.id] = record.name if record else side.folder
    elif side.id not in labels:
        labels[side.id] = side.files.site_name(side.id) or side.folder
    side.outcome.label = labels[side.id]


def _find_missing(side: StoreSide) -> None:
    """Name the files that other files say came before them and that are not here."""
    mine = side.sealed_names()
    headers, have = side.session.known.headers, set(mine)
    for name in mine:
        if name not in headers:
            headers[name] = side.files.header(name)
    lacking = {
        (headers[name][0], f"{previous}.jsonl")
        for name in mine
        for previous in headers[name][1]
        if f"{previous}.jsonl" not in have
    }
    for device, file in sorted(lacking):
        laptop = side.session.laptop_name(device)
        text = f"one file of laptop {laptop} has not arrived yet"
        side.outcome.lacks(str(side.key("sealed", file)), text, laptop)


def _find_new_conflicts(side: StoreSide) -> None:
    now = {f"{conflict.table}/{conflict.document}": conflict for conflict in side.store.conflicts()}
    for document, conflict in now.items():
        if {head.id for head in conflict.heads} - set(side.noted.told.get(document, ())):
            summary = conflict_summary(conflict, side.outcome.label, side.session.laptop_name)
            side.outcome.conflicts.append(summary)
    side.noted.told = {document: sorted(head.id for head in c.heads) for document, c in now.items()}
    side.noted.unfinished = False
