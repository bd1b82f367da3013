"""A place where a rig stands on a visit."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field, StringConstraints

from fieldlog.records.base import Home, Record

__all__ = ["Site"]


class Site(Record):
    """A place: its name and what local gravity depends on."""

    table: ClassVar[str] = "site"
    home: ClassVar[Home] = "site"

    name: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=120)]
    latitude_deg: float = Field(ge=-90.0, le=90.0)
    height_m: float = Field(ge=-500.0, le=9000.0)
    note: str = Field(default="", max_length=2000)
