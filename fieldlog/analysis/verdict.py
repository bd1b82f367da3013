"""What is to be said of a whole recording or set, beside the flags of single movements."""

from __future__ import annotations

from collections.abc import Sequence

from fieldlog.analysis.measures import MovementMeasures
from fieldlog.analysis.movements import Direction
from fieldlog.analysis.quality import Remark, remark
from fieldlog.analysis.set_figures import SetFigures, is_still_climbing
from fieldlog.analysis.signals import Motion

__all__ = ["gap_remarks", "is_fast_enough", "recording_remarks", "set_remarks", "speed_remarks"]

# Rates written as 99.9 Hz are 100 Hz.
_LOWEST_RATE_HZ = 98.5
_HIGH_VARIATION_PCT = 15.0


def is_fast_enough(rate_hz: float) -> bool:
    """Tell whether a recording has the hundred samples a second that isokinetic measures need (common practice)."""
    return rate_hz >= _LOWEST_RATE_HZ


def recording_remarks(motion: Motion, *, filtered: bool, torque_is_magnitude: bool) -> tuple[Remark, ...]:
    """Return what is to be said of the recording as a whole; ``filtered`` as the recipe asked for."""
    remarks = [remark("magnitude_torque")] if torque_is_magnitude else []
    if motion.grid.uneven:
        remarks.append(remark("uneven_sampling"))
    if not is_fast_enough(motion.rate_hz):
        seen = f"only {motion.rate_hz:.3g} samples a second, peaks and fast changes are blunted"
        remarks.append(
            remark("low_rate", seen=seen if filtered else f"{seen} and the filter could not be used")
        )
    return tuple(remarks)


def speed_remarks(set_speed_deg_s: float | None) -> tuple[Remark, ...]:
    """Say of a recording measured as holds that a set speed was given for it all the same."""
    if set_speed_deg_s is None:
        return ()
    return (
        remark(
            "mode_differs",
            seen=f"a set speed of {set_speed_deg_s:g}°/s was given, but the recording was measured as holds",
            advice="leave out the speed of an isometric recording, or check column and unit of the angle",
        ),
    )


def gap_remarks(motion: Motion, movements: Sequence[MovementMeasures]) -> tuple[Remark, ...]:
    """Name gaps that touch no movement; the others stand with the movements they touch."""
    if not motion.grid.gaps_s or any("gap" in movement.flags for movement in movements):
        return ()
    start_s, end_s = motion.grid.gaps_s[0]
    return (
        remark("gap", f"{len(motion.grid.gaps_s)}, the first {end_s - start_s:.2g} s at {start_s:.4g} s"),
    )


def set_remarks(
    way: Direction, counted: Sequence[MovementMeasures], figures: SetFigures
) -> tuple[Remark, ...]:
    """Return what is to be said of the counted movements of one direction together."""
    remarks = []
    if figures.peak_torque_cv_pct is not None and figures.peak_torque_cv_pct > _HIGH_VARIATION_PCT:
        remarks.append(remark("high_variation", f"Movements {way} (CV {figures.peak_torque_cv_pct:.0f} %)"))
    if is_still_climbing(counted):
        remarks.append(remark("still_climbing", f"Movements {way}"))
    return tuple(remarks)
