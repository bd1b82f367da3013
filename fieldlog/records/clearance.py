"""Today's clearance of an athlete. Screening answers live in persons files; here stands only the outcome."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

from pydantic import Field, model_validator

from fieldlog.records.base import Instant, Record

__all__ = ["Clearance"]


class Clearance(Record):
    """Go, held, or go with limits; a held athlete goes on only by a named, qualified person's decision."""

    table: ClassVar[str] = "clearances"
    home: ClassVar[Literal["team", "site"]] = "site"

    visit_id: str
    athlete_id: str
    at: Instant
    by: str
    outcome: Literal["go", "held", "limits"]
    consent_in_date: bool
    decided_by: str = Field(default="", max_length=120)
    limits: str = Field(default="", max_length=300)

    @model_validator(mode="after")
    def _limits_have_an_author(self) -> Self:
        if self.outcome == "limits" and not (self.decided_by and self.limits):
            raise ValueError(
                "limits need the limits in words and the name of the qualified person who set them"
            )
        if self.outcome == "go" and not self.consent_in_date:
            raise ValueError("without consent in date the athlete is held")
        return self
