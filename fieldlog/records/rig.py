"""The rig: the rotary torque device that travels, with its units and levers, and what happens to it."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from fieldlog.records.base import Home, Instant, Part, Record, derived_id, folded_name

__all__ = ["ADJUSTING_EVENTS", "EVENT_WORDS", "EventKind", "Lever", "Rig", "RigEvent", "RigUnit", "rig_id"]

EventKind = Literal["moved", "knocked", "unit_changed", "power_lost", "adjusted", "serviced"]
EVENT_WORDS: dict[str, str] = {
    "moved": "moved",
    "knocked": "knocked",
    "unit_changed": "unit changed",
    "power_lost": "power lost",
    "adjusted": "adjusted",
    "serviced": "serviced",
}
ADJUSTING_EVENTS: frozenset[EventKind] = frozenset({"adjusted", "serviced"})
"""After these the rig's error is another one: no check closes over them, and lines over time start anew."""


class RigUnit(Part):
    """An add-on unit, such as the one for the trunk."""

    name: str = Field(min_length=1, max_length=120)
    serial: str = Field(default="", max_length=120)


class Lever(Part):
    """A lever as used for checks: from the axis to where the mass hangs."""

    name: str = Field(min_length=1, max_length=120)
    arm_m: float = Field(gt=0, le=3)
    standard_uncertainty_m: float | None = Field(default=None, ge=0)


class Rig(Record):
    """A rig of the team. The id follows from the name it was first given."""

    table: ClassVar[str] = "rigs"
    home: ClassVar[Home] = "team"

    name: str = Field(min_length=1, max_length=120)
    serial: str = Field(default="", max_length=120)
    firmware: str = Field(default="", max_length=120)
    units: tuple[RigUnit, ...] = ()
    levers: tuple[Lever, ...] = ()
    display_step_nm: float | None = Field(default=None, gt=0)
    warm_up_minutes: float = Field(default=20.0, ge=0)
    note: str = Field(default="", max_length=2000)


class RigEvent(Record):
    """Something that happened to a rig and that its checks must be read against."""

    table: ClassVar[str] = "rig_events"
    home: ClassVar[Home] = "site"

    rig_id: str
    at: Instant
    kind: EventKind
    note: str = Field(default="", max_length=2000)


def rig_id(name: str) -> str:
    """Id of the rig first named ``name`` (case and outer blanks do not count)."""
    return derived_id("rig", folded_name(name))
