"""The measures of one movement."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fieldlog.analysis.limb import WeightTorque
from fieldlog.analysis.load_range import find_load_range
from fieldlog.analysis.movements import Direction, Span
from fieldlog.analysis.signals import Motion

__all__ = [
    "MovementMeasures",
    "MovementMode",
    "angle_key",
    "measure_movement",
    "mode_of",
    "work_j",
]

Array = NDArray[np.float64]
MovementMode = Literal["concentric", "eccentric"]

_OVERSHOOT = 1.10
_CATCH_S = 0.1
_SHORTEST_OVERSHOOT_S = 0.010
_FEWEST_OVERSHOOT_SAMPLES = 3
_FAST_DEG_S = 180.0
_SHORT_SHARE_PCT = 40.0
_SHORT_SHARE_FAST_PCT = 25.0
_EDGE_S = 0.030
_INSIDE_S = 0.050
_EDGE_RISE = 1.10


@dataclass(frozen=True)
class MovementMeasures:
    """What one movement showed, torque positive in the direction of the effort; None where not known."""

    index: int
    direction: Direction
    mode: MovementMode
    start_s: float
    end_s: float
    start_deg: float
    end_deg: float
    range_deg: float
    mean_speed_deg_s: float
    load_range_deg: float | None = None
    load_range_share_pct: float | None = None
    load_range_start_deg: float | None = None
    load_range_end_deg: float | None = None
    load_range_speed_deg_s: float | None = None
    peak_torque_nm: float | None = None
    peak_torque_angle_deg: float | None = None
    time_to_peak_s: float | None = None
    work_j: float | None = None
    load_range_work_j: float | None = None
    mean_power_w: float | None = None
    peak_power_w: float | None = None
    impulse_nms: float | None = None
    torque_at_nm: dict[str, float | None] = field(default_factory=dict)
    flags: tuple[str, ...] = ()
    first_sample: int = 0
    last_sample: int = 0
    load_range_samples: tuple[int, int] | None = None


def angle_key(angle_deg: float) -> str:
    """Return the name of an angle in ``torque_at_nm``: 30 for 30.0, 22.5 for 22.5."""
    return f"{angle_deg:g}"


def work_j(torque_nm: Array, angle_deg: Array) -> float:
    """Return ∫ torque d|θ| in joule by the trapezoid rule, angles turned into radians.

    ``angle_deg`` as the lever moves, up or down; torque positive in the direction of the effort.
    """
    turned = np.radians(np.diff(angle_deg))
    total = float(np.dot(torque_nm[1:] + torque_nm[:-1], turned)) / 2.0
    return total if angle_deg[-1] >= angle_deg[0] else -total


def mode_of(torque_nm: Array, velocity_deg_s: Array) -> MovementMode:
    """Return the mode of a movement: concentric where muscle torque and motion agree on average."""
    return "concentric" if float(np.dot(torque_nm, velocity_deg_s)) >= 0.0 else "eccentric"


def measure_movement(
    motion: Motion,
    muscle_nm: Array,
    span: Span,
    *,
    index: int,
    set_speed_deg_s: float,
    band_pct: float,
    at_deg: Sequence[float] = (),
    declared_mode: MovementMode | None = None,
    weight_torque: WeightTorque | None = None,
    flags: Sequence[str] = (),
) -> MovementMeasures:
    """Measure one movement of a recording.

    ``muscle_nm`` is the low-passed muscle torque in N·m. Where no load range is found all torque measures
    are None; where the movement leaves the angles at which the limb was weighed by more than 5°, those
    that need the torque there are.
    """
    time_s, angle, torque = (
        motion.time_s[span.samples],
        motion.angle_deg[span.samples],
        muscle_nm[span.samples],
    )
    velocity = motion.velocity_deg_s[span.samples]
    found_mode = mode_of(torque, velocity)
    mode = declared_mode or found_mode
    flagged = list(flags)
    if mode != found_mode:
        flagged.append("mode_differs")
    effort = torque * (span.sign if mode == "concentric" else -span.sign)
    speed = velocity * span.sign
    start_deg, end_deg = float(angle[0]), float(angle[-1])
    duration_s = float(time_s[-1] - time_s[0])
    range_deg = abs(end_deg - start_deg)
    measures = MovementMeasures(
        index=index,
        direction=span.direction,
        mode=mode,
        start_s=float(time_s[0]),
        end_s=float(time_s[-1]),
        start_deg=start_deg,
        end_deg=end_deg,
        range_deg=range_deg,
        mean_speed_deg_s=range_deg / duration_s,
        torque_at_nm={angle_key(at): None for at in at_deg},
        first_sample=span.first,
        last_sample=span.last,
    )
    covered = _covered(angle, weight_torque)
    if not covered.all():
        flagged.append("weight_extrapolated")
    load_range = find_load_range(speed, motion.rate_hz, set_speed_deg_s, band_pct)
    if load_range is None:
        return replace(measures, flags=(*flagged, "no_load_range"))
    first, last = load_range
    inside = slice(first, last + 1)
    load_deg = abs(float(angle[last] - angle[first]))
    share_pct = 100.0 * load_deg / range_deg
    if share_pct < (_SHORT_SHARE_PCT if set_speed_deg_s < _FAST_DEG_S else _SHORT_SHARE_FAST_PCT):
        flagged.append("short_load_range")
    if _overshoots(speed, first, set_speed_deg_s, motion.rate_hz):
        flagged.append("overshoot")
    measures = replace(
        measures,
        load_range_deg=load_deg,
        load_range_share_pct=share_pct,
        load_range_start_deg=float(angle[first]),
        load_range_end_deg=float(angle[last]),
        load_range_speed_deg_s=float(speed[inside].mean()),
        load_range_samples=(span.first + first, span.first + last),
        torque_at_nm=_torque_at(
            at_deg, motion.smooth_angle_deg[span.samples][inside], effort[inside], weight_torque
        ),
    )
    if covered[inside].all():
        peak = first + int(np.argmax(effort[inside]))
        if _peak_at_edge(effort[inside], peak - first, motion.rate_hz):
            flagged.append("peak_at_edge")
        measures = replace(
            measures,
            peak_torque_nm=float(effort[peak]),
            peak_torque_angle_deg=float(angle[peak]),
            time_to_peak_s=float(time_s[peak] - time_s[0]),
            load_range_work_j=work_j(effort[inside], angle[inside]),
            peak_power_w=float(np.radians(effort[inside] * speed[inside]).max()),
        )
    if covered.all():
        done_j = work_j(effort, angle)
        measures = replace(
            measures,
            work_j=done_j,
            mean_power_w=done_j / duration_s,
            impulse_nms=float(effort[1:].sum() + effort[:-1].sum()) / 2.0 / motion.rate_hz,
        )
    return replace(measures, flags=tuple(flagged))


def _covered(angle_deg: Array, weight_torque: WeightTorque | None) -> NDArray[np.bool_]:
    return (
        np.ones(angle_deg.size, dtype=np.bool_) if weight_torque is None else weight_torque.covers(angle_deg)
    )


def _overshoots(speed_deg_s: Array, load_range_start: int, set_speed_deg_s: float, rate_hz: float) -> bool:
    """Tell whether the lever ran away before the load range, or in a gap right after its start that was closed."""
    too_fast = speed_deg_s > _OVERSHOOT * set_speed_deg_s
    if too_fast[:load_range_start].any():
        return True
    # Noise on the velocity exceeds the limit for a sample, a lever does so for longer.
    lasting = max(_FEWEST_OVERSHOOT_SAMPLES, round(_SHORTEST_OVERSHOOT_S * rate_hz))
    early = too_fast[load_range_start : load_range_start + round(_CATCH_S * rate_hz)]
    return bool(early.size >= lasting and np.convolve(early, np.ones(lasting), mode="valid").max() >= lasting)


def _torque_at(
    at_deg: Sequence[float], angle_deg: Array, effort_nm: Array, weight_torque: WeightTorque | None
) -> dict[str, float | None]:
    """Torque at fixed angles, inside the load range only."""
    if not at_deg:
        return {}
    # The low-passed angle runs one way at the set speed; what noise is left is ironed out for the look-up.
    rising = angle_deg[-1] >= angle_deg[0]
    course = np.maximum.accumulate(angle_deg if rising else -angle_deg)
    found: dict[str, float | None] = {}
    for at in at_deg:
        place = at if rising else -at
        known = course[0] <= place <= course[-1] and bool(_covered(np.array([at]), weight_torque).all())
        found[angle_key(at)] = float(np.interp(place, course, effort_nm)) if known else None
    return found


def _peak_at_edge(effort_nm: Array, peak: int, rate_hz: float) -> bool:
    """Tell whether the peak is the rest of a catch or a stop: near an end, and well above what lies inside."""
    edge, inside = _EDGE_S * rate_hz + 1e-6, min(round(_INSIDE_S * rate_hz), effort_nm.size - 1)
    from_end = effort_nm.size - 1 - peak
    at_start = peak <= edge and effort_nm[peak] > _EDGE_RISE * effort_nm[inside]
    at_end = from_end <= edge and effort_nm[peak] > _EDGE_RISE * effort_nm[-1 - inside]
    return bool(at_start or at_end)
