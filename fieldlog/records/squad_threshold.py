"""A team's own threshold for flagging a ratio or a side difference."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

from pydantic import Field, model_validator

from fieldlog.records.base import Home, Record
from fieldlog.records.terms import Direction

__all__ = ["SquadThreshold"]


class SquadThreshold(Record):
    """Outside ``low_pct`` to ``high_pct`` a ratio is flagged; a side difference where its size is above ``high_pct``.

    fieldlog ships none: what is worth a look is the team's to say, with its reason.
    """

    table: ClassVar[str] = "squad_thresholds"
    home: ClassVar[Home] = "team"

    measure: Literal["ratio_pct", "side_difference_pct"]
    protocol_id: str
    direction: Direction | None = None
    low_pct: float | None = Field(default=None, ge=0, le=1000)
    high_pct: float | None = Field(default=None, ge=0, le=1000)
    reason: str = Field(min_length=3, max_length=300)

    @model_validator(mode="after")
    def _has_an_order(self) -> Self:
        if self.low_pct is None and self.high_pct is None:
            raise ValueError("a threshold needs low_pct or high_pct")
        if self.low_pct is not None and self.high_pct is not None and self.low_pct >= self.high_pct:
            raise ValueError("low_pct is not below high_pct")
        if self.measure == "side_difference_pct" and (self.low_pct is not None or self.high_pct is None):
            raise ValueError("a side difference is flagged above high_pct, whichever side is larger")
        return self
