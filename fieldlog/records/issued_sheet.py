"""A printed sheet: what it was made from, so that it can be told whether it still holds."""

from __future__ import annotations

import datetime as dt
from typing import ClassVar, Literal

from pydantic import Field

from fieldlog.records.base import Home, Part, Record, Sha256

__all__ = ["IssuedSheet", "SheetKind", "Source"]

SheetKind = Literal["coach", "athlete", "rig", "visit"]
"""The sheets of a visit; that of a season is a record of its own."""


class Source(Part):
    """One record a sheet was made from, in the revision it had."""

    store: str
    table: str
    document: str
    revision: str


class IssuedSheet(Record):
    """Number and revision of a sheet. The id follows from what it was made from: the same inputs, the same sheet."""

    table: ClassVar[str] = "issued_sheets"
    home: ClassVar[Home] = "site"

    kind: SheetKind
    visit_id: str
    athlete_id: str | None = None
    rig_id: str | None = None
    number: str
    revision: int = Field(ge=1)
    date: dt.date
    digest: Sha256
    sources: tuple[Source, ...]
