"""Weight torque of limb and lever: what the rig shows although no muscle works."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["EXTRAPOLATION_DEG", "WeightTorque", "fit_weight_torque", "weight_torque_nm"]

Array = NDArray[np.float64]

# Condition number of (cos, sin, 1) over the angles weighed, above which cosine and offset cannot be
# told apart: about 40 for an even sweep over 60°, above 100 for one over 40° (common practice: sweep 60–70°).
_LARGEST_CONDITION = 50.0
_NARROWEST_SWEEP_DEG = 5.0

EXTRAPOLATION_DEG = 5.0
"""How far beside the weighed angles the curve may be used."""


@dataclass(frozen=True)
class WeightTorque:
    """Weight torque = ``cos_nm``·cos θ + ``sin_nm``·sin θ + ``offset_nm``.

    ``rms_nm`` is what the fit leaves over; ``range_deg`` how many degrees were weighed, from
    ``lowest_deg`` to ``highest_deg``; ``separable`` tells whether cosine and offset can be told apart
    over that range (where not, only the curve means something, not its coefficients);
    ``up_down_difference_nm`` is the mean distance between the two directions of a sweep.
    None where it is not known, as for coefficients given by hand.
    """

    cos_nm: float
    sin_nm: float
    offset_nm: float
    rms_nm: float | None = None
    range_deg: float | None = None
    separable: bool = True
    lowest_deg: float | None = None
    highest_deg: float | None = None
    up_down_difference_nm: float | None = None

    def at(self, angle_deg: Array) -> Array:
        """Return the weight torque in N·m at these angles."""
        return weight_torque_nm(angle_deg, self.cos_nm, self.sin_nm, self.offset_nm)

    def covers(self, angle_deg: Array) -> NDArray[np.bool_]:
        """Tell for each angle whether the limb was weighed there, or not more than 5° beside."""
        known = np.ones(np.shape(angle_deg), dtype=np.bool_)
        if self.lowest_deg is not None:
            known &= angle_deg >= self.lowest_deg - EXTRAPOLATION_DEG
        if self.highest_deg is not None:
            known &= angle_deg <= self.highest_deg + EXTRAPOLATION_DEG
        return known

    @property
    def amplitude_nm(self) -> float:
        """Size of the gravity term in N·m: √(cos² + sin²)."""
        return float(np.hypot(self.cos_nm, self.sin_nm))


def weight_torque_nm(angle_deg: Array, cos_nm: float, sin_nm: float, offset_nm: float) -> Array:
    """Return cos_nm·cos θ + sin_nm·sin θ + offset_nm in N·m."""
    angle_rad = np.radians(angle_deg)
    return np.asarray(cos_nm * np.cos(angle_rad) + sin_nm * np.sin(angle_rad) + offset_nm)


def fit_weight_torque(angle_deg: ArrayLike, torque_nm: ArrayLike) -> WeightTorque:
    """Fit the weight torque to a relaxed sweep or to static holds by least squares.

    ``angle_deg`` and ``torque_nm`` of equal length; from a sweep both ways friction cancels where
    both directions cover the same angles evenly. Raises ValueError for fewer than three samples,
    numbers that are not finite, or a range below 5°.
    Form after Anderson, Nussbaum and Madigan (2010), J Biomech 43:1220, without passive exponentials.
    """
    angle = np.asarray(angle_deg, dtype=np.float64)
    torque = np.asarray(torque_nm, dtype=np.float64)
    if angle.ndim != 1 or angle.shape != torque.shape:
        raise ValueError("angle and torque are not two lists of the same length")
    if angle.size < 3:
        raise ValueError(f"the weight torque needs at least 3 angles, there are {angle.size}")
    if not (np.isfinite(angle).all() and np.isfinite(torque).all()):
        raise ValueError("angle and torque must be finite numbers")
    lowest, highest = float(angle.min()), float(angle.max())
    if highest - lowest < _NARROWEST_SWEEP_DEG:
        raise ValueError(
            f"the weight torque cannot be fitted over {highest - lowest:.3g}°; weigh the limb over the whole range"
        )
    angle_rad = np.radians(angle)
    design = np.column_stack((np.cos(angle_rad), np.sin(angle_rad), np.ones_like(angle)))
    coefficients, _, _, singular = np.linalg.lstsq(design, torque, rcond=None)
    left_over = torque - design @ coefficients
    condition = float(singular[0] / singular[-1]) if singular[-1] > 0.0 else np.inf
    return WeightTorque(
        cos_nm=float(coefficients[0]),
        sin_nm=float(coefficients[1]),
        offset_nm=float(coefficients[2]),
        rms_nm=float(np.sqrt(np.mean(left_over**2))),
        range_deg=highest - lowest,
        separable=condition <= _LARGEST_CONDITION,
        lowest_deg=lowest,
        highest_deg=highest,
    )
