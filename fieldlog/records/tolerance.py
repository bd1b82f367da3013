"""What counts as good enough for a rig: tolerance sets, named and versioned."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import ConfigDict, Field

from fieldlog.records.base import Home, Part, Record, derived_id, folded_name

__all__ = ["TeamToleranceSet", "ToleranceSet", "Tolerances", "tolerance_set_id"]

Percent = Annotated[float, Field(ge=0.0, le=100.0)]
Limit = Annotated[float, Field(ge=0.0, le=1000.0)]


class Tolerances(Part):
    """The limits of one check. A point's tolerance is the larger of its floor and its percentage."""

    model_config = ConfigDict(strict=True)

    torque_pct: Percent = 2.0
    torque_floor_nm: Limit = 1.0
    zero_nm: Limit = 0.5
    hysteresis_pct: Percent = 1.0
    angle_deg: Limit = 1.0
    speed_pct: Percent = 2.0
    speed_floor_deg_s: Limit = 1.0

    def torque_nm(self, reference_nm: float) -> float:
        """Tolerance of a torque point in N·m at this reference."""
        return max(self.torque_floor_nm, self.torque_pct / 100.0 * abs(reference_nm))

    def hysteresis_nm(self, reference_nm: float) -> float:
        """Largest difference between unloading and loading in N·m at this reference."""
        return max(self.torque_floor_nm, self.hysteresis_pct / 100.0 * abs(reference_nm))

    def speed_deg_s(self, reference_deg_s: float) -> float:
        """Tolerance of a speed point in °/s at this reference."""
        return max(self.speed_floor_deg_s, self.speed_pct / 100.0 * abs(reference_deg_s))


class ToleranceSet(Part):
    """Tolerances under a name. A change is a new version; checks keep the numbers they were judged by."""

    model_config = ConfigDict(strict=True)

    name: Annotated[str, Field(min_length=1, max_length=40)]
    version: Annotated[int, Field(ge=1)] = 1
    source: Annotated[str, Field(max_length=200)] = "common practice"
    limits: Tolerances = Tolerances()


class TeamToleranceSet(Record):
    """A tolerance set the team edited or added; it stands in for a shipped set of the same name."""

    table: ClassVar[str] = "tolerance_sets"
    home: ClassVar[Home] = "team"

    tolerance_set: ToleranceSet


def tolerance_set_id(name: str) -> str:
    """Id of the team's tolerance set called ``name``: the same on every laptop."""
    return derived_id("tolerance set", folded_name(name))
