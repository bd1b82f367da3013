"""Torque over speed: a table of what was tested, and a curve that never leaves it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["TorqueSpeed", "torque_over_speed"]

Array = NDArray[np.float64]

FEWEST_SPEEDS = 3


@dataclass(frozen=True)
class TorqueSpeed:
    """Peak torque at the tested speeds, slowest first; eccentric speeds are negative."""

    speeds_deg_s: tuple[float, ...]
    torques_nm: tuple[float, ...]

    def at(self, speed_deg_s: float) -> float | None:
        """Return the torque in N·m between tested speeds, None beyond them."""
        if not self.speeds_deg_s[0] <= speed_deg_s <= self.speeds_deg_s[-1]:
            return None
        return float(self._between(np.array([speed_deg_s]))[0])

    def curve(self, points: int = 50) -> tuple[Array, Array]:
        """Return speeds in °/s and torques in N·m of the curve from the slowest to the fastest tested speed."""
        speeds = np.linspace(self.speeds_deg_s[0], self.speeds_deg_s[-1], points)
        return speeds, self._between(speeds)

    def _between(self, speeds: Array) -> Array:
        """Piecewise cubic that keeps the order of the values (Fritsch and Butland 1984), so it invents no peak."""
        x, y = np.array(self.speeds_deg_s), np.array(self.torques_nm)
        steps, slopes = np.diff(x), np.diff(y) / np.diff(x)
        tangents = np.zeros_like(y)
        same_way = slopes[:-1] * slopes[1:] > 0.0
        weight_before, weight_after = 2 * steps[1:] + steps[:-1], steps[1:] + 2 * steps[:-1]
        with np.errstate(divide="ignore", invalid="ignore"):
            harmonic = (weight_before + weight_after) / (
                weight_before / slopes[:-1] + weight_after / slopes[1:]
            )
        tangents[1:-1] = np.where(same_way, harmonic, 0.0)
        tangents[0] = _end_tangent(steps[0], steps[1], slopes[0], slopes[1])
        tangents[-1] = _end_tangent(steps[-1], steps[-2], slopes[-1], slopes[-2])
        at = np.clip(np.searchsorted(x, speeds, side="right") - 1, 0, x.size - 2)
        t = (speeds - x[at]) / steps[at]
        return np.asarray(
            y[at] * (1 + 2 * t) * (1 - t) ** 2
            + tangents[at] * steps[at] * t * (1 - t) ** 2
            + y[at + 1] * t**2 * (3 - 2 * t)
            - tangents[at + 1] * steps[at] * t**2 * (1 - t)
        )


def torque_over_speed(peaks_nm: Mapping[float, float]) -> TorqueSpeed:
    """Return torque over speed from peak torques by speed (°/s → N·m), three or more speeds.

    Concentric and eccentric peaks may be joined, eccentric speeds negative. Raises ValueError for
    fewer speeds or numbers that are not finite.
    """
    if len(peaks_nm) < FEWEST_SPEEDS:
        raise ValueError(f"torque over speed needs {FEWEST_SPEEDS} speeds, there are {len(peaks_nm)}")
    speeds = sorted(peaks_nm)
    torques = [peaks_nm[speed] for speed in speeds]
    if not (np.isfinite(speeds).all() and np.isfinite(torques).all()):
        raise ValueError("speeds and peak torques must be finite numbers")
    return TorqueSpeed(tuple(float(speed) for speed in speeds), tuple(float(torque) for torque in torques))


def _end_tangent(step: float, next_step: float, slope: float, next_slope: float) -> float:
    """Three-point tangent at an end, held so that the curve keeps the order of the values."""
    tangent = ((2 * step + next_step) * slope - step * next_slope) / (step + next_step)
    if tangent * slope <= 0.0:
        return 0.0
    if slope * next_slope <= 0.0 and abs(tangent) > 3 * abs(slope):
        return 3 * slope
    return tangent
