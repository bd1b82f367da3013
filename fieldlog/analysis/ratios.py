"""Ratios between sides, directions and modes; each says what stands above and what below."""

from __future__ import annotations

import math

__all__ = [
    "WEIGHT_TELL_TALE_PCT",
    "bilateral_difference_pct",
    "dynamic_control_ratio_pct",
    "ratio_pct",
    "weight_tell_tale_pct",
]

WEIGHT_TELL_TALE_PCT = 15.0
"""Climb of helped over hindered direction above which a missing weight correction is the likely cause."""


def bilateral_difference_pct(left: float, right: float) -> float:
    """Return 100·(right − left)/larger: positive where the right side is larger.

    ``left`` and ``right`` are the same measure of both sides, in any unit. Raises ValueError unless both
    are finite, none is negative and one is above 0. Of the many formulas in use (Bishop and others 2016,
    Strength Cond J 38(6):27) this one suits tests of one side at a time.
    """
    _refuse_nonsense(left, right)
    larger = max(left, right)
    if larger == 0.0:
        raise ValueError("both sides are 0; there is nothing to compare")
    return 100.0 * (right - left) / larger


def ratio_pct(numerator: float, denominator: float) -> float:
    """Return 100·numerator/denominator, for example flexion over extension.

    Raises ValueError unless both are finite and not negative, and the denominator is above 0.
    """
    _refuse_nonsense(numerator, denominator)
    if denominator == 0.0:
        raise ValueError("the denominator of a ratio is 0")
    return 100.0 * numerator / denominator


def dynamic_control_ratio_pct(eccentric_nm: float, concentric_nm: float) -> float:
    """Return 100·eccentric/concentric peak torque: the braking muscle over the muscle that moves the limb.

    At the knee: eccentric flexors over concentric extensors, at one speed (Aagaard and others 1998,
    Am J Sports Med 26:231). Raises ValueError as ``ratio_pct`` does.
    """
    return ratio_pct(eccentric_nm, concentric_nm)


def weight_tell_tale_pct(helped_nm: dict[float, float], hindered_nm: dict[float, float]) -> float | None:
    """Return by how many percent the ratio helped/hindered climbs from the slowest to the fastest speed.

    ``helped_nm`` and ``hindered_nm`` map the speed in °/s to the peak torque of the direction that weight
    helps, and hinders. None under two shared speeds. A corrected ratio stays flat over speed, an
    uncorrected one climbs, 0.58 to 0.74 from 30 to 240°/s (Aagaard and others 1995, Acta Physiol
    Scand 154:421), as weight stays the same while muscle torque falls.
    """
    shared = sorted(helped_nm.keys() & hindered_nm.keys())
    if len(shared) < 2:
        return None
    slowest, fastest = (ratio_pct(helped_nm[speed], hindered_nm[speed]) for speed in (shared[0], shared[-1]))
    return ratio_pct(fastest, slowest) - 100.0 if slowest > 0.0 else None


def _refuse_nonsense(*values: float) -> None:
    for value in values:
        if not math.isfinite(value) or value < 0.0:
            raise ValueError(f"{value:g} is no torque or work in the direction of the effort")
