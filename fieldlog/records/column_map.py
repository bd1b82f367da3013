"""How a foreign recording file names, scales and signs its columns."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from fieldlog.records.base import Part

__all__ = [
    "OWN_COLUMNS",
    "AlreadyDone",
    "AngleColumn",
    "Answer",
    "ColumnMap",
    "TimeColumn",
    "TorqueColumn",
    "VelocityColumn",
]

Answer = Literal["yes", "no", "unknown"]
Sign = Literal[1, -1]
ColumnName = Annotated[str, Field(min_length=1, max_length=200)]


class TimeColumn(Part):
    """The time of each sample."""

    column: ColumnName
    unit: Literal["s", "ms"] = "s"


class AngleColumn(Part):
    """The anatomical angle: ``sign`` × the file's angle + ``offset_deg``."""

    column: ColumnName
    unit: Literal["deg", "rad"] = "deg"
    sign: Sign = 1
    offset_deg: float = Field(default=0.0, ge=-720.0, le=720.0, strict=True)


class VelocityColumn(Part):
    """The angular velocity; without a sign of its own it turns with the angle."""

    column: ColumnName
    unit: Literal["deg/s", "rad/s"] = "deg/s"
    sign: Sign | None = None


class TorqueColumn(Part):
    """The torque as recorded."""

    column: ColumnName
    unit: Literal["nm", "lbf_ft", "lbf_in", "kgf_m"] = "nm"
    sign: Sign = 1


class AlreadyDone(Part):
    """What was done to the recording before it was written."""

    weight_corrected: Answer = "no"
    filtered: Answer = "no"
    load_range_only: Answer = "no"


class ColumnMap(Part):
    """Where a recording file keeps time, angle, velocity and torque, and what was already done to it."""

    time: TimeColumn
    angle: AngleColumn
    velocity: VelocityColumn | None = None
    torque: TorqueColumn
    torque_sign: Literal["signed", "magnitude"] = "signed"
    already: AlreadyDone = AlreadyDone()
    decimal: Literal[".", ","] | None = None
    separator: Literal[",", ";", "\t"] | None = None
    skip_lines: int = Field(default=0, ge=0, le=10_000, strict=True)

    @model_validator(mode="after")
    def _columns_and_marks_differ(self) -> Self:
        named = [self.time.column, self.angle.column, self.torque.column]
        if self.velocity is not None:
            named.append(self.velocity.column)
        if len(set(named)) < len(named):
            raise ValueError("two entries name the same column")
        if self.decimal is not None and self.decimal == self.separator:
            raise ValueError("decimal and separator are the same character")
        return self


OWN_COLUMNS = ColumnMap(
    time=TimeColumn(column="time_s"),
    angle=AngleColumn(column="angle_deg"),
    velocity=VelocityColumn(column="velocity_deg_s"),
    torque=TorqueColumn(column="torque_nm"),
)
"""Our own column names; the velocity column may be missing from the file."""
