"""A typical error that the team typed in from a publication or from its own earlier work."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from fieldlog.records.base import Home, Record
from fieldlog.records.terms import Direction, Mode, Region

__all__ = ["IN_POINTS", "TypedError"]

IN_POINTS = ("angle", "side difference")
"""What may be zero or negative, so that an error in percent of it means nothing."""


class TypedError(Record):
    """A typical error with its citation. Empty fields fit everything; the one that says most is taken.

    ``family`` is what is measured: peak torque, work, power, ratio, … ``unit`` ``pct`` is percent of the
    value, ``points`` the measure's own unit. ``weight_dof`` is how many degrees of freedom it counts for.
    """

    table: ClassVar[str] = "typed_errors"
    home: ClassVar[Home] = "team"

    family: str = Field(min_length=1, max_length=60)
    value: float = Field(gt=0, le=100)
    unit: Literal["pct", "points"] = "pct"
    citation: Annotated[str, StringConstraints(strip_whitespace=True, min_length=3, max_length=400)]
    region: Region | None = None
    plan_id: str | None = None
    direction: Direction | None = None
    speed_deg_s: float | None = Field(default=None, ge=0, le=600)
    mode: Mode | None = None
    tester: Literal["same", "changed"] = "same"
    weight_dof: float = Field(default=10.0, ge=1, le=200)

    @model_validator(mode="after")
    def _percent_of_angles_means_nothing(self) -> Self:
        if self.family in IN_POINTS and self.unit == "pct":
            raise ValueError("an angle or a side difference has its error in points")
        return self
