"""Which set is next, and how long the athlete still rests."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import PlannedSet, Protocol, Side

__all__ = ["Place", "RestClock", "RunRow", "next_row", "run_of_sets"]

Place = tuple[Side, int]
"""A set of the protocol: the side, and its number from 1 within the side."""


@dataclass(frozen=True)
class RestClock:
    """A rest that began at ``since`` and lasts ``rest_s`` seconds."""

    since: dt.datetime
    rest_s: int

    def left_s(self, now: dt.datetime) -> int:
        """Return the whole seconds still to rest, never below 0."""
        return max(math.ceil(self.rest_s - (now - self.since).total_seconds()), 0)

    def text(self, now: dt.datetime) -> str:
        """Return the rest as minutes and seconds, or that it is over."""
        left = self.left_s(now)
        return f"rest {left // 60}:{left % 60:02}" if left else "rested"


@dataclass(frozen=True)
class RunRow:
    """One set of the protocol for one side. ``recorded`` is the set that counts for it, if there is one."""

    place: Place
    planned: PlannedSet
    text: str
    state: str
    recorded: EffortSet | None = None


def run_of_sets(
    protocol: Protocol, sides: Sequence[Side], sets: Iterable[EffortSet], passed: Iterable[Place] = ()
) -> tuple[RunRow, ...]:
    """Return every set of the protocol in the order it is done: all of one side, then the other.

    ``sets`` are those of this athlete at this visit, ``passed`` places done without a recording, such as
    familiarisation. A familiarisation counts as passed once its counted set is there. States: ``done``,
    ``passed``, ``next`` (the first that is open) and ``open``.
    """
    recorded = [record for record in sets if record.standing in ("counted", "familiarisation")]
    marked = set(passed)
    rows: list[RunRow] = []
    next_found = False
    for side in sides:
        for number, planned in enumerate(protocol.sets, start=1):
            found = next((r for r in recorded if r.side == side and _belongs(r, planned)), None)
            later = planned.purpose == "familiarisation" and any(
                r.side == side
                and r.standing == "counted"
                and (r.speed_deg_s, r.mode) == (planned.speed_deg_s, planned.mode)
                for r in recorded
            )
            if found is not None:
                state = "done"
            elif (side, number) in marked or later:
                state = "passed"
            else:
                state = "open" if next_found else "next"
                next_found = True
            rows.append(RunRow((side, number), planned, _text(planned), state, found))
    return tuple(rows)


def next_row(rows: Sequence[RunRow]) -> RunRow | None:
    """Return the set that is next, or ``None`` when all are done."""
    return next((row for row in rows if row.state == "next"), None)


def _belongs(record: EffortSet, planned: PlannedSet) -> bool:
    return (record.speed_deg_s, record.mode, record.standing) == (
        planned.speed_deg_s,
        planned.mode,
        planned.purpose,
    )


def _text(planned: PlannedSet) -> str:
    what = "hold" if planned.mode == "isometric" else f"{planned.speed_deg_s:g}°/s"
    mode = " eccentric" if planned.mode == "eccentric" else ""
    easy = ", familiarisation" if planned.purpose == "familiarisation" else ""
    warm_up = f", {planned.warm_up_repetitions} of them to warm up" if planned.warm_up_repetitions else ""
    return f"{what}{mode} × {planned.repetitions}{easy}{warm_up}"
