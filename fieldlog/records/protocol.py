"""A protocol: which efforts are asked for, and what its two directions are called."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

from pydantic import Field, model_validator

from fieldlog.records.base import Home, Part, Record
from fieldlog.records.terms import Direction, Mode, Region, Side

__all__ = ["Direction", "Mode", "PlannedSet", "Protocol", "Side"]


class PlannedSet(Part):
    """One set as planned, in the order given."""

    speed_deg_s: float = Field(ge=0, le=600)
    mode: Mode = "concentric"
    repetitions: int = Field(ge=1, le=200)
    warm_up_repetitions: int = Field(default=0, ge=0, le=50)
    rest_s: int = Field(default=60, ge=0, le=1800)
    purpose: Literal["familiarisation", "counted"] = "counted"
    effort: Literal["submaximal", "maximal"] = "maximal"
    extra_allowed: int = Field(default=0, ge=0, le=10)

    @model_validator(mode="after")
    def _a_hold_stands_still(self) -> Self:
        if (self.speed_deg_s == 0) != (self.mode == "isometric"):
            raise ValueError("a speed of 0 belongs to isometric sets, and only to them")
        return self


class Protocol(Record):
    """A protocol. Angles grow in the direction called ``up``; the words for both are the protocol's own."""

    table: ClassVar[str] = "protocols"
    home: ClassVar[Home] = "team"

    name: str = Field(min_length=1, max_length=120)
    version: int = Field(default=1, ge=1)
    source: str = Field(default="common practice", max_length=300)
    region: Region
    plan_id: str
    up_name: str = Field(min_length=1, max_length=40)
    down_name: str = Field(min_length=1, max_length=40)
    up_is_effort: bool = True
    down_is_effort: bool = True
    ratio_numerator: Direction | None = "down"
    sides: tuple[Side, ...] = ("right", "left")
    sets: tuple[PlannedSet, ...] = Field(min_length=1)
    weight_correction: Literal["sweep", "none"] = "sweep"
    angles_deg: tuple[float, ...] = ()
    caution: str = Field(default="", max_length=400)
    note: str = Field(default="", max_length=2000)

    @model_validator(mode="after")
    def _ratio_needs_two_efforts(self) -> Self:
        if self.ratio_numerator and not (self.up_is_effort and self.down_is_effort):
            raise ValueError("a ratio needs both directions to be efforts")
        return self

    def direction_name(self, direction: Direction) -> str:
        """The protocol's word for ``up`` or ``down``."""
        return self.up_name if direction == "up" else self.down_name

    @property
    def efforts(self) -> tuple[Direction, ...]:
        """The directions that are efforts, ``up`` first."""
        up: tuple[Direction, ...] = ("up",) if self.up_is_effort else ()
        down: tuple[Direction, ...] = ("down",) if self.down_is_effort else ()
        return up + down

    @property
    def ratio_directions(self) -> tuple[Direction, Direction] | None:
        """Numerator and denominator of the ratio, or ``None`` where none is formed."""
        if self.ratio_numerator is None:
            return None
        return ("up", "down") if self.ratio_numerator == "up" else ("down", "up")

    @property
    def ratio_name(self) -> str | None:
        """Numerator/denominator in the protocol's words, or ``None`` where no ratio is formed."""
        if self.ratio_directions is None:
            return None
        return "/".join(self.direction_name(direction) for direction in self.ratio_directions)
