"""Two rigs side by side: how far they read apart at the loads both were checked with."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fieldlog.analysis.calibration import normalised_error
from fieldlog.records.rig_check import RigCheck

__all__ = ["SharedLoad", "compare_rigs"]


@dataclass(frozen=True)
class SharedLoad:
    """One load both rigs were checked with: mean errors, their difference, and E_n where U allows one."""

    mass_kg: float
    arm_m: float
    direction: str
    first_error_nm: float
    second_error_nm: float
    difference_nm: float
    normalised_error: float | None

    @property
    def disagrees(self) -> bool:
        """Whether the rigs are further apart than their uncertainties explain (ISO/IEC 17043: E_n beyond ±1)."""
        return self.normalised_error is not None and abs(self.normalised_error) > 1.0


def compare_rigs(first: RigCheck, second: RigCheck) -> list[SharedLoad]:
    """Return, for every load that both checks share, how far the second rig reads from the first.

    E_n beyond ±1: the rigs disagree by more than their uncertainties explain. Mass and lever count for
    both sides although they are shared, so a small E_n is the cautious side.
    """
    one, two = _by_load(first), _by_load(second)
    return [
        SharedLoad(
            mass_kg=load[0],
            arm_m=load[1],
            direction=load[3],
            first_error_nm=one[load][0],
            second_error_nm=two[load][0],
            difference_nm=two[load][0] - one[load][0],
            normalised_error=(
                normalised_error(one[load][0], two[load][0], one[load][1], two[load][1])
                if one[load][1] or two[load][1]
                else None
            ),
        )
        for load in sorted(one.keys() & two.keys())
    ]


def _by_load(check: RigCheck) -> dict[tuple[float, float, float, str], tuple[float, float]]:
    """Mean error and largest U of each load."""
    found: dict[tuple[float, float, float, str], list[Mapping[str, Any]]] = {}
    judged: Sequence[Mapping[str, Any]] = check.judged["torque"]["points"]
    for point, judgement in zip(check.entry.torque, judged, strict=True):
        load = (point.mass_kg, point.arm_m, point.arm_angle_deg, point.direction)
        found.setdefault(load, []).append(judgement)
    return {
        load: (
            math.fsum(each["error_nm"] for each in of) / len(of),
            max(float(each["u_expanded_nm"]) for each in of),
        )
        for load, of in found.items()
    }
