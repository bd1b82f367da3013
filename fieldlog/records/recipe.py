"""What is asked of the analysis of one recording: kept with every result, so that it can be computed again."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from fieldlog.records.base import Part
from fieldlog.records.terms import Mode

__all__ = ["TraceOptions"]

Coefficient = Annotated[float, Field(ge=-10_000.0, le=10_000.0)]


class TraceOptions(Part):
    """Options of one analysis; the defaults are those of ``fieldlog trace`` without options.

    ``gravity_fit`` holds cosine, sine and offset of the weight torque in N·m; a relaxed sweep is
    handed over beside the options, as it is a recording of its own.
    """

    speed_deg_s: float | None = Field(default=None, gt=0.0, le=2_000.0)
    gravity_fit: tuple[Coefficient, Coefficient, Coefficient] | None = None
    cutoff_hz: float = Field(default=15.0, ge=0.0, le=10_000.0)
    band_pct: float = Field(default=5.0, gt=0.0, le=50.0)
    at_deg: tuple[Annotated[float, Field(ge=-720.0, le=720.0)], ...] = Field(default=(), max_length=50)
    body_mass_kg: float | None = Field(default=None, ge=5.0, le=400.0)
    mode: Mode | None = None
    drop: int = Field(default=0, ge=0, le=10_000)
    leave_out: tuple[Annotated[int, Field(ge=1, le=100_000)], ...] = Field(default=(), max_length=1_000)
