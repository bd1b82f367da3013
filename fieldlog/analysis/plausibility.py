"""Numbers that no person and no rig produces: a wrong unit or column rather than a measurement."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fieldlog.analysis.filters import slope_per_s
from fieldlog.analysis.isometric import Hold
from fieldlog.analysis.measures import MovementMeasures
from fieldlog.analysis.movements import find_movements
from fieldlog.analysis.quality import Remark, remark
from fieldlog.analysis.signals import Motion

__all__ = ["implausible_remarks"]

# Wide on purpose, common practice: they catch units, not people.
_LARGEST_TORQUE_NM = 1000.0
_LARGEST_TORQUE_NM_KG = 8.0
_LARGEST_SPEED_DEG_S = 700.0
_LARGEST_ANGLE_DEG = 400.0
_LEAST_RADIANS_DEG = 25.0
_MOVING_SHARE = 0.25


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
    elif movements and float(np.ptp(motion.torque_nm)) == 0.0:
        seen = f"the torque is {motion.torque_nm[0]:g} N·m on every sample"
        advice = "check the torque column and the cable"
    elif not movements and _looks_like_radians(motion):
        seen = f"the angle is never at rest although it changes by only {np.ptp(motion.angle_deg):.2g}°"
        advice = "if the file has radians, say so in a column map"
    elif not movements and not holds:
        seen, advice = (
            "no effort was found in a recording without motion",
            "check the torque column, or repeat",
        )
    else:
        return ()
    return (remark("implausible", seen=seen, advice=advice),)


def _looks_like_radians(motion: Motion) -> bool:
    """Tell whether an angle that hardly changes would move to and fro for long if it were radians.

    A lever that gives way under a hold moves only while torque rises and falls.
    """
    angle_deg = np.degrees(motion.smooth_angle_deg)
    if float(np.ptp(angle_deg)) < _LEAST_RADIANS_DEG:
        return False
    spans = find_movements(angle_deg, slope_per_s(angle_deg, motion.rate_hz))
    moving = sum(span.last - span.first for span in spans)
    return moving > _MOVING_SHARE * angle_deg.size
