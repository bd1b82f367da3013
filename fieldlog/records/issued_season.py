"""A printed season sheet of a squad: what it was made from, so that it can be told whether it still holds."""

from __future__ import annotations

import datetime as dt
from typing import ClassVar, Literal

from pydantic import Field

from fieldlog.records.base import Home, Record, Sha256
from fieldlog.records.issued_sheet import Source

__all__ = ["IssuedSeason"]


class IssuedSeason(Record):
    """Number and revision of a season sheet. It belongs to no place: a squad is tested at many."""

    table: ClassVar[str] = "issued_seasons"
    home: ClassVar[Home] = "team"

    kind: Literal["season"] = "season"
    squad: str
    first_day: dt.date
    last_day: dt.date
    number: str
    revision: int = Field(ge=1)
    date: dt.date
    digest: Sha256
    sources: tuple[Source, ...]
