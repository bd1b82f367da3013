"""The questions of the same-day clearance, which a team edits to its local rules."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

from pydantic import Field, model_validator

from fieldlog.records.base import Home, Part, Record
from fieldlog.records.clearance import Paper

__all__ = ["ClearanceForm", "ClearanceItem"]


class ClearanceItem(Part):
    """One question. ``holds_on`` and ``holds_above`` say which answer holds the athlete.

    An item with ``paper`` asks for something that no decision can stand in for.
    """

    key: str = Field(pattern=r"^[a-z][a-z0-9_]{0,39}$")
    label: str = Field(min_length=1, max_length=60)
    question: str = Field(min_length=1, max_length=300)
    kind: Literal["yes_no", "number", "text"] = "yes_no"
    unit: str = Field(default="", max_length=20)
    low: float | None = None
    high: float | None = None
    holds_on: Literal["yes", "no"] | None = None
    holds_above: float | None = None
    paper: Paper | None = None
    for_whom: Literal["everyone", "minors"] = "everyone"
    must_answer: bool = True
    caution: str = Field(default="", max_length=300)

    @model_validator(mode="after")
    def _holds_fit_the_kind(self) -> Self:
        if self.holds_on and self.kind != "yes_no":
            raise ValueError("'holds_on' belongs to a yes/no question")
        if self.holds_above is not None and self.kind != "number":
            raise ValueError("'holds_above' belongs to a number")
        if self.paper and self.holds_on != "no":
            raise ValueError(f"{self.paper!r} must hold the athlete when the answer is no")
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise ValueError("the smallest answer is not below the largest")
        return self


class ClearanceForm(Record):
    """The team's form. A changed form is a new version; clearances say under which they were taken."""

    table: ClassVar[str] = "clearance_forms"
    home: ClassVar[Home] = "team"

    name: str = Field(min_length=1, max_length=120)
    version: int = Field(default=1, ge=1)
    source: str = Field(default="common practice", max_length=300)
    caution: str = Field(default="", max_length=400)
    items: tuple[ClearanceItem, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _items_are_told_apart(self) -> Self:
        keys = [item.key for item in self.items]
        if len(set(keys)) != len(keys):
            raise ValueError("two questions share one key")
        return self

    def asked_of(self, *, minor: bool) -> tuple[ClearanceItem, ...]:
        """The questions for a minor or for an adult, in order."""
        return tuple(item for item in self.items if minor or item.for_whom == "everyone")
