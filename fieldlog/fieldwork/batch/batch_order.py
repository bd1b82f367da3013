"""The order of a batch: constraints first, then the least changing at the rig, with a timetable.

Pure: minutes from a common zero in, an order out. Who the turns belong to and where their values come
from is the business of :mod:`fieldlog.fieldwork.batch.batch_turns`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from fieldlog.fieldwork.batch.order_search import Problem, best_order

__all__ = ["FROZEN", "BatchOrder", "Costs", "RigState", "TimetableRow", "Turn", "order_batch"]

FROZEN = 2
"""The next athletes are told already; a new plan leaves them alone."""

_NO_READINGS: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True)
class Turn:
    """One athlete's turn with all sides. Times in minutes from the day's zero; ``None``: no such limit.

    ``readings`` and ``last_readings`` are what the first side needs and the last side leaves, by scale.
    ``usual_start`` is the time of day of the last visit. ``not_last`` keeps the turn from being the last.
    """

    key: str
    minutes: float
    unit: str = ""
    first_side: str = "both"
    last_side: str = "both"
    readings: Mapping[str, float] = field(default_factory=lambda: _NO_READINGS)
    last_readings: Mapping[str, float] | None = None
    earliest_start: float | None = None
    latest_end: float | None = None
    usual_start: float | None = None
    not_last: bool = False


@dataclass(frozen=True)
class RigState:
    """What stands on the rig before the first turn; an empty word is not known and costs no change."""

    unit: str = ""
    side: str = ""
    readings: Mapping[str, float] = field(default_factory=lambda: _NO_READINGS)


@dataclass(frozen=True)
class Costs:
    """Minutes that changes cost. ``travel`` is minutes for each unit of a scale's travel, by scale."""

    unit_change: float = 30.0
    side_change: float = 2.0
    scale_change: float = 0.3
    travel: Mapping[str, float] = field(default_factory=lambda: _NO_READINGS)
    changeover: float = 1.5
    usual_window: float = 120.0


@dataclass(frozen=True)
class TimetableRow:
    """One line of the timetable: when the changing begins, when the turn starts and ends."""

    key: str
    changing_from: float
    start: float
    end: float
    changing_minutes: float
    waiting_minutes: float
    broken: tuple[str, ...] = ()


@dataclass(frozen=True)
class BatchOrder:
    """An order with its timetable, beside the order of the list."""

    order: tuple[str, ...]
    timetable: tuple[TimetableRow, ...]
    changing_minutes: float
    list_changing_minutes: float
    end: float
    list_end: float
    broken: tuple[str, ...]
    list_broken: int
    proven_best: bool

    @property
    def saved_minutes(self) -> float:
        """Changing at the rig that the order saves against the list."""
        return self.list_changing_minutes - self.changing_minutes


def order_batch(
    turns: Sequence[Turn],
    *,
    start: float,
    rig: RigState | None = None,
    costs: Costs | None = None,
    frozen: Sequence[str] = (),
    absent: Sequence[str] = (),
) -> BatchOrder:
    """Return the best order of ``turns`` (given in the order of the list) from ``start`` on.

    Fewest broken constraints first, then the fewest minutes outside their windows, then the earliest end,
    which is the least changing and waiting. Turns named in ``frozen`` come first, in that order; those in
    ``absent`` come last, in the order of the list, outside every constraint. The order is proven to be the
    best for up to ten turns that are free to move, and found by insertion and local search beyond.

    A constraint that cannot be kept is named in ``broken``, never dropped in silence. Raises ValueError
    where a key occurs twice or is unknown, or a turn has no positive duration.
    """
    _check(turns, frozen, absent)
    by_key = {turn.key: turn for turn in turns}
    away = set(absent)
    tail = [turn for turn in turns if turn.key in away]
    head = [by_key[key] for key in frozen if key not in away]
    free = [turn for turn in turns if turn.key not in away and turn not in head]
    present = [turn for turn in turns if turn.key not in away]
    table = _Table([*head, *free], present, start=start, rig=rig or RigState(), costs=costs or Costs())
    found, proven = best_order(table.problem, fixed=len(head))
    listed = [table.place[turn.key] for turn in present]
    rows, changing = table.timetable(found)
    list_rows, list_changing = table.timetable(listed)
    end = rows[-1].end if rows else start
    for turn in tail:
        rows.append(TimetableRow(turn.key, end, end, end + turn.minutes, 0.0, 0.0, ("absent",)))
        end += turn.minutes
    return BatchOrder(
        order=tuple(row.key for row in rows),
        timetable=tuple(rows),
        changing_minutes=changing,
        list_changing_minutes=list_changing,
        end=rows[len(found) - 1].end if found else start,
        list_end=list_rows[-1].end if list_rows else start,
        broken=tuple(f"{row.key}: {reason}" for row in rows if row.key not in away for reason in row.broken),
        list_broken=sum(len(row.broken) for row in list_rows),
        proven_best=proven,
    )


class _Table:
    """The turns as numbers for the search, and the way back from an order to a timetable."""

    def __init__(
        self, turns: Sequence[Turn], listed: Sequence[Turn], *, start: float, rig: RigState, costs: Costs
    ) -> None:
        self.turns = tuple(turns)
        self.place = {turn.key: i for i, turn in enumerate(turns)}
        before = Turn(key="", minutes=0.0, unit=rig.unit, last_side=rig.side, readings=rig.readings)
        everyone_not_last = all(turn.not_last for turn in turns)
        day_end = _end_as_listed(listed, before, start, costs)
        windows = [_usual_window(turn, day_end, costs) for turn in turns]
        self.problem = Problem(
            start=start,
            work=tuple(turn.minutes for turn in turns),
            earliest=tuple(
                max(start if turn.earliest_start is None else turn.earliest_start, window[0])
                for turn, window in zip(turns, windows, strict=True)
            ),
            leave_by=tuple(
                math.inf if turn.latest_end is None else turn.latest_end - turn.minutes for turn in turns
            ),
            usual_until=tuple(window[1] for window in windows),
            # A rule that nobody could keep would only hide the others.
            not_last=tuple(turn.not_last and not everyone_not_last for turn in turns),
            first=tuple(_changing(before, turn, costs) for turn in turns),
            changing=tuple(tuple(_changing(one, other, costs) for other in turns) for one in turns),
        )
        self._usual = costs.usual_window

    def timetable(self, order: Sequence[int]) -> tuple[list[TimetableRow], float]:
        """Return the rows of an order and its minutes of changing."""
        problem = self.problem
        rows: list[TimetableRow] = []
        now, total = problem.start, 0.0
        for position, i in enumerate(order):
            changing = problem.first[i] if position == 0 else problem.changing[order[position - 1]][i]
            start = max(now + changing, problem.earliest[i])
            last = position == len(order) - 1
            rows.append(
                TimetableRow(
                    key=self.turns[i].key,
                    changing_from=now,
                    start=start,
                    end=start + problem.work[i],
                    changing_minutes=changing,
                    waiting_minutes=start - now - changing,
                    broken=self._broken(i, start, last=last),
                )
            )
            now = start + problem.work[i]
            total += changing
        return rows, total

    def _broken(self, i: int, start: float, *, last: bool) -> tuple[str, ...]:
        turn = self.turns[i]
        found = []
        if start > self.problem.leave_by[i] + _SLACK:
            found.append("ends after they must leave")
        if turn.usual_start is not None and abs(start - turn.usual_start) > self._usual + _SLACK:
            found.append("not at the usual time of day")
        if last and self.problem.not_last[i]:
            found.append("should not be last")
        return tuple(found)


_SLACK = 1e-9


def _usual_window(turn: Turn, day_end: float, costs: Costs) -> tuple[float, float]:
    if turn.usual_start is None:
        return -math.inf, math.inf
    opens, closes = turn.usual_start - costs.usual_window, turn.usual_start + costs.usual_window
    if opens > day_end:
        # It opens when the day would be over in any case: nobody waits for it, and the timetable says so.
        return -math.inf, math.inf
    return opens, closes


def _end_as_listed(turns: Sequence[Turn], before: Turn, start: float, costs: Costs) -> float:
    now = start
    for turn in turns:
        now = max(now + _changing(before, turn, costs), turn.earliest_start or start) + turn.minutes
        before = turn
    return now


def _changing(one: Turn, other: Turn, costs: Costs) -> float:
    minutes = costs.changeover
    if one.unit and one.unit != other.unit:
        # After a change of unit every scale is set anew, whatever it stood at.
        return minutes + costs.unit_change
    if one.last_side and one.last_side != other.first_side:
        minutes += costs.side_change
    left = one.readings if one.last_readings is None else one.last_readings
    for scale, reading in other.readings.items():
        if scale not in left:
            minutes += costs.scale_change
        elif reading != left[scale]:
            minutes += costs.scale_change + costs.travel.get(scale, 0.0) * abs(reading - left[scale])
    return minutes


def _check(turns: Sequence[Turn], frozen: Sequence[str], absent: Sequence[str]) -> None:
    keys = [turn.key for turn in turns]
    if len(set(keys)) != len(keys):
        raise ValueError("one turn is in the batch twice")
    if len(set(frozen)) != len(frozen):
        raise ValueError("one turn is frozen twice")
    for key in (*frozen, *absent):
        if key not in keys:
            raise ValueError(f"{key!r} is not in the batch")
    for turn in turns:
        if not 0.0 < turn.minutes < float("inf"):
            raise ValueError(f"{turn.key}: a turn takes more than 0 minutes")
