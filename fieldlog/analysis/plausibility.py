"""Numbers that no person and no rig produces: a wrong unit or column rather than a measurement."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fieldlog.analysis.isometric import Hold
from fieldlog.analysis.measures import MovementMeasures
from fieldlog.analysis.quality import Remark, remark
from fieldlog.analysis.signals import Motion

__all__ = ["implausible_remarks"]

# Wide on purpose, common practice: they catch units, not people.
_LARGEST_TORQUE_NM = 1000.0
_LARGEST_TORQUE_NM_KG = 8.0
_LARGEST_SPEED_DEG_S = 700.0
_LARGEST_ANGLE_DEG = 400.0


def implausible_remarks(
    motion: Motion, movements: Sequence[MovementMeasures], holds: Sequence[Hold], body_mass_kg: float | None
) -> tuple[Remark, ...]:
    """Return what cannot be right about a recording; at most one remark with the first reason found."""
    peaks = [m.peak_torque_nm for m in movements] + [hold.peak_torque_nm for hold in holds]
    largest_nm = max((peak for peak in peaks if peak is not None), default=0.0)
    largest_angle = float(np.abs(motion.angle_deg).max())
    fastest = max((m.mean_speed_deg_s for m in movements), default=0.0)
    if largest_nm > _LARGEST_TORQUE_NM:
        seen, advice = (
            f"a peak torque of {largest_nm:.0f} N·m is beyond any person",
            "check the unit of the torque column",
        )
    elif body_mass_kg and largest_nm > _LARGEST_TORQUE_NM_KG * body_mass_kg:
        seen = f"a peak torque of {largest_nm / body_mass_kg:.1f} N·m a kilogram is beyond any person"
        advice = "check the body mass and the unit of the torque column"
    elif largest_angle > _LARGEST_ANGLE_DEG:
        seen, advice = (
            f"an angle of {largest_angle:.0f}° is beyond any joint",
            "check the unit of the angle column",
        )
    elif fastest > _LARGEST_SPEED_DEG_S:
        seen = f"a mean speed of {fastest:.0f}°/s is beyond these rigs"
        advice = "check the units of time and angle"
    elif motion.velocity_source == "angle_instead_of_column":
        seen = "the velocity column does not follow the angle, so the angle's own velocity was used"
        advice = "check column, unit and sign of the velocity"
    elif not movements and not holds:
        seen, advice = (
            "no effort was found in a recording without motion",
            "check the torque column, or repeat",
        )
    else:
        return ()
    return (remark("implausible", seen=seen, advice=advice),)
