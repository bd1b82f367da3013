"""A setup plan: what is adjusted on the rig for one athlete, in which order, on which scale."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, Self, get_args

from pydantic import Field, model_validator

from fieldlog.records.base import Home, Part, Record
from fieldlog.records.terms import Region

__all__ = [
    "SAFEGUARDS",
    "ChoiceStep",
    "ConfirmStep",
    "PlanStep",
    "ReadingStep",
    "Safeguard",
    "ScaleUnit",
    "SetupPlan",
]

Safeguard = Literal["range_stops", "passive_trial", "stop_switch", "straps"]
"""What stands between an athlete and a lever that moves; each is confirmed before any set."""
SAFEGUARDS: tuple[Safeguard, ...] = get_args(Safeguard)

ScaleUnit = Literal["cm", "mm", "deg", "hole", "mark"]


class _Step(Part):
    key: str = Field(pattern=r"^[a-z][a-z0-9_]{0,39}$")
    label: str = Field(min_length=1, max_length=60)
    text: str = Field(min_length=1, max_length=400)
    landmark: str = Field(default="", max_length=200)
    why: str = Field(default="", max_length=300)
    caution: str = Field(default="", max_length=300)
    optional: bool = False
    group: Literal["before_athlete", "with_athlete"] = "with_athlete"
    back_to: str | None = Field(default=None, description="step to return to when this one fails")


class ConfirmStep(_Step):
    """Something seen to and confirmed."""

    kind: Literal["confirm"] = "confirm"
    holds_start: bool = Field(default=False, description="no set may start before this is confirmed")
    each_time: bool = Field(default=False, description="confirmed anew for every side and every athlete")
    safeguard: Safeguard | None = Field(default=None, description="which of the four safeguards this is")

    @model_validator(mode="after")
    def _a_safeguard_holds_the_start(self) -> Self:
        if self.safeguard and not (self.holds_start and self.each_time):
            raise ValueError(
                f"the safeguard {self.safeguard!r} must hold the start and be confirmed each time"
            )
        if self.safeguard and self.optional:
            raise ValueError(f"the safeguard {self.safeguard!r} cannot be optional")
        return self


class ReadingStep(_Step):
    """A reading on a numbered scale, or a body measure that the setup is worked out from."""

    kind: Literal["reading"] = "reading"
    unit: ScaleUnit
    low: float
    high: float
    step: float = Field(gt=0)
    retest_tolerance: float = Field(ge=0)
    at_floor: float | None = Field(default=None, description="what the scale shows level with the floor")
    vertical: bool = Field(default=False, description="a larger reading is higher above the floor")
    dialled: bool = Field(default=True, description="False for a measure of the body or of the rig")

    @model_validator(mode="after")
    def _scale_has_a_length(self) -> Self:
        if self.low >= self.high:
            raise ValueError("a scale runs from a smaller to a larger value")
        if self.step > self.high - self.low:
            raise ValueError("the step of a scale is longer than the scale")
        return self


class ChoiceStep(_Step):
    """One of a few named positions."""

    kind: Literal["choice"] = "choice"
    options: tuple[str, ...] = Field(min_length=2, max_length=12)

    @model_validator(mode="after")
    def _options_are_told_apart(self) -> Self:
        if len(set(self.options)) != len(self.options):
            raise ValueError("two options share one name")
        return self


PlanStep = Annotated[ConfirmStep | ReadingStep | ChoiceStep, Field(discriminator="kind")]


class SetupPlan(Record):
    """Ordered steps of a setup. A changed plan is a new version; old setups keep theirs."""

    table: ClassVar[str] = "setup_plans"
    home: ClassVar[Home] = "team"

    name: str = Field(min_length=1, max_length=120)
    version: int = Field(default=1, ge=1)
    region: Region
    unit_name: str = Field(default="", max_length=120)
    source: str = Field(default="common practice", max_length=300)
    caution: str = Field(default="", max_length=400)
    steps: tuple[PlanStep, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _steps_are_told_apart(self) -> Self:
        keys = [step.key for step in self.steps]
        if len(set(keys)) != len(keys):
            raise ValueError("two steps share one key")
        for place, step in enumerate(self.steps):
            if step.back_to == step.key:
                raise ValueError(f"step {step.key!r} goes back to itself")
            if step.back_to is not None and step.back_to not in keys[:place]:
                raise ValueError(
                    f"step {step.key!r} goes back to {step.back_to!r}, which does not come before it"
                )
        return self

    @property
    def readings(self) -> tuple[ReadingStep, ...]:
        """The steps read off a numbered scale, in order."""
        return tuple(step for step in self.steps if isinstance(step, ReadingStep))

    @property
    def safeguards(self) -> tuple[ConfirmStep, ...]:
        """The confirmations without which no set starts, in order."""
        return tuple(step for step in self.steps if isinstance(step, ConfirmStep) and step.holds_start)

    def step(self, key: str) -> ConfirmStep | ReadingStep | ChoiceStep | None:
        """The step called ``key``, or ``None`` where the plan has no such step."""
        return next((step for step in self.steps if step.key == key), None)
