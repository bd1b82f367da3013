"""Reference standards: the masses, levers and instruments a rig is checked against."""

from __future__ import annotations

import datetime as dt
from typing import ClassVar, Literal

from pydantic import Field

from fieldlog.records.base import Home, Part, Record

__all__ = ["Certificate", "ReferenceStandard"]


class Certificate(Part):
    """Who vouches for a standard, and until when."""

    number: str = Field(min_length=1, max_length=120)
    issued_by: str = Field(default="", max_length=200)
    issued_on: dt.date | None = None
    due_on: dt.date | None = None
    traceable_to: str = Field(default="", max_length=200)


class ReferenceStandard(Record):
    """One standard: a mass, a lever, an inclinometer, a timer."""

    table: ClassVar[str] = "standards"
    home: ClassVar[Home] = "team"

    name: str = Field(min_length=1, max_length=120)
    kind: Literal["mass", "lever", "inclinometer", "timer"]
    nominal: float = Field(gt=0)
    unit: Literal["kg", "m", "deg", "s"]
    value: float | None = Field(default=None, gt=0)
    standard_uncertainty: float | None = Field(default=None, ge=0)
    mass_class: Literal["E1", "E2", "F1", "F2", "M1", "M2", "M3", "unweighed"] | None = None
    certificate: Certificate | None = None
