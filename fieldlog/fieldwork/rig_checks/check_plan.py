"""What a guided check will ask: lever and masses, and each mass in the order of the work."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import Field, ValidationError

from fieldlog.errors import InputError
from fieldlog.fieldwork.entry import parse_quantity
from fieldlog.records.base import Part, first_fault
from fieldlog.records.check_entry import DIRECTIONS, LONGEST_ARM_M, CheckEntry, Direction, Run, Stage, State

__all__ = ["CAUTION", "Ask", "CheckPlan", "DisplaySign", "asks_of", "plan_from", "read_lever", "read_plan"]

DisplaySign = Literal["+", "-", "none"]
Kind = Literal["sign", "turned", "preload", "tare_before", "point", "tare_after", "angle", "speed"]

CAUTION = (
    "Caution: rig in hold, never in motion; stop just under the lever; stand aside, nobody's hands or feet below; "
    "the heaviest mass in two lifts; the lever jumps when a mass comes off."
)
PRELOADS = 3
INTERIM_MASSES = 2
_SPEED = re.compile(r"(°|deg|rad)[/_]?s$", re.IGNORECASE)
_ANGLE = re.compile(r"(°|deg|rad)$", re.IGNORECASE)
_WAY = {"up": "larger", "down": "smaller"}


class CheckPlan(Part):
    """What will be hung: the lever, the masses in kilograms, and whether they are also read coming off.

    ``angles_deg`` are set with an inclinometer and read off the display, ``speeds_deg_s`` are set on the rig
    and timed.
    """

    rig: str = Field(min_length=1, max_length=120)
    stage: Stage
    state: State = "as-found"
    arm_m: float = Field(gt=0, le=3)
    arm_angle_deg: float = Field(default=0.0, gt=-90, lt=90)
    hanger_kg: float = Field(default=0.0, ge=0, le=500)
    masses_kg: tuple[float, ...] = Field(min_length=1, max_length=40)
    directions: tuple[Direction, ...] = ("up", "down")
    unloading: bool = True
    preloads: bool = True
    tolerance: str = "field"
    standards: tuple[str, ...] = ()
    angles_deg: tuple[float, ...] = Field(default=(), max_length=40)
    speeds_deg_s: tuple[float, ...] = Field(default=(), max_length=40)

    def for_stage(self, stage: Stage, *, state: State, rig: str) -> CheckPlan:
        """The same lever and masses for another stage; an interim check takes the lightest and the heaviest only."""
        changes: dict[str, Any] = {"stage": stage, "state": state, "rig": rig}
        if stage == "interim":
            few = (
                self.masses_kg
                if len(self.masses_kg) <= INTERIM_MASSES
                else (self.masses_kg[0], self.masses_kg[-1])
            )
            changes |= {"masses_kg": few, "unloading": False, "preloads": False}
            changes |= {"angles_deg": (), "speeds_deg_s": ()}
        return self.model_copy(update=changes)


@dataclass(frozen=True)
class Ask:
    """One thing asked of the tester; ``key`` names it in a draft."""

    key: str
    kind: Kind
    direction: Direction
    text: str
    mass_kg: float | None = None
    run: Run = "loading"
    nominal: float | None = None

    @property
    def wants_reading(self) -> bool:
        """Whether the answer is what the display shows."""
        return self.kind not in ("sign", "turned", "preload")

    @property
    def may_be_passed_over(self) -> bool:
        """Whether a check stands without it."""
        return self.kind in ("angle", "speed")

    @property
    def unit(self) -> str:
        """The unit of the reading."""
        return {"angle": "deg", "speed": "deg_s"}.get(self.kind, "nm")


def asks_of(plan: CheckPlan, signs: Mapping[str, DisplaySign]) -> tuple[Ask, ...]:
    """Return everything asked under ``plan``, direction by direction, in the order of the work."""
    found: list[Ask] = []
    for direction in plan.directions:
        way = f"{direction}: towards {_WAY[direction]} angles"
        found.append(
            Ask(
                f"{direction}.sign",
                "sign",
                direction,
                f"Press the lever {way}. Which sign does the display show?",
            )
        )
        if signs.get(direction) == "none":
            text = f"The display shows no sign. Is the lever turned so that masses pull {way}?"
            found.append(Ask(f"{direction}.turned", "turned", direction, text))
        if plan.preloads:
            text = f"Hang the heaviest mass {PRELOADS} times and take it off again, {way}; the hanger stays."
            found.append(Ask(f"{direction}.preload", "preload", direction, text))
        text = "Only the empty hanger hangs where the masses will; when still, type the display."
        found.append(Ask(f"{direction}.tare_before", "tare_before", direction, text))
        found.extend(_points(plan, direction))
        text = "All masses are off, the empty hanger hangs; when still, type the display."
        found.append(Ask(f"{direction}.tare_after", "tare_after", direction, text))
    return (*found, *_geometry(plan))


def plan_from(last: CheckEntry, *, rig: str, stage: Stage) -> CheckPlan:
    """Return the plan a rig's last full check followed, for the next one."""
    return CheckPlan(
        rig=rig,
        stage=stage,
        arm_m=last.torque[0].arm_m,
        arm_angle_deg=last.torque[0].arm_angle_deg,
        hanger_kg=last.hanger_kg,
        masses_kg=tuple(sorted({point.mass_kg for point in last.torque})),
        directions=tuple(way for way in DIRECTIONS if any(point.direction == way for point in last.torque)),
        unloading=any(point.run == "unloading" for point in last.torque),
        tolerance=last.tolerance if isinstance(last.tolerance, str) else "field",
        standards=last.standards,
        angles_deg=_nominal(point.reference_deg for point in last.angle),
        speeds_deg_s=_nominal(point.reading_deg_s for point in last.speed),
    )


def read_lever(text: str) -> tuple[float, float]:
    """Return the lever in metres and its angle from the horizontal in degrees, such as ``0.5`` or ``50cm 3°``.

    Raises InputError where it is neither.
    """
    words = text.split()
    if len(words) > 2:
        raise InputError(
            f"lever: {text.strip()[:40]} is more than a length and an angle", "type 0.5, or 0.5 3°"
        )
    arm_m = parse_quantity(words[0] if words else "", "m", "lever")
    return arm_m, parse_quantity(words[1], "deg", "angle of the lever") if len(words) > 1 else 0.0


def read_plan(*, rig: str, stage: Stage, arm_m: float, masses: str, arm_angle_deg: float = 0.0) -> CheckPlan:
    """Return a plan from what was typed: the lever in metres and the masses in kilograms, with blanks between.

    Among the masses may stand angles and speeds to be checked with their unit: ``5 10 20 30° 90° 60°/s``.
    Raises InputError naming what cannot be.
    """
    words = masses.split()
    speeds = [word for word in words if _SPEED.search(word)]
    angles = [word for word in words if word not in speeds and _ANGLE.search(word)]
    hung = [word for word in words if word not in speeds and word not in angles]
    values = sorted({parse_quantity(word, "kg", "mass") for word in hung})
    wrong = next((value for value in values if value <= 0), None)
    if wrong is not None:
        raise InputError(f"a mass of {wrong:g} kg pulls nothing", "type the masses that are hung")
    if arm_m > LONGEST_ARM_M:
        raise InputError(
            f"a lever of {arm_m:g} m is longer than {LONGEST_ARM_M:g} m", "type it in metres, or as 50cm"
        )
    try:
        return CheckPlan(
            rig=rig,
            stage=stage,
            arm_m=arm_m,
            arm_angle_deg=arm_angle_deg,
            masses_kg=tuple(values),
            angles_deg=tuple(sorted({parse_quantity(word, "deg", "angle") for word in angles})),
            speeds_deg_s=tuple(sorted({parse_quantity(word, "deg_s", "speed") for word in speeds})),
        )
    except ValidationError as error:
        raise InputError(first_fault(error), "type lever and masses again") from None


def _geometry(plan: CheckPlan) -> Iterator[Ask]:
    """Angles and speeds, after the masses are off; they stand with the direction that was done last."""
    direction = plan.directions[-1]
    for index, angle in enumerate(plan.angles_deg):
        text = (
            f"Masses off. Set the lever to {angle:g}° by the inclinometer; type the angle the rig displays."
        )
        yield Ask(f"angle.{index}", "angle", direction, text, nominal=angle)
    for index, speed in enumerate(plan.speeds_deg_s):
        text = (
            f"Nobody on the rig, nothing hung. Set {speed:g}°/s, time the lever through a known angle; type the "
            "speed that gives, in °/s."
        )
        yield Ask(f"speed.{index}", "speed", direction, text, nominal=speed)


def _nominal(values: Iterable[float]) -> tuple[float, ...]:
    """What was set, from what was read: to a whole degree, each once."""
    return tuple(sorted({float(round(value)) for value in values}))


def _points(plan: CheckPlan, direction: Direction) -> Sequence[Ask]:
    order: list[tuple[int, Run]] = [(index, "loading") for index in range(len(plan.masses_kg))]
    if plan.unloading:
        order += [(index, "unloading") for index in reversed(range(len(plan.masses_kg) - 1))]
    asks = []
    for index, run in order:
        mass = plan.masses_kg[index]
        if run == "loading":
            text = f"Hang {mass:g} kg so that it pulls towards {_WAY[direction]} angles; when still, type the display."
        else:
            text = f"Take masses off until {mass:g} kg hang; when still, type the display."
        asks.append(Ask(f"{direction}.{run}.{index}", "point", direction, text, mass, run))
    return asks
