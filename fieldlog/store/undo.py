"""What a record was before its last change, as a person who presses undo means it."""

from __future__ import annotations

from fieldlog.errors import RefusedError
from fieldlog.store.documents import Strand, precedence
from fieldlog.store.lines import Revision, canonical

__all__ = ["body_before"]


def body_before(strand: Strand, shown: Revision) -> bytes | None:
    """Return the body to go back to from ``shown``, None where that is the time before the record.

    An undo that was done counts as a step back, so that a second one goes further. Raises
    RefusedError where nothing earlier is known.
    """
    by_id = {revision.id: revision for revision in strand.revisions}
    line = [shown]
    while parents := [by_id[parent] for parent in line[-1].parents if parent in by_id]:
        line.append(max(parents, key=precedence))
    line.reverse()
    if shown.raw is None:
        if len(line) == 1:
            raise RefusedError("there is nothing to undo", "what was deleted is not here")
        return line[-2].raw
    # A revision that brings back the body before the last one is an undo: it takes a step off.
    steps: list[bytes | None] = [None]
    for revision in line:
        if len(steps) > 1 and canonical(steps[-2]) == canonical(revision.raw):
            steps.pop()
        elif canonical(steps[-1]) != canonical(revision.raw):
            steps.append(revision.raw)
    return steps[-2]
