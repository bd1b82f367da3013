"""An athlete as the logbook knows them: a random id and a code. Names live in persons files only."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from fieldlog.records.base import Home, Record

__all__ = ["Athlete"]


class Athlete(Record):
    """An athlete. The code is a label that two laptops may give twice; the id is what counts."""

    table: ClassVar[str] = "athletes"
    home: ClassVar[Home] = "team"

    code: str = Field(min_length=1, max_length=40)
    squad: str = Field(default="", max_length=80)
    sex: Literal["female", "male"] | None = None
    minor: bool = False
    position: str = Field(default="", max_length=60)
