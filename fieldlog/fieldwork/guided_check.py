"""The guided check: which mass next and how, what was answered so far, and the check it becomes.

Nothing here is judged; the answers are kept so that a check broken off can be taken up again.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from pydantic import Field, ValidationError

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.entry import parse_quantity
from fieldlog.records.base import Part, first_fault
from fieldlog.records.rig_check import (
    DIRECTIONS,
    LONGEST_ARM_M,
    CheckEntry,
    Conditions,
    Direction,
    Run,
    Stage,
    State,
    Tare,
    TorquePoint,
)
from fieldlog.records.visit import Arrival

__all__ = [
    "CAUTION",
    "Ask",
    "CheckPlan",
    "DisplaySign",
    "GuidedCheck",
    "asks_of",
    "plan_from",
    "warm_up_words",
]

DisplaySign = Literal["+", "-", "none"]
Kind = Literal["sign", "turned", "preload", "tare_before", "point", "tare_after"]

CAUTION = (
    "Caution: rig in hold, never in motion; stop just under the lever; stand aside, nobody's hands or feet below; "
    "the heaviest mass in two lifts; the lever jumps when a mass comes off."
)
PRELOADS = 3
INTERIM_MASSES = 2
_WAY = {"up": "larger", "down": "smaller"}


class CheckPlan(Part):
    """What will be hung: the lever, the masses in kilograms, and whether they are also read coming off."""

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

    @property
    def wants_reading(self) -> bool:
        """Whether the answer is what the display shows."""
        return self.kind in ("tare_before", "point", "tare_after")


@dataclass(frozen=True)
class GuidedCheck:
    """A check under way: its plan and the answers so far, by the key of what was asked.

    Readings are positive in the direction under test; a point that was repeated has several.
    """

    plan: CheckPlan
    started_at: dt.datetime
    readings: Mapping[str, tuple[float, ...]]
    signs: Mapping[str, DisplaySign]
    confirmed: frozenset[str] = frozenset()
    notes: Mapping[str, str] | None = None

    @property
    def asks(self) -> tuple[Ask, ...]:
        """Everything that is asked, in order; a display without sign has each turn-over confirmed."""
        return asks_of(self.plan, self.signs)

    def is_answered(self, ask: Ask) -> bool:
        """Whether this was answered."""
        if ask.kind == "sign":
            return ask.direction in self.signs
        return ask.key in (self.readings if ask.wants_reading else self.confirmed)

    @property
    def next_ask(self) -> Ask | None:
        """What is to be done next, or ``None`` when all is answered."""
        return next((ask for ask in self.asks if not self.is_answered(ask)), None)

    @property
    def points_done(self) -> tuple[int, int]:
        """How many points were read, of how many."""
        points = [ask for ask in self.asks if ask.kind == "point"]
        return sum(self.is_answered(ask) for ask in points), len(points)

    def tare_nm(self, direction: Direction) -> float | None:
        """The tare of a direction, in N·m, once it was read."""
        values = self.readings.get(f"{direction}.tare_before")
        return values[-1] if values else None

    def reading_nm(self, ask: Ask, shown: float) -> float:
        """Return what the display ``shown`` means in the direction under test."""
        return -shown if self.signs.get(ask.direction) == "-" else shown

    def with_sign(self, ask: Ask, sign: DisplaySign) -> GuidedCheck:
        """The check with the sign the display shows when the lever is pressed this way."""
        return replace(self, signs={**self.signs, ask.direction: sign})

    def with_reading(self, ask: Ask, shown: float, *, again: bool = False) -> GuidedCheck:
        """The check with what the display showed; ``again`` adds to the readings of a point."""
        reading = self.reading_nm(ask, shown)
        earlier = self.readings.get(ask.key, ()) if again else ()
        return replace(self, readings={**self.readings, ask.key: (*earlier, reading)})

    def with_confirmed(self, ask: Ask) -> GuidedCheck:
        """The check with something seen to."""
        return replace(self, confirmed=self.confirmed | {ask.key})

    def with_note(self, ask: Ask, note: str) -> GuidedCheck:
        """The check with a note to a point."""
        return replace(self, notes={**(self.notes or {}), ask.key: note})

    def without(self, ask: Ask) -> GuidedCheck:
        """The check with this answer taken back."""
        return replace(
            self,
            readings={key: values for key, values in self.readings.items() if key != ask.key},
            signs={
                key: sign for key, sign in self.signs.items() if ask.kind != "sign" or key != ask.direction
            },
            confirmed=self.confirmed - {ask.key},
        )

    def point_of(self, ask: Ask, reading_nm: float) -> TorquePoint:
        """The point that a reading becomes. Raises InputError where it cannot be one."""
        assert ask.mass_kg is not None
        try:
            return TorquePoint(
                mass_kg=ask.mass_kg,
                arm_m=self.plan.arm_m,
                arm_angle_deg=self.plan.arm_angle_deg,
                direction=ask.direction,
                run=ask.run,
                reading_nm=reading_nm,
                note=(self.notes or {}).get(ask.key, ""),
            )
        except ValidationError as error:
            raise InputError(first_fault(error), "type what the display shows") from None

    def looks_unturned(self) -> bool:
        """Whether up and down read alike in every mass so far, two at least: the lever may not have been turned."""
        pairs = [
            (self.readings[f"up.loading.{index}"], self.readings[f"down.loading.{index}"])
            for index in range(len(self.plan.masses_kg))
            if f"up.loading.{index}" in self.readings and f"down.loading.{index}" in self.readings
        ]
        tares = [self.readings.get(f"{direction}.tare_before") for direction in ("up", "down")]
        return len(pairs) >= 2 and tares[0] == tares[1] and all(up == down for up, down in pairs)

    def entry(self, *, at: dt.datetime, by: str, arrival: Arrival | None = None) -> CheckEntry:
        """The finished check, ready to be judged and kept.

        Raises RefusedError while something is still to be read, InputError naming a value that cannot be.
        """
        left = self.next_ask
        if left is not None:
            raise RefusedError(f"the check is not finished: {left.text}", "answer this first")
        conditions = None
        if arrival and (arrival.hall_temperature_c is not None or arrival.powered_on_at is not None):
            conditions = {"temperature_c": arrival.hall_temperature_c, "powered_on_at": arrival.powered_on_at}
        try:
            return CheckEntry(
                rig=self.plan.rig,
                stage=self.plan.stage,
                state=self.plan.state,
                at=at,
                by=by,
                conditions=Conditions.model_validate(conditions) if conditions else None,
                torque=tuple(
                    self.point_of(ask, reading)
                    for ask in self.asks
                    if ask.kind == "point"
                    for reading in self.readings[ask.key]
                ),
                hanger_kg=self.plan.hanger_kg,
                tare=Tare(
                    **{
                        f"{direction}_{when}_nm": self.readings[f"{direction}.tare_{when}"][-1]
                        for direction in self.plan.directions
                        for when in ("before", "after")
                    }
                ),
                tolerance=self.plan.tolerance,
                standards=self.plan.standards,
            )
        except ValidationError as error:
            raise InputError(first_fault(error), "go back to it and correct it") from None

    def to_draft(self) -> dict[str, Any]:
        """The check as JSON, for a draft."""
        return {
            "plan": self.plan.model_dump(mode="json"),
            "started_at": self.started_at.isoformat(),
            "readings": {key: list(values) for key, values in self.readings.items()},
            "signs": dict(self.signs),
            "confirmed": sorted(self.confirmed),
            "notes": dict(self.notes or {}),
        }

    @classmethod
    def from_draft(cls, draft: Mapping[str, Any]) -> GuidedCheck:
        """Read a draft. Raises InputError where it is none."""
        try:
            return cls(
                plan=CheckPlan.model_validate(draft["plan"]),
                started_at=dt.datetime.fromisoformat(draft["started_at"]),
                readings={
                    str(key): tuple(float(value) for value in values)
                    for key, values in draft["readings"].items()
                },
                signs=dict(draft["signs"]),
                confirmed=frozenset(draft["confirmed"]),
                notes=dict(draft["notes"]),
            )
        except (ValidationError, KeyError, TypeError, ValueError, AttributeError) as error:
            raise InputError(
                f"the draft of the check cannot be read: {error}", "begin the check anew"
            ) from None


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
    return tuple(found)


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
    )


def read_plan(*, rig: str, stage: Stage, arm_m: float, masses: str) -> CheckPlan:
    """Return a plan from what was typed: the lever in metres and the masses in kilograms, with blanks between.

    Raises InputError naming what cannot be.
    """
    values = sorted({parse_quantity(word, "kg", "mass") for word in masses.split()})
    wrong = next((value for value in values if value <= 0), None)
    if wrong is not None:
        raise InputError(f"a mass of {wrong:g} kg pulls nothing", "type the masses that are hung")
    if arm_m > LONGEST_ARM_M:
        raise InputError(
            f"a lever of {arm_m:g} m is longer than {LONGEST_ARM_M:g} m", "type it in metres, or as 50cm"
        )
    try:
        return CheckPlan(rig=rig, stage=stage, arm_m=arm_m, masses_kg=tuple(values))
    except ValidationError as error:
        raise InputError(first_fault(error), "type lever and masses again") from None


def warm_up_words(powered_on_at: dt.datetime | None, warm_up_minutes: float, now: dt.datetime) -> str:
    """Return a warning while the rig has been on for less than its warm-up time, else an empty text."""
    if powered_on_at is None:
        return "When the rig was switched on is not known; it may not be warm yet."
    minutes = (now - powered_on_at).total_seconds() / 60
    if minutes >= warm_up_minutes:
        return ""
    return (
        f"The rig has been on for {max(minutes, 0):.0f} of the {warm_up_minutes:.0f} min it takes to warm up."
    )


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
