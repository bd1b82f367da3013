"""A recording made ready to be measured: even samples, velocity, muscle torque."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fieldlog.analysis.filters import carries, low_pass, slope_per_s
from fieldlog.analysis.limb import WeightTorque
from fieldlog.analysis.movements import SHORTEST_SWEEP_DEG, Span, find_movements
from fieldlog.analysis.sampling import EvenSamples, on_even_grid

__all__ = [
    "ANGLE_CUTOFF_HZ",
    "Motion",
    "VelocitySource",
    "directed_magnitude",
    "motion_of",
    "muscle_torque",
]

Array = NDArray[np.float64]
VelocitySource = Literal["column", "column_smoothed", "angle", "angle_instead_of_column"]

ANGLE_CUTOFF_HZ = 15.0
# Tried one after another where noise breaks slow movements to pieces.
_SLOWER_CUTOFFS_HZ = (6.0, 2.5)
# The longest movement of a recording covers most of its range, or it was broken to pieces (common practice).
_WHOLE_SHARE = 0.6
# Velocity and angle may disagree by this share of the movement before the column is not believed.
_BELIEVED_SHARE = 0.25
_BELIEVED_DEG_S = 2.0


@dataclass(frozen=True, eq=False)
class Motion:
    """Even samples of a recording. Angles in degrees, velocity in °/s, torque in N·m as recorded.

    ``smooth_angle_deg`` is the angle low-passed at ``velocity_cutoff_hz``, ``velocity_source`` says
    where the velocity is from, ``movements`` are the sweeps found in it.
    """

    time_s: Array
    angle_deg: Array
    smooth_angle_deg: Array
    velocity_deg_s: Array
    torque_nm: Array
    rate_hz: float
    velocity_source: VelocitySource
    velocity_cutoff_hz: float
    movements: tuple[Span, ...]
    grid: EvenSamples


def motion_of(time_s: Array, angle_deg: Array, torque_nm: Array, velocity_deg_s: Array | None) -> Motion:
    """Put a recording on an even grid, settle its velocity and find its movements.

    The velocity column is used as it is; where it contradicts the angle, or is missing, the derivative
    of the low-passed angle takes its place. Where noise breaks slow movements to pieces, column or
    angle are low-passed further.
    """
    columns = (angle_deg, torque_nm) if velocity_deg_s is None else (angle_deg, torque_nm, velocity_deg_s)
    grid = on_even_grid(time_s, columns)
    angle, torque = grid.signals[0], grid.signals[1]
    cutoff_hz = ANGLE_CUTOFF_HZ if carries(grid.rate_hz, ANGLE_CUTOFF_HZ) else 0.0
    smooth_angle = low_pass(angle, grid.rate_hz, cutoff_hz)
    derived = slope_per_s(smooth_angle, grid.rate_hz)
    source: VelocitySource = "angle"
    velocity = derived
    if velocity_deg_s is not None:
        believed = _agree(grid.signals[2], derived)
        source = "column" if believed else "angle_instead_of_column"
        velocity = grid.signals[2] if believed else derived

    def motion(smooth_angle_deg: Array, velocity: Array, source: VelocitySource, cutoff_hz: float) -> Motion:
        found = find_movements(angle, velocity)
        return Motion(
            grid.time_s,
            angle,
            smooth_angle_deg,
            velocity,
            torque,
            grid.rate_hz,
            source,
            cutoff_hz,
            found,
            grid,
        )

    first = motion(smooth_angle, velocity, source, cutoff_hz)
    if _is_whole(first):
        return first
    for slower_hz in _SLOWER_CUTOFFS_HZ:
        slower_angle = low_pass(angle, grid.rate_hz, slower_hz)
        if source == "column":
            smoothed = motion(
                slower_angle, low_pass(velocity, grid.rate_hz, slower_hz), "column_smoothed", slower_hz
            )
        else:
            smoothed = motion(slower_angle, slope_per_s(slower_angle, grid.rate_hz), source, slower_hz)
        if _is_whole(smoothed):
            return smoothed
    return first


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
    larger = max(float(np.abs(derived).mean()), float(np.abs(velocity).mean()))
    return apart <= _BELIEVED_SHARE * larger + _BELIEVED_DEG_S


def _is_whole(motion: Motion) -> bool:
    """Tell whether the longest movement covers most of the range, or there is no range to speak of."""
    range_deg = float(np.ptp(motion.smooth_angle_deg))
    sweeps = [abs(float(motion.angle_deg[s.last] - motion.angle_deg[s.first])) for s in motion.movements]
    return range_deg < SHORTEST_SWEEP_DEG or max(sweeps, default=0.0) >= _WHOLE_SHARE * range_deg
