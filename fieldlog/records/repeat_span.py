"""What the team says of a span of time: nothing was done to change strength in it, or something was."""

from __future__ import annotations

import datetime as dt
from typing import ClassVar, Literal, Self

from pydantic import Field, model_validator

from fieldlog.records.base import Home, Record

__all__ = ["RepeatSpan"]


class RepeatSpan(Record):
    """Tests within a ``repeat`` span were repeated without treatment; a ``treatment`` span parts them.

    It is about one athlete, a squad, or, with neither, everybody.
    """

    table: ClassVar[str] = "repeat_spans"
    home: ClassVar[Home] = "team"

    kind: Literal["repeat", "treatment"]
    first_day: dt.date
    last_day: dt.date
    athlete_id: str | None = None
    squad: str = Field(default="", max_length=80)
    note: str = Field(default="", max_length=500)

    @model_validator(mode="after")
    def _runs_forward(self) -> Self:
        if self.last_day < self.first_day:
            raise ValueError("last_day is before first_day")
        if self.athlete_id and self.squad:
            raise ValueError("a span is about one athlete or about a squad")
        return self
