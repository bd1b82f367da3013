"""A setup plan: what is adjusted on the rig for one athlete, in which order, on which scale."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from fieldlog.records.base import Part, Record

__all__ = ["ChoiceStep", "ConfirmStep", "PlanStep", "ReadingStep", "SetupPlan"]


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


class ReadingStep(_Step):
    """A reading on a numbered scale."""

    kind: Literal["reading"] = "reading"
    unit: Literal["cm", "mm", "deg", "hole", "mark"]
    low: float
    high: float
    step: float = Field(gt=0)
    retest_tolerance: float = Field(ge=0)

    @model_validator(mode="after")
    def _scale_has_a_length(self) -> Self:
        if self.low >= self.high:
            raise ValueError("a scale runs from a smaller to a larger value")
        return self


class ChoiceStep(_Step):
    """One of a few named positions."""

    kind: Literal["choice"] = "choice"
    options: tuple[str, ...] = Field(min_length=2, max_length=12)


PlanStep = Annotated[ConfirmStep | ReadingStep | ChoiceStep, Field(discriminator="kind")]


class SetupPlan(Record):
    """Ordered steps of a setup. A changed plan is a new version; old setups keep theirs."""

    table: ClassVar[str] = "setup_plans"
    home: ClassVar[Literal["team", "site"]] = "team"

    name: str = Field(min_length=1, max_length=120)
    version: int = Field(default=1, ge=1)
    region: Literal["trunk", "knee", "shoulder", "ankle", "hip", "other"]
    unit_name: str = Field(default="", max_length=120)
    source: str = Field(default="common practice", max_length=300)
    steps: tuple[PlanStep, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _steps_are_told_apart(self) -> Self:
        keys = [step.key for step in self.steps]
        if len(set(keys)) != len(keys):
            raise ValueError("two steps share one key")
        for place, step in enumerate(self.steps):
            if step.back_to is not None and step.back_to not in keys[:place]:
                raise ValueError(
                    f"step {step.key!r} goes back to {step.back_to!r}, which does not come before it"
                )
        return self

    @property
    def readings(self) -> tuple[ReadingStep, ...]:
        """The steps read off a numbered scale, in order."""
        return tuple(step for step in self.steps if isinstance(step, ReadingStep))
