"""A review: a decision of the lead about a record, with name, time and remark."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from fieldlog.records.base import Instant, Record

__all__ = ["Review"]


class Review(Record):
    """Sign-off of a check, or what is done with a result that a failed check touches."""

    table: ClassVar[str] = "reviews"
    home: ClassVar[Literal["team", "site"]] = "site"

    subject_table: Literal["rig_checks", "sets"]
    subject_id: str
    decision: Literal["signed_off", "released", "corrected", "withheld", "retest"]
    at: Instant
    by: str
    remark: str = Field(min_length=1, max_length=2000)
