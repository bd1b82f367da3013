"""A recording made ready to be measured: even samples, velocity, muscle torque."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fieldlog.analysis.filters import carries, low_pass, slope_per_s
from fieldlog.analysis.limb import WeightTorque
from fieldlog.analysis.movements import Span
from fieldlog.analysis.sampling import EvenSamples, on_even_grid

__all__ = [
    "ANGLE_CUTOFF_HZ",
    "Motion",
    "VelocitySource",
    "angle_cutoff_hz",
    "directed_magnitude",
    "motion_of",
    "muscle_torque",
]

Array = NDArray[np.float64]
VelocitySource = Literal["column", "column_smoothed", "angle", "angle_instead_of_column"]

ANGLE_CUTOFF_HZ = 15.0
# A velocity column as noisy as this share of its own fast part would break slow sweeps into pieces.
_NOISY_SHARE = 0.05
# Velocity and angle may disagree by this share of the movement before the column is not believed.
_BELIEVED_SHARE = 0.25


@dataclass(frozen=True, eq=False)
class Motion:
    """Even samples of a recording. Angles in degrees, velocity in °/s, torque in N·m as recorded.

    ``smooth_angle_deg`` is the low-passed angle, ``steadiness`` what became of the velocity column.
    """

    time_s: Array
    angle_deg: Array
    smooth_angle_deg: Array
    velocity_deg_s: Array
    torque_nm: Array
    rate_hz: float
    velocity_source: VelocitySource
    grid: EvenSamples


def angle_cutoff_hz(rate_hz: float) -> float:
    """Return the cut-off for the angle before it is differentiated; 0 where the rate is too low for one."""
    return ANGLE_CUTOFF_HZ if carries(rate_hz, ANGLE_CUTOFF_HZ) else 0.0


def motion_of(time_s: Array, angle_deg: Array, torque_nm: Array, velocity_deg_s: Array | None) -> Motion:
    """Put a recording on an even grid and settle its velocity.

    The velocity column is used as it is; smoothed where it is too noisy for so slow a movement;
    and replaced by the derivative of the low-passed angle where it contradicts the angle.
    """
    columns = (angle_deg, torque_nm) if velocity_deg_s is None else (angle_deg, torque_nm, velocity_deg_s)
    grid = on_even_grid(time_s, columns)
    angle, torque = grid.signals[0], grid.signals[1]
    cutoff_hz = angle_cutoff_hz(grid.rate_hz)
    smooth_angle = low_pass(angle, grid.rate_hz, cutoff_hz)
    derived = slope_per_s(smooth_angle, grid.rate_hz)
    source: VelocitySource = "angle"
    velocity = derived
    if velocity_deg_s is not None:
        velocity = grid.signals[2]
        source = "column"
        if not _agree(velocity, derived):
            velocity, source = derived, "angle_instead_of_column"
        elif _is_noisy(velocity):
            velocity, source = low_pass(velocity, grid.rate_hz, cutoff_hz), "column_smoothed"
    return Motion(grid.time_s, angle, smooth_angle, velocity, torque, grid.rate_hz, source, grid)


def directed_magnitude(torque_nm: Array, movements: tuple[Span, ...], *, against_motion: bool) -> Array:
    """Give a torque without sign the direction of the movement, or the opposite one.

    In a dwell the sign changes half-way between the neighbours, where no movement is measured.
    """
    if not movements:
        return torque_nm
    signs = np.array([span.sign for span in movements], dtype=np.float64)
    middles = [(before.last + after.first) // 2 + 1 for before, after in pairwise(movements)]
    lengths = np.diff([0, *middles, torque_nm.size])
    return torque_nm * np.repeat(-signs if against_motion else signs, lengths)


def muscle_torque(
    motion: Motion, torque_nm: Array, weight_torque: WeightTorque | None, cutoff_hz: float
) -> tuple[Array, Array]:
    """Return the muscle torque before and after the low-pass, in N·m: recorded minus weight torque."""
    muscle = torque_nm if weight_torque is None else torque_nm - weight_torque.at(motion.angle_deg)
    return muscle, low_pass(muscle, motion.rate_hz, cutoff_hz)


def _agree(velocity: Array, derived: Array) -> bool:
    """Compare a velocity column with the derivative of the angle; the larger of both must mostly be shared."""
    apart = float(np.abs(velocity - derived).mean())
    return apart <= _BELIEVED_SHARE * max(float(np.abs(derived).mean()), float(np.abs(velocity).mean())) + 2.0


def _is_noisy(velocity: Array) -> bool:
    # Neighbours differ by noise far more than by acceleration; 0.954 turns the median of a normal difference into its SD.
    noise = float(np.median(np.abs(np.diff(velocity)))) / 0.954
    return noise > _NOISY_SHARE * float(
        np.partition(np.abs(velocity), -velocity.size // 20)[-velocity.size // 20]
    )
