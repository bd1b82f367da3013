"""The sample's raw visit as it lies in its file: what happened when, and which recordings belong to it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import orjson

from fieldlog.records.base import Instant, Part
from fieldlog.records.effort_set import LeaveOut
from fieldlog.records.protocol import Mode, Side
from fieldlog.records.rig import EventKind
from fieldlog.records.visit import Arrival

__all__ = ["VISIT_FILE", "RawCheck", "RawEvent", "RawSet", "RawSetup", "RawTurn", "RawVisit", "read_visit"]

VISIT_FILE = "visit.json"


class RawEvent(Part):
    """Something that happened to the rig that day."""

    at: Instant
    kind: EventKind
    note: str = ""


class RawCheck(Part):
    """A check file of that day."""

    at: Instant
    file: str


class RawTurn(Part):
    """The athletes of one protocol, and who of them did not come."""

    protocol_id: str
    athletes: tuple[str, ...]
    absent: tuple[str, ...] = ()


class RawSetup(Part):
    """The scale readings and choices of one athlete and side."""

    at: Instant
    athlete: str
    protocol_id: str
    side: Side
    readings: dict[str, float]
    choices: dict[str, str]


class RawSet(Part):
    """One recording and what has to be known to analyse it."""

    at: Instant
    file: str
    athlete: str
    protocol_id: str
    side: Side
    mode: Mode
    speed_deg_s: float
    body_mass_kg: float
    sweep_file: str | None = None
    column_map_file: str | None = None
    left_out: tuple[LeaveOut, ...] = ()


class RawVisit(Part):
    """A visit as raw files."""

    about: str
    site: str
    date: dt.date
    tester: str
    squad: str
    rig: str
    arrived_at: Instant
    arrival: Arrival
    events: tuple[RawEvent, ...] = ()
    checks: tuple[RawCheck, ...]
    turns: tuple[RawTurn, ...]
    setups: tuple[RawSetup, ...]
    sets: tuple[RawSet, ...]


def read_visit(folder: Path) -> RawVisit:
    """Read the visit file of a folder with raw recordings."""
    return RawVisit.model_validate(orjson.loads((folder / VISIT_FILE).read_bytes()))
