"""Where the torque channel has run out of range: a flat top at the largest value."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["clipped_samples"]

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

_SHORTEST_S = 0.010
_FEWEST = 5
_TOP_OVER_NEXT = 8
_CORNER_S = 0.020
_CORNER_SHARE = 0.005
_LARGE_SHARE = 0.2


def clipped_samples(torque_nm: Array, rate_hz: float) -> Indices:
    """Return the indices of samples on a flat top, at the largest and the smallest value of the recording.

    ``torque_nm`` as recorded. A top is flat where the extreme value itself stands for 10 ms and five
    samples, far more often than the steps just below it (a rounded peak of a coarse converter has
    those), and the torque reaches and leaves it at a slope (a steady hold creeps up to it). All limits
    are common practice, tried on simulated recordings.
    """
    largest = float(np.abs(torque_nm).max())
    found: list[Indices] = [
        _flat_top(side, rate_hz)
        for side in (torque_nm, -torque_nm)
        if float(side.max()) > _LARGE_SHARE * largest
    ]
    return np.sort(np.concatenate(found)) if found else np.empty(0, dtype=np.int64)


def _flat_top(torque_nm: Array, rate_hz: float) -> Indices:
    nothing = np.empty(0, dtype=np.int64)
    top = float(torque_nm.max())
    at_top = np.flatnonzero(torque_nm == top)
    if at_top.size < max(_FEWEST, _SHORTEST_S * rate_hz):
        return nothing
    below = torque_nm[torque_nm < top]
    if not below.size:
        return nothing
    step = top - float(below.max())
    just_below = np.count_nonzero(below >= top - 1.5 * step)
    if at_top.size < _TOP_OVER_NEXT * just_below:
        return nothing
    corner = max(1, round(_CORNER_S * rate_hz))
    breaks = np.flatnonzero(np.diff(at_top) > corner)
    tops = np.split(at_top, breaks + 1)
    kept = [run for run in tops if run.size >= _FEWEST and _has_corner(torque_nm, run, corner, top)]
    return np.concatenate(kept) if kept else nothing


def _has_corner(torque_nm: Array, run: Indices, corner: int, top: float) -> bool:
    before = torque_nm[max(run[0] - corner, 0) : run[0]]
    after = torque_nm[run[-1] + 1 : run[-1] + 1 + corner]
    return all(top - float(side.min()) > _CORNER_SHARE * abs(top) for side in (before, after) if side.size)
