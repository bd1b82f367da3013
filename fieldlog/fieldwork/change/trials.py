"""Trials: each counted figure with the conditions it was taken under, as comparison needs them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from fieldlog.fieldwork.results.measure_list import Measure
from fieldlog.fieldwork.results.results import DirectionResult
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Direction, Mode, Protocol, Side
from fieldlog.records.setup import Setup
from fieldlog.records.setup_plan import SetupPlan
from fieldlog.records.visit import Visit

__all__ = ["Line", "Score", "Trial", "WeightWay", "line_of", "weight_way"]

_COVERS = ("suspect", "unverified", "provisional", "confirmed")
WeightWay = Literal["weighed", "given", "by the rig", "none", "unknown"]


@dataclass(frozen=True)
class Line:
    """What figures must share to stand in one row over time."""

    protocol_id: str
    side: Side
    mode: Mode
    speed_deg_s: float
    direction: Direction


@dataclass(frozen=True)
class Trial:
    """One direction of one counted set, with what a comparison must know of how it was taken."""

    result: DirectionResult
    visit: Visit
    protocol: Protocol
    first_visit: bool
    hours_since_hard_session: float | None
    dialled_in: Callable[[str], tuple[Setup | None, SetupPlan | None]] = field(repr=False, compare=False)
    """Looks up a setup and its plan by id; most trials are never asked for theirs."""

    @property
    def record(self) -> EffortSet:
        """The set."""
        return self.result.record

    @property
    def setup(self) -> Setup | None:
        """What was dialled in, None where nothing is on record."""
        return self.dialled_in(self.record.setup_id or "")[0]

    @property
    def plan(self) -> SetupPlan | None:
        """The plan it was dialled in by."""
        return self.dialled_in(self.record.setup_id or "")[1]

    @property
    def repetitions(self) -> int:
        """Repetitions that counted in this direction."""
        return int(self.result.figures["movements"])

    @property
    def line(self) -> Line:
        """The row this trial stands in."""
        return line_of(self.result)


@dataclass(frozen=True)
class Score:
    """One measure of an athlete on a day, with the trials behind it.

    One trial for a direction, up and down of one set for a ratio, left and right for a side difference.
    """

    measure: Measure
    line: Line
    value: float
    trials: tuple[Trial, ...]

    @property
    def trial(self) -> Trial:
        """The trial that stands for the score's day and conditions."""
        return self.trials[-1]

    @property
    def usable(self) -> bool:
        """Whether it may be compared and averaged as far as the rig goes."""
        return all(trial.result.cover.usable for trial in self.trials)

    @property
    def cover(self) -> str:
        """The cover of its trials, the least certain where they differ."""
        words = {trial.result.cover.word for trial in self.trials}
        return next(word for word in _COVERS if word in words)


def line_of(result: DirectionResult) -> Line:
    """The row a result stands in."""
    record = result.record
    return Line(record.protocol_id, record.side, record.mode, record.speed_deg_s, result.direction)


def weight_way(record: EffortSet) -> WeightWay:
    """How the limb's weight was taken out of a set's torque, if it was."""
    gravity = record.measures["recipe"]["gravity"]
    if gravity == "unknown":
        return "unknown"
    if gravity in ("sweep", "given"):
        return "weighed" if gravity == "sweep" else "given"
    already = ((record.column_map or {}).get("already") or {}).get("weight_corrected", "no")
    return {"yes": "by the rig", "unknown": "unknown"}.get(already, "none")  # type: ignore[return-value]
