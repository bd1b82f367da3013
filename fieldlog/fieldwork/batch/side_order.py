"""Which side goes first: as at the last visit, so that tiredness falls on the same side again."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from fieldlog.fieldwork.athletes.athlete_days import day_of
from fieldlog.fieldwork.books import everywhere
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Protocol, Side
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["side_order"]


def side_order(
    workspace: Workspace, store: Store, visit: Visit, athlete_id: str, protocol: Protocol
) -> tuple[Side, ...]:
    """Return the protocol's sides in the order of the athlete's last visit under it.

    Without an earlier visit the side asked for today comes first, else the protocol's order holds.
    """
    earlier = [
        kept.record
        for _, kept in everywhere(workspace, EffortSet, athlete_id=athlete_id, protocol_id=protocol.id)
        if kept.record.at.date() < visit.date and kept.record.side in protocol.sides
    ]
    if earlier:
        last_visit = max(earlier, key=lambda record: record.at).visit_id
        done = sorted(
            (record for record in earlier if record.visit_id == last_visit), key=lambda record: record.at
        )
        return _first_then((record.side for record in done), protocol.sides)
    noted = day_of(store, visit, athlete_id)
    first = noted.record.first_side if noted else None
    return _first_then([first] if first in protocol.sides and first else [], protocol.sides)


def _first_then(first: Iterable[Side], sides: Sequence[Side]) -> tuple[Side, ...]:
    return tuple(dict.fromkeys([*first, *sides]))
