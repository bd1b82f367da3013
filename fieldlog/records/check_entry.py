"""One rig check as it was read at the rig: the check file and its parts.

Readings and references are positive in the direction under test. Nothing here is judged.
Bounds are wide: only a slip of the keyboard leaves them, and they keep every sum finite.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, ConfigDict, Discriminator, Field, Tag, model_validator
from pydantic_core import PydanticCustomError

from fieldlog.records.base import Instant, Part
from fieldlog.records.terms import DIRECTIONS, Direction
from fieldlog.records.tolerance import Tolerances

__all__ = [
    "DIRECTIONS",
    "AnglePoint",
    "CheckEntry",
    "Conditions",
    "Decision",
    "Direction",
    "Place",
    "Run",
    "SpeedPoint",
    "Stage",
    "State",
    "Tare",
    "TorquePoint",
    "Uncertainties",
    "Zero",
]

Run = Literal["loading", "unloading"]
Stage = Literal["opening", "closing", "interim"]
State = Literal["as-found", "as-left"]
Decision = Literal["simple", "guarded"]

LONGEST_ARM_M = 3.0
FIRST_YEAR, LAST_YEAR = 1970, 2200


def _plain_text(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    if not value.isprintable():
        raise ValueError("holds control characters; type the text again")
    return value.strip()


def _not_empty(value: Any) -> Any:
    if value == "":
        raise ValueError("is empty")
    return value


def _above_zero(value: Any) -> Any:
    if _is_number(value) and value <= 0.0:
        raise ValueError(f"must be above zero, not {max(value, -1e9):g}")
    return value


def _lever_in_metres(value: Any) -> Any:
    if _is_number(value) and LONGEST_ARM_M < value <= 100 * LONGEST_ARM_M:
        raise ValueError(
            f"a lever of {value:g} m is longer than {LONGEST_ARM_M:g} m; metres? "
            f"{value:g} cm is {value / 100.0:.2f}"
        )
    return value


def _angle_from_horizontal(value: Any) -> Any:
    if _is_number(value) and 90.0 <= abs(value) <= 1000.0:
        raise ValueError(f"{value:g}° from the horizontal is no lever a mass can pull; it must be below 90°")
    return value


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


Name = Annotated[str, BeforeValidator(_not_empty), BeforeValidator(_plain_text), Field(max_length=120)]
Note = Annotated[str, BeforeValidator(_plain_text), Field(max_length=2000)]
MassKg = Annotated[float, BeforeValidator(_above_zero), Field(ge=0.001, le=2000.0)]
ArmM = Annotated[
    float,
    BeforeValidator(_lever_in_metres),
    BeforeValidator(_above_zero),
    Field(ge=0.001, le=LONGEST_ARM_M),
]
ArmAngleDeg = Annotated[float, BeforeValidator(_angle_from_horizontal), Field(gt=-90.0, lt=90.0)]
Reading = Annotated[float, Field(ge=-1e5, le=1e5)]
Degrees = Annotated[float, Field(ge=-1000.0, le=1000.0)]
Speed = Annotated[float, Field(ge=-5000.0, le=5000.0)]
Relative = Annotated[float, Field(ge=0.0, le=1.0)]


class CheckPart(Part):
    """A part of a check: numbers are numbers, never their text and never true or false."""

    model_config = ConfigDict(strict=True)


class Place(CheckPart):
    """Where the masses were hung; gravity follows from it."""

    latitude_deg: Annotated[float, Field(ge=-90.0, le=90.0)]
    height_m: Annotated[float, Field(ge=-500.0, le=9000.0)] = 0.0


class Conditions(CheckPart):
    """The hall and the rig at the time of the check."""

    temperature_c: Annotated[float, Field(ge=-60.0, le=80.0)] | None = None
    powered_on_at: Instant | None = None


class TorquePoint(CheckPart):
    """One mass on the lever and what the display showed."""

    mass_kg: MassKg
    arm_m: ArmM
    arm_angle_deg: ArmAngleDeg = 0.0
    direction: Direction
    run: Run
    reading_nm: Reading
    note: Note = ""


class Tare(CheckPart):
    """The reading with the lever and the empty hanger, per direction, before and after the masses."""

    up_before_nm: Reading | None = None
    up_after_nm: Reading | None = None
    down_before_nm: Reading | None = None
    down_after_nm: Reading | None = None

    def of(self, direction: Direction) -> tuple[float | None, float | None]:
        """Before and after of one direction."""
        if direction == "up":
            return self.up_before_nm, self.up_after_nm
        return self.down_before_nm, self.down_after_nm


class Zero(CheckPart):
    """The reading of the unloaded rig before and after the masses."""

    before_nm: Reading
    after_nm: Reading


class AnglePoint(CheckPart):
    """The inclinometer's angle and the rig's."""

    reference_deg: Degrees
    reading_deg: Degrees


class SpeedPoint(CheckPart):
    """The timed speed and the rig's."""

    reference_deg_s: Speed
    reading_deg_s: Speed


class Uncertainties(CheckPart):
    """Standard uncertainties of the references; ``resolution_nm`` is the whole step of the display."""

    mass_rel: Relative | None = None
    arm_m: Annotated[float, Field(ge=0.0, le=1.0)] | None = None
    arm_angle_deg: Annotated[float, Field(ge=0.0, le=90.0)] | None = None
    gravity_rel: Relative | None = None
    resolution_nm: Annotated[float, Field(ge=0.0, le=1000.0)] | None = None
    angle_reference_deg: Annotated[float, Field(ge=0.0, le=90.0)] | None = None
    speed_reference_rel: Relative | None = None


def _name_or_numbers(value: Any) -> str:
    return "@name" if isinstance(value, str) else "@numbers"


ToleranceChoice = Annotated[
    Annotated[Name, Tag("@name")] | Annotated[Tolerances, Tag("@numbers")], Discriminator(_name_or_numbers)
]


class CheckEntry(CheckPart):
    """A check file: what was hung, what was read, and by which rules it is to be judged.

    ``tolerance`` is the name of a tolerance set or its numbers. ``standards`` names the reference
    standards that were used, by id or name.
    """

    rig: Name
    stage: Stage
    state: State = "as-found"
    at: Instant
    by: Name
    place: Place | None = None
    conditions: Conditions | None = None
    torque: Annotated[tuple[TorquePoint, ...], Field(strict=False, min_length=1, max_length=2000)]
    hanger_kg: Annotated[float, Field(ge=0.0, le=500.0)] = 0.0
    tare: Tare | None = None
    zero: Zero | None = None
    angle: Annotated[tuple[AnglePoint, ...], Field(strict=False, max_length=2000)] = ()
    speed: Annotated[tuple[SpeedPoint, ...], Field(strict=False, max_length=2000)] = ()
    tolerance: ToleranceChoice = "field"
    uncertainty: Uncertainties = Uncertainties()
    decision: Decision = "guarded"
    standards: Annotated[tuple[Name, ...], Field(strict=False, max_length=200)] = ()
    note: Note = ""

    @model_validator(mode="after")
    def _can_be_judged(self) -> Self:
        if not FIRST_YEAR <= self.at.year <= LAST_YEAR:
            raise _fault("at", f"the year {self.at.year} is no year a rig was checked in")
        directions = [d for d in DIRECTIONS if any(point.direction == d for point in self.torque)]
        if self.tare is None and self.zero is None:
            raise _fault("tare", "no zero was read; give the tare per direction, or zero before and after")
        if self.tare is not None:
            for direction in directions:
                for when, reading in zip(("before", "after"), self.tare.of(direction), strict=True):
                    if reading is None:
                        raise _fault(
                            f"tare.{direction}_{when}_nm",
                            f"missing; masses were hung {direction}, so its tare is needed before and after",
                        )
        powered_on_at = self.conditions.powered_on_at if self.conditions else None
        if powered_on_at is not None and powered_on_at > self.at:
            raise _fault(
                "conditions.powered_on_at",
                f"the rig was switched on after the check at {self.at.isoformat()}",
            )
        return self

    def tare_nm(self, direction: Direction) -> float:
        """The tare that readings of this direction are reduced by, in N·m."""
        if self.tare is not None:
            before = self.tare.of(direction)[0]
            if before is not None:
                return before
        assert self.zero is not None
        return self.zero.before_nm


def _fault(field: str, text: str) -> PydanticCustomError:
    # A rule over several fields names the one to correct, as a single field's rule does.
    return PydanticCustomError("check", "{at}: {text}", {"at": field, "text": text})
