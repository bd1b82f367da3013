"""A set: one recording of one athlete, its recipe, its measures, and whether it counts."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from pydantic import Field

from fieldlog.records.base import Home, Instant, Part, Record, Sha256
from fieldlog.records.kept_body import MeasuresBody
from fieldlog.records.terms import Mode, Side

__all__ = ["EffortSet", "LeaveOut", "Standing"]

Standing = Literal["counted", "familiarisation", "redone", "stopped"]


class LeaveOut(Part):
    """A repetition that stays listed but does not count, and why."""

    index: int = Field(ge=1)
    reason: Literal["cough", "slip", "wrong start", "hit the stop", "other"]


class EffortSet(Record):
    """One set. ``trace`` and ``sweep_trace`` are SHA-256 names of recordings kept byte for byte."""

    table: ClassVar[str] = "sets"
    home: ClassVar[Home] = "site"

    visit_id: str
    batch_id: str
    athlete_id: str
    protocol_id: str
    rig_id: str
    setup_id: str | None = None
    number: int = Field(ge=1)
    side: Side
    mode: Mode
    speed_deg_s: float = Field(ge=0)
    at: Instant
    by: str
    body_mass_kg: float | None = Field(default=None, gt=0, le=400)
    trace: Sha256
    trace_name: str = Field(max_length=200)
    sweep_trace: Sha256 | None = None
    column_map: dict[str, Any] | None = None
    options: dict[str, Any]
    measures: MeasuresBody
    left_out: tuple[LeaveOut, ...] = ()
    standing: Standing = "counted"
    without_clearance: bool = False
    note: str = Field(default="", max_length=2000)
