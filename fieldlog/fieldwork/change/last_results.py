"""The athlete's results before a visit, the latest in each line."""

from __future__ import annotations

from collections.abc import Iterator

from fieldlog.exchange.likeness import same_person
from fieldlog.fieldwork.books import everywhere
from fieldlog.fieldwork.change.trials import Line, line_of
from fieldlog.fieldwork.results.results import DirectionResult, ResultBook
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.workspace import Workspace

__all__ = ["last_results"]


def last_results(
    book: ResultBook, visit: Visit, athlete_id: str
) -> dict[Line, tuple[Visit, DirectionResult]]:
    """The athlete's latest earlier result for each protocol, side, mode, speed and direction, over all sites.

    An athlete who was entered twice is one person.
    """
    visits = {kept.record.id: kept.record for _, kept in everywhere(book.workspace, Visit)}
    latest: dict[Line, tuple[Visit, DirectionResult]] = {}
    for kept in _sets_of(book.workspace, athlete_id):
        record = kept.record
        earlier = visits.get(record.visit_id)
        if earlier is None or earlier.date >= visit.date or record.standing != "counted":
            continue
        if record.without_clearance:
            continue
        for result in book.of_set(kept):
            line = line_of(result)
            if line not in latest or latest[line][0].date < earlier.date:
                latest[line] = (earlier, result)
    return latest


def _sets_of(workspace: Workspace, athlete_id: str) -> Iterator[Kept[EffortSet]]:
    for known_as in same_person(workspace.team, athlete_id):
        for _, kept in everywhere(workspace, EffortSet, athlete_id=known_as):
            yield kept
