"""A setup: what was dialled in for one athlete and side at one visit."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from fieldlog.records.base import Instant, Part, Record
from fieldlog.records.protocol import Side

__all__ = ["Setup", "StepTaken"]


class StepTaken(Part):
    """One step of the plan as done: confirmed, read or chosen; ``why`` explains a reading off the last one."""

    key: str
    confirmed: bool = False
    reading: float | None = None
    choice: str | None = None
    why: str = Field(default="", max_length=300)


class Setup(Record):
    """The steps taken, with the version of the plan they belong to."""

    table: ClassVar[str] = "setups"
    home: ClassVar[Literal["team", "site"]] = "site"

    visit_id: str
    athlete_id: str
    side: Side
    plan_id: str
    plan_version: int
    at: Instant
    by: str
    steps: tuple[StepTaken, ...] = ()

    def taken(self, key: str) -> StepTaken | None:
        """The step ``key`` as taken, or ``None`` where it was passed over."""
        return next((step for step in self.steps if step.key == key), None)
