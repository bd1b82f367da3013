"""What a movement or hold is flagged with beside its own measures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fieldlog.analysis.counting import counts
from fieldlog.analysis.isometric import Hold
from fieldlog.analysis.limb import WeightTorque
from fieldlog.analysis.measures import MovementMeasures
from fieldlog.analysis.movements import Direction, Span
from fieldlog.analysis.set_figures import differing_ranges
from fieldlog.analysis.signals import Motion

__all__ = ["count_flags", "judged_hold", "span_flags", "with_range_flags"]

Indices = NDArray[np.int64]


def count_flags(spans: Sequence[Span], drop: int, leave_out: Sequence[int]) -> dict[int, tuple[str, ...]]:
    """Return by number whether a movement is ``dropped`` or ``left_out``; ValueError for a number that is none."""
    unknown = [index for index in leave_out if not 1 <= index <= len(spans)]
    if unknown:
        raise ValueError(
            f"movement {unknown[0]} cannot be left out; the recording has {len(spans)} movements"
        )
    flags: dict[int, tuple[str, ...]] = {}
    seen: dict[Direction, int] = {"up": 0, "down": 0}
    for index, span in enumerate(spans, start=1):
        seen[span.direction] += 1
        dropped = ("dropped",) if seen[span.direction] <= drop else ()
        flags[index] = dropped + (("left_out",) if index in leave_out else ())
    return flags


def span_flags(motion: Motion, span: Span, clipped: Indices) -> tuple[str, ...]:
    """Return whether a torque limit or a gap lies in a movement."""
    inside = np.searchsorted(clipped, [span.first, span.last + 1])
    start_s, end_s = motion.time_s[span.first], motion.time_s[span.last]
    gap = any(from_s < end_s and to_s > start_s for from_s, to_s in motion.grid.gaps_s)
    return (("clipped",) if inside[1] > inside[0] else ()) + (("gap",) if gap else ())


def judged_hold(hold: Hold, clipped: Indices, weight_torque: WeightTorque | None) -> Hold:
    """Flag a hold that touches a torque limit, and empty one at an angle where the limb was not weighed."""
    inside = np.searchsorted(clipped, [hold.first_sample, hold.last_sample + 1])
    if inside[1] > inside[0]:
        hold = replace(hold, flags=(*hold.flags, "clipped"))
    if weight_torque is None or weight_torque.covers(np.array([hold.angle_deg])).all():
        return hold
    return replace(
        hold,
        peak_torque_nm=None,
        mean_torque_nm=None,
        rtd_50_nm_s=None,
        rtd_100_nm_s=None,
        rtd_200_nm_s=None,
        flags=(*hold.flags, "weight_extrapolated"),
    )


def with_range_flags(movements: Sequence[MovementMeasures]) -> list[MovementMeasures]:
    """Flag the movements whose range is well below that of the counted ones of their direction."""
    short: set[int] = set()
    for way in ("up", "down"):
        short.update(differing_ranges([m for m in movements if m.direction == way and counts(m.flags)]))
    return [replace(m, flags=(*m.flags, "range_differs")) if m.index in short else m for m in movements]
