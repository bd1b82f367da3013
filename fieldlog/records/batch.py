"""A batch: the athletes and the protocol of a visit, in the order they come to the rig."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from fieldlog.records.base import Home, Part, Record
from fieldlog.records.terms import Side

__all__ = ["Batch", "BatchEntry"]


class BatchEntry(Part):
    """One athlete's turn, with the order of sides; ``status`` says whether the turn is still to come."""

    athlete_id: str
    sides: tuple[Side, ...]
    status: Literal["waiting", "done", "absent"] = "waiting"
    body_mass_kg: float | None = Field(default=None, gt=0, le=400)


class Batch(Record):
    """The turns of a visit under one protocol."""

    table: ClassVar[str] = "batches"
    home: ClassVar[Home] = "site"

    visit_id: str
    protocol_id: str
    squad: str = Field(default="", max_length=80)
    entries: tuple[BatchEntry, ...] = ()
