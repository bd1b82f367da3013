"""A stop during the test. What hurt, and how much, is in the persons files; here stands only that it stopped."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

from pydantic import Field, model_validator

from fieldlog.records.base import Home, Instant, Record

__all__ = ["StopEntry"]


class StopEntry(Record):
    """The test of an athlete was stopped; ``no_restart`` holds for the day unless a named person lifts it."""

    table: ClassVar[str] = "stops"
    home: ClassVar[Home] = "site"

    visit_id: str
    athlete_id: str
    at: Instant
    by: str
    kind: Literal["athlete", "strap slip", "rig noise", "other"]
    no_restart: bool = False
    released_by: str = Field(default="", max_length=120)
    released_role: str = Field(default="", max_length=120)
    released_at: Instant | None = None

    @model_validator(mode="after")
    def _a_release_has_a_time(self) -> Self:
        if bool(self.released_by) != (self.released_at is not None):
            raise ValueError("a release needs the name of who gave it and its time")
        return self

    @property
    def holds(self) -> bool:
        """Whether this stop still keeps the athlete from starting again today."""
        return self.no_restart and not self.released_by
