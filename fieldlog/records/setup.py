"""A setup: what was dialled in for one athlete and side at one visit."""

from __future__ import annotations

from typing import ClassVar

from pydantic import Field

from fieldlog.records.base import Home, Instant, Part, Record, derived_id
from fieldlog.records.terms import Side

__all__ = ["Setup", "StepTaken", "setup_id"]


class StepTaken(Part):
    """One step of the plan as done: confirmed, read or chosen; ``why`` explains a reading off the last one.

    ``at`` tells whether a safeguard was seen to before or after the last change at the rig.
    """

    key: str
    confirmed: bool = False
    reading: float | None = None
    choice: str | None = None
    why: str = Field(default="", max_length=300)
    at: Instant | None = None


class Setup(Record):
    """The steps taken, with the version of the plan they belong to."""

    table: ClassVar[str] = "setups"
    home: ClassVar[Home] = "site"

    visit_id: str
    athlete_id: str
    rig_id: str | None = None
    side: Side
    plan_id: str
    plan_version: int
    at: Instant
    by: str
    steps: tuple[StepTaken, ...] = ()

    def taken(self, key: str) -> StepTaken | None:
        """The step ``key`` as taken, or ``None`` where it was passed over."""
        return next((step for step in self.steps if step.key == key), None)

    def reading(self, key: str) -> float | None:
        """The reading of step ``key``, or ``None`` where there is none."""
        step = self.taken(key)
        return None if step is None else step.reading


def setup_id(visit_id: str, athlete_id: str, side: Side, plan_id: str, plan_version: int) -> str:
    """Id of the one setup of an athlete and side under a plan's version at a visit, alike on every laptop."""
    return derived_id("setup", visit_id, athlete_id, side, plan_id, str(plan_version))
