"""A retest that is planned: who, under which protocol, and from when to when."""

from __future__ import annotations

import datetime as dt
from typing import ClassVar, Self

from pydantic import Field, model_validator

from fieldlog.records.base import Home, Record

__all__ = ["PlannedRetest"]


class PlannedRetest(Record):
    """A retest of a squad, or of one athlete, between two days."""

    table: ClassVar[str] = "planned_retests"
    home: ClassVar[Home] = "team"

    protocol_id: str
    due_from: dt.date
    due_by: dt.date
    squad: str = Field(default="", max_length=80)
    athlete_id: str | None = None
    called_off: bool = False
    note: str = Field(default="", max_length=500)

    @model_validator(mode="after")
    def _is_about_somebody(self) -> Self:
        if bool(self.squad) == (self.athlete_id is not None):
            raise ValueError("a retest is planned for a squad or for one athlete")
        if self.due_by < self.due_from:
            raise ValueError("due_by is before due_from")
        return self
