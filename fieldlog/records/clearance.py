"""Today's clearance of an athlete. Screening answers live in persons files; here stands only the outcome."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

from pydantic import Field, model_validator

from fieldlog.records.base import Home, Instant, Record, derived_id

__all__ = ["Clearance", "LimitRule", "Paper", "clearance_id"]

LimitRule = Literal[
    "submaximal only", "concentric only", "no extra repetition", "left side only", "right side only"
]
"""A limit that fieldlog itself keeps to; everything else stands in words."""

Paper = Literal["consent", "guardian's consent", "assent", "chaperone", "lever fits"]
"""What nobody's decision can stand in for: it is there or there is no test."""


class Clearance(Record):
    """Go, held, or go with limits; a held athlete goes on only by a named, qualified person's decision.

    No answer and no reason stands here, nor in ``limits``: those are in the persons files.
    """

    table: ClassVar[str] = "clearances"
    home: ClassVar[Home] = "site"

    visit_id: str
    athlete_id: str
    at: Instant
    by: str
    outcome: Literal["go", "held", "limits"]
    consent_in_date: bool
    missing: tuple[Paper, ...] = ()
    on_answers: bool = Field(default=False, description="held by an answer, not only by a missing paper")
    decided_by: str = Field(default="", max_length=120)
    decided_role: str = Field(default="", max_length=120)
    decided_at: Instant | None = None
    limits: str = Field(default="", max_length=300)
    limit_rules: tuple[LimitRule, ...] = ()
    form_version: int | None = Field(default=None, ge=1)

    @model_validator(mode="after")
    def _limits_have_an_author(self) -> Self:
        if self.outcome == "limits" and not (self.decided_by and self.limits):
            raise ValueError(
                "limits need the limits in words and the name of the qualified person who set them"
            )
        if self.outcome != "held" and not self.consent_in_date:
            raise ValueError("without consent in date the athlete is held")
        if self.outcome != "held" and self.missing:
            raise ValueError(f"without {self.missing[0]} the athlete is held")
        if self.limit_rules and self.outcome == "go":
            raise ValueError("limits belong to the outcome 'limits'")
        return self

    @property
    def needs_decision(self) -> bool:
        """Whether only a named, qualified person's decision can let the athlete go on."""
        return self.outcome == "held" and (self.on_answers or not self.missing)


def clearance_id(visit_id: str, athlete_id: str) -> str:
    """Id of the one clearance of an athlete at a visit, alike on every laptop."""
    return derived_id("clearance", visit_id, athlete_id)
