"""A hybrid logical clock: wall time that never runs backwards and that a wrong laptop cannot poison.

A stamp is an integer, milliseconds since 1970 times 65536 plus a counter. It orders display only;
which revision follows which is said by the parents. A stamp more than a day ahead of this laptop's
clock does not move the clock (after Kulkarni et al. 2014, with a bound on the drift taken in).
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime

__all__ = ["DAY_MS", "HybridClock", "instant_of", "stamp_at", "wall_ms"]

DAY_MS = 24 * 60 * 60 * 1000
COUNTER_BITS = 16
LARGEST_STAMP = (1 << 63) - 1


def wall_ms() -> int:
    """Return the laptop's wall time in milliseconds since 1970."""
    return time.time_ns() // 1_000_000


def stamp_at(ms: int) -> int:
    """Return the first stamp of a moment, given in milliseconds since 1970."""
    return max(ms, 0) << COUNTER_BITS


def instant_of(stamp: int) -> datetime:
    """Return the moment of a stamp in UTC."""
    return datetime.fromtimestamp((stamp >> COUNTER_BITS) / 1000, UTC)


class HybridClock:
    """Gives out rising stamps and takes in those of others."""

    def __init__(self, now_ms: Callable[[], int] = wall_ms) -> None:
        self._now_ms = now_ms
        self._last = 0

    def horizon(self) -> int:
        """Return the largest stamp that may move this clock: a day from now."""
        return stamp_at(max(self._now_ms(), 0) + DAY_MS)

    def witness(self, stamp: int) -> None:
        """Take in the stamp of a revision, unless it lies beyond the horizon."""
        if self._last < stamp <= self.horizon():
            self._last = stamp

    def tick(self, count: int = 1) -> int:
        """Return the first of ``count`` new stamps, later than all that were given out or taken in."""
        now_ms = max(self._now_ms(), 0)
        # A clock that was set years ahead and then put right must not stay in the future.
        last = self._last if self._last <= stamp_at(now_ms + DAY_MS) else 0
        first = max(last + 1, stamp_at(now_ms))
        self._last = first + count - 1
        return first
