"""An athlete on the day: what is noted before the first effort, and when they can be tested."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

from pydantic import Field, model_validator

from fieldlog.records.base import Home, Instant, Record, derived_id
from fieldlog.records.terms import Side

__all__ = ["AthleteDay", "athlete_day_id"]


class AthleteDay(Record):
    """What can change a result without being strength, and what the order of the batch must respect.

    ``not_last`` asks for a turn that is not the last of the day and gives no reason; nothing about health
    stands here.
    """

    table: ClassVar[str] = "athlete_days"
    home: ClassVar[Home] = "site"

    visit_id: str
    athlete_id: str
    at: Instant
    by: str
    footwear: str = Field(default="", max_length=80)
    warm_up_done: bool | None = None
    dominant_side: Side | None = None
    first_side: Literal["left", "right"] | None = None
    cheering: bool | None = None
    curve_visible: bool | None = None
    not_last: bool = False
    available_from: Instant | None = None
    available_until: Instant | None = None
    chaperone_from: Instant | None = None
    chaperone_until: Instant | None = None

    @model_validator(mode="after")
    def _windows_run_forward(self) -> Self:
        for name, start, end in (
            ("available", self.available_from, self.available_until),
            ("chaperone", self.chaperone_from, self.chaperone_until),
        ):
            if start is not None and end is not None and start >= end:
                raise ValueError(f"{name}_until is not after {name}_from")
        return self


def athlete_day_id(visit_id: str, athlete_id: str) -> str:
    """Id of what is noted of an athlete at a visit, alike on every laptop."""
    return derived_id("athlete_day", visit_id, athlete_id)
