"""Weighing the limb with a relaxed sweep both ways, and telling whether it was relaxed."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldlog.analysis.filters import carries, low_pass
from fieldlog.analysis.limb import WeightTorque, fit_weight_torque
from fieldlog.analysis.movements import Span
from fieldlog.analysis.quality import Remark, remark
from fieldlog.analysis.signals import motion_of

__all__ = ["SweepWeighing", "weigh_sweep"]

Array = NDArray[np.float64]

_SWEEP_CUTOFF_HZ = 6.0
_BIN_DEG = 1.0
_STEADY_SHARE = 0.5
_SHAPE_DEGREE = 5
_APART_NM = 4.0
_APART_SHARE = 0.25
_BURST_NM = 1.0
_BURST_SHARE = 0.10


@dataclass(frozen=True)
class SweepWeighing:
    """The weight torque of a sweep, what speaks against it, and how it was judged.

    ``up_down_difference_nm``: mean distance between the directions, twice the friction of the lever;
    ``largest_burst_nm``: largest departure of the low-passed torque from its own smooth course.
    """

    weight_torque: WeightTorque
    up_down_difference_nm: float
    largest_burst_nm: float
    remarks: tuple[Remark, ...]


def weigh_sweep(
    time_s: Array, angle_deg: Array, torque_nm: Array, velocity_deg_s: Array | None = None
) -> SweepWeighing:
    """Fit the weight torque to a relaxed sweep that goes both ways.

    Each direction is averaged per degree where it moves steadily, then both are averaged over the
    degrees they share, so that friction cancels whatever the speeds. ``not_relaxed`` where directions
    differ by more than max(4 N·m, a quarter of the amplitude) or bursts exceed max(1 N·m, 10 % of
    it). Raises ValueError where it does not move both ways.
    """
    motion = motion_of(time_s, angle_deg, torque_nm, velocity_deg_s)
    spans = motion.movements
    ways = {span.direction for span in spans}
    if ways != {"up", "down"}:
        found = "does not move" if not ways else f"moves only {ways.pop()}"
        raise ValueError(f"the sweep {found}; move the relaxed limb slowly through the whole range both ways")
    cutoff_hz = _SWEEP_CUTOFF_HZ if carries(motion.rate_hz, _SWEEP_CUTOFF_HZ) else 0.0
    torque = low_pass(motion.torque_nm, motion.rate_hz, cutoff_hz)
    steady = {span: _steady(motion.velocity_deg_s, span) for span in spans}
    degrees, up_nm, down_nm = _both_ways(motion.smooth_angle_deg, torque, steady)
    weight = fit_weight_torque(degrees, (up_nm + down_nm) / 2.0)
    apart_nm = float(np.abs(up_nm - down_nm).mean())
    bursts = [_largest_burst_nm(motion.smooth_angle_deg[s], torque[s]) for s in steady.values()]
    burst_nm = max(bursts)
    weight = replace(weight, up_down_difference_nm=apart_nm)
    return SweepWeighing(weight, apart_nm, burst_nm, _relaxation_remarks(weight, apart_nm, burst_nm))


def _steady(velocity_deg_s: Array, span: Span) -> slice:
    """The part of a movement that runs at half its usual speed or more."""
    speed = velocity_deg_s[span.samples] * span.sign
    at_speed = np.flatnonzero(speed >= _STEADY_SHARE * float(np.median(speed)))
    return slice(span.first + int(at_speed[0]), span.first + int(at_speed[-1]) + 1)


def _both_ways(angle_deg: Array, torque_nm: Array, steady: dict[Span, slice]) -> tuple[Array, Array, Array]:
    """Mean torque per degree, up and down, over the degrees that both directions cover."""
    lowest = float(angle_deg.min())
    count = int((float(angle_deg.max()) - lowest) / _BIN_DEG) + 1
    means = {}
    for way in ("up", "down"):
        parts = [part for span, part in steady.items() if span.direction == way]
        bins = np.concatenate([((angle_deg[part] - lowest) / _BIN_DEG).astype(np.int64) for part in parts])
        samples = np.bincount(bins, minlength=count)
        torques = np.bincount(
            bins, weights=np.concatenate([torque_nm[part] for part in parts]), minlength=count
        )
        angles = np.bincount(
            bins, weights=np.concatenate([angle_deg[part] for part in parts]), minlength=count
        )
        with np.errstate(invalid="ignore"):
            means[way] = (samples, torques / samples, angles / samples)
    shared = (means["up"][0] > 0) & (means["down"][0] > 0)
    degrees = (means["up"][2][shared] + means["down"][2][shared]) / 2.0
    return degrees, means["up"][1][shared], means["down"][1][shared]


def _largest_burst_nm(angle_deg: Array, torque_nm: Array) -> float:
    """Largest departure from a smooth course over the angle, which stiff tissue near the ends is part of."""
    course = np.polynomial.Polynomial.fit(angle_deg, torque_nm, _SHAPE_DEGREE)
    return float(np.abs(torque_nm - course(angle_deg)).max())


def _relaxation_remarks(weight: WeightTorque, apart_nm: float, burst_nm: float) -> tuple[Remark, ...]:
    # Where cosine and offset cannot be told apart, only the curve's own swing says how large the weight is.
    amplitude = weight.amplitude_nm if weight.separable else _swing_nm(weight)
    if apart_nm > max(_APART_NM, _APART_SHARE * amplitude):
        return (
            remark(
                "not_relaxed",
                seen=f"up and down differ by {apart_nm:.1f} N·m, the limb was not relaxed while it was weighed",
            ),
        )
    if burst_nm > max(_BURST_NM, _BURST_SHARE * amplitude):
        return (
            remark(
                "not_relaxed",
                seen=f"a burst of {burst_nm:.1f} N·m, the limb was not relaxed while it was weighed",
            ),
        )
    return ()


def _swing_nm(weight: WeightTorque) -> float:
    assert weight.lowest_deg is not None
    assert weight.highest_deg is not None
    return float(np.abs(weight.at(np.linspace(weight.lowest_deg, weight.highest_deg, 50))).max())
