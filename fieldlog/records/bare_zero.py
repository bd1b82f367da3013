"""The reading of the bare lever before an athlete: what tells that the zero has moved since the last check."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from fieldlog.records.base import Home, Instant, Record

__all__ = ["BareZero"]


class BareZero(Record):
    """One reading of the lever with nothing on it, in hold."""

    table: ClassVar[str] = "bare_zeros"
    home: ClassVar[Home] = "site"

    visit_id: str
    rig_id: str
    at: Instant
    by: str
    reading_nm: Annotated[float, Field(ge=-1e5, le=1e5)]
    athlete_id: str | None = None
