"""The guided check: which mass next and how, what was answered so far, and the check it becomes.

Nothing here is judged; the answers are kept so that a check broken off can be taken up again.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from pydantic import ValidationError

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.rig_checks.check_plan import Ask, CheckPlan, DisplaySign, asks_of
from fieldlog.records.base import first_fault
from fieldlog.records.check_entry import (
    AnglePoint,
    CheckEntry,
    Conditions,
    Direction,
    SpeedPoint,
    Tare,
    TorquePoint,
)
from fieldlog.records.visit import Arrival

__all__ = ["GuidedCheck", "warm_up_words"]


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
        return ask.key in self.confirmed or ask.key in self.readings

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
        is_torque = ask.unit == "nm"
        return -shown if is_torque and self.signs.get(ask.direction) == "-" else shown

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
                angle=tuple(
                    AnglePoint(reference_deg=nominal, reading_deg=reading)
                    for nominal, reading in self._read("angle")
                ),
                speed=tuple(
                    # The timer is the reference, the speed that was set is what the rig says of itself.
                    SpeedPoint(reference_deg_s=reading, reading_deg_s=nominal)
                    for nominal, reading in self._read("speed")
                ),
                tolerance=self.plan.tolerance,
                standards=self.plan.standards,
            )
        except ValidationError as error:
            raise InputError(first_fault(error), "go back to it and correct it") from None

    def _read(self, kind: str) -> Iterator[tuple[float, float]]:
        """What was set and what was read, of each angle or speed that was not passed over."""
        for ask in self.asks:
            if ask.kind == kind and ask.nominal is not None:
                for reading in self.readings.get(ask.key, ()):
                    yield ask.nominal, reading

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
