"""Where a recording moves: each sweep in one direction, without the dwells between."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["SHORTEST_SWEEP_DEG", "Direction", "Span", "find_movements", "rest_speed_deg_s"]

Array = NDArray[np.float64]
Direction = Literal["up", "down"]

_REST_SHARE = 0.02
_REST_DEG_S = 1.0
_SHORTEST_SHARE = 0.4
SHORTEST_SWEEP_DEG = 5.0


@dataclass(frozen=True)
class Span:
    """One movement: samples ``first`` to ``last`` (both included) and its direction."""

    first: int
    last: int
    direction: Direction

    @property
    def sign(self) -> int:
        """+1 where the angle increases, −1 where it decreases."""
        return 1 if self.direction == "up" else -1

    @property
    def samples(self) -> slice:
        """The samples as a slice."""
        return slice(self.first, self.last + 1)


def rest_speed_deg_s(velocity_deg_s: Array) -> float:
    """Return the speed below which the lever counts as at rest: 2 % of the largest, at least 1°/s."""
    return max(_REST_SHARE * float(np.abs(velocity_deg_s).max()), _REST_DEG_S)


def find_movements(angle_deg: Array, velocity_deg_s: Array) -> tuple[Span, ...]:
    """Return the movements of a recording in time order.

    A movement lies between the samples where |velocity| last was, and first is again, below the rest
    speed; a change of direction without a dwell ends one and begins the next. Sweeps shorter than
    40 % of the longest, or than 5°, are no movement.
    """
    rest = rest_speed_deg_s(velocity_deg_s)
    course = np.sign(velocity_deg_s) * (np.abs(velocity_deg_s) >= rest)
    changes = np.flatnonzero(np.diff(course)) + 1
    firsts = np.concatenate(([0], changes))
    lasts = np.concatenate((changes - 1, [course.size - 1]))
    moving = course[firsts] != 0.0
    firsts, lasts = firsts[moving], lasts[moving]
    signs = course[firsts]
    # The sample at rest on either side belongs to the movement; where the course turns at once there is none.
    before, after = np.maximum(firsts - 1, 0), np.minimum(lasts + 1, course.size - 1)
    firsts = np.where(course[before] == 0.0, before, firsts)
    lasts = np.where(course[after] == 0.0, after, lasts)
    sweeps = (angle_deg[lasts] - angle_deg[firsts]) * signs
    if not sweeps.size:
        return ()
    enough = (sweeps >= SHORTEST_SWEEP_DEG) & (sweeps >= _SHORTEST_SHARE * sweeps.max())
    return tuple(
        Span(int(first), int(last), "up" if sign > 0 else "down")
        for first, last, sign in zip(firsts[enough], lasts[enough], signs[enough], strict=True)
    )
