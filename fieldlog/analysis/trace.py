"""One recording → its measures, and an honest word where a measure cannot be trusted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldlog.analysis.clipping import clipped_samples
from fieldlog.analysis.counting import counts
from fieldlog.analysis.filters import carries
from fieldlog.analysis.flags import count_flags, judged_hold, span_flags, with_range_flags
from fieldlog.analysis.isometric import IsometricMeasures, measure_holds
from fieldlog.analysis.limb import WeightTorque
from fieldlog.analysis.load_range import estimate_set_speed_deg_s
from fieldlog.analysis.measures import MovementMeasures, measure_movement
from fieldlog.analysis.movements import SHORTEST_SWEEP_DEG
from fieldlog.analysis.plausibility import implausible_remarks
from fieldlog.analysis.quality import Remark, flag_remarks
from fieldlog.analysis.set_figures import SetFigures, figures_of
from fieldlog.analysis.signals import Motion, VelocitySource, directed_magnitude, motion_of, muscle_torque
from fieldlog.analysis.verdict import (
    gap_remarks,
    is_fast_enough,
    recording_remarks,
    set_remarks,
    speed_remarks,
)

__all__ = ["FEWEST_SAMPLES", "LARGEST", "RECIPE_VERSION", "SetMeasures", "Trace", "analyse"]

Array = NDArray[np.float64]
Mode = Literal["concentric", "eccentric", "isometric"]

RECIPE_VERSION = 1
"""Changes whenever the same recording and options would give another number."""

FEWEST_SAMPLES = 20
LARGEST = {"time_s": 1e11, "angle_deg": 1e5, "torque_nm": 1e6, "velocity_deg_s": 1e6}
"""What a column may hold at most; beyond is a broken file, not a wrong unit, and no sum stays finite."""

_LEAST_EFFORT_SHARE = 0.05


@dataclass(frozen=True, eq=False)
class Trace:
    """A recording: seconds, degrees, newton metre and, where recorded, degrees per second.

    Torque is signed, positive towards larger angles. Raises ValueError unless all are finite, of one
    length (at least 20 samples) and time increases from sample to sample.
    """

    time_s: ArrayLike
    angle_deg: ArrayLike
    torque_nm: ArrayLike
    velocity_deg_s: ArrayLike | None = None

    def __post_init__(self) -> None:
        names = ["time_s", "angle_deg", "torque_nm"] + (
            ["velocity_deg_s"] if self.velocity_deg_s is not None else []
        )
        for name in names:
            values = np.asarray(getattr(self, name), dtype=np.float64)
            if values.ndim != 1:
                raise ValueError(f"{name} is not a plain list of numbers")
            if not np.isfinite(values).all():
                raise ValueError(f"{name}[{int(np.argmin(np.isfinite(values)))}] is not a finite number")
            if values.size and np.abs(values).max() > LARGEST[name]:
                at = int(np.argmax(np.abs(values)))
                raise ValueError(f"{name}[{at}] = {values[at]:g} is beyond anything a rig records")
            object.__setattr__(self, name, values)
        time_s: Array = np.asarray(self.time_s)
        if any(np.asarray(getattr(self, name)).size != time_s.size for name in names):
            raise ValueError(f"{', '.join(names)} differ in length")
        if time_s.size < FEWEST_SAMPLES:
            raise ValueError(f"{time_s.size} samples are too few; at least {FEWEST_SAMPLES} are needed")
        if not (np.diff(time_s) > 0.0).all():
            at = int(np.argmax(np.diff(time_s) <= 0.0)) + 1
            raise ValueError(f"time_s[{at}] does not come after the sample before it")


@dataclass(frozen=True, eq=False)
class SetMeasures:
    """Everything one recording shows. ``signals`` and ``muscle_nm`` are kept for drawing."""

    samples: int
    rate_hz: float
    duration_s: float
    mode: Literal["concentric", "eccentric", "isometric", "mixed"]
    set_speed_deg_s: float
    set_speed_source: Literal["given", "estimated"]
    weight_torque: WeightTorque | None
    movements: tuple[MovementMeasures, ...]
    up: SetFigures
    down: SetFigures
    down_up_peak_ratio_pct: float | None
    isometric: IsometricMeasures | None
    quality: tuple[Remark, ...]
    velocity_source: VelocitySource
    resampled: bool
    cutoff_hz: float
    signals: Motion = field(repr=False)
    muscle_nm: Array = field(repr=False)


def analyse(
    trace: Trace,
    *,
    speed_deg_s: float | None = None,
    weight_torque: WeightTorque | None = None,
    cutoff_hz: float = 15.0,
    band_pct: float = 5.0,
    at_deg: Sequence[float] = (),
    body_mass_kg: float | None = None,
    mode: Mode | None = None,
    drop: int = 0,
    leave_out: Sequence[int] = (),
    torque_is_magnitude: bool = False,
) -> SetMeasures:
    """Find the movements or holds of a recording and measure them.

    ``speed_deg_s`` is the set speed (None: estimated from the recording), ``weight_torque`` is subtracted,
    ``cutoff_hz`` is that of the zero-lag low-pass (0: none), ``band_pct`` the half width of the load
    range's speed, ``at_deg`` the angles at which torque is read, ``mode`` wins over what torque and motion say,
    ``drop`` leading movements per direction and the movements numbered in ``leave_out`` are listed but
    not counted. Raises ValueError with a sentence for the user where nothing can be measured.
    """
    _refuse_bad_options(speed_deg_s, band_pct, body_mass_kg, drop)
    time_s, angle, torque, velocity = _columns(trace)
    motion = motion_of(time_s, angle, torque, velocity)
    cutoff_used_hz = _usable_cutoff_hz(cutoff_hz, motion.rate_hz)
    still = float(np.ptp(angle)) < SHORTEST_SWEEP_DEG
    if still and mode in {"concentric", "eccentric"}:
        raise ValueError(
            f"the angle changes by only {np.ptp(angle):.2g}°, but a movement was declared; "
            "leave out the mode for an isometric recording, or check the unit of the angle"
        )
    spans = () if still else motion.movements
    signed = motion.torque_nm
    if torque_is_magnitude:
        signed = directed_magnitude(signed, spans, against_motion=mode == "eccentric")
    muscle, smooth_muscle = muscle_torque(motion, signed, weight_torque, cutoff_used_hz)
    clipped = clipped_samples(motion.torque_nm, motion.rate_hz)
    measures = SetMeasures(
        samples=time_s.size,
        rate_hz=motion.rate_hz,
        duration_s=float(time_s[-1] - time_s[0]),
        mode="isometric",
        set_speed_deg_s=0.0,
        set_speed_source="given" if mode else "estimated",
        weight_torque=weight_torque,
        movements=(),
        up=SetFigures(0),
        down=SetFigures(0),
        down_up_peak_ratio_pct=None,
        isometric=None,
        quality=(),
        velocity_source=motion.velocity_source,
        resampled=motion.grid.resampled,
        cutoff_hz=cutoff_used_hz,
        signals=motion,
        muscle_nm=smooth_muscle,
    )
    general = recording_remarks(
        motion, filtered=cutoff_used_hz == cutoff_hz, torque_is_magnitude=torque_is_magnitude
    )
    if still or mode == "isometric":
        found = measure_holds(motion, muscle, smooth_muscle, spans)
        holds = tuple(judged_hold(hold, clipped, weight_torque) for hold in found.holds)
        remarks = general + speed_remarks(speed_deg_s) + gap_remarks(motion, ()) + flag_remarks(holds, "Hold")
        return replace(
            measures,
            isometric=replace(found, holds=holds),
            quality=remarks + implausible_remarks(motion, (), holds, body_mass_kg),
        )
    if not spans:
        raise ValueError(
            f"no movement was found: the angle changes by {np.ptp(angle):.3g}°, but never by 5° at more than 1°/s"
        )
    set_speed = speed_deg_s or estimate_set_speed_deg_s(motion.velocity_deg_s, spans, band_pct)
    flags = count_flags(spans, drop, leave_out)
    movements = with_range_flags(
        [
            measure_movement(
                motion,
                smooth_muscle,
                span,
                index=index,
                set_speed_deg_s=set_speed,
                band_pct=band_pct,
                at_deg=at_deg,
                declared_mode=mode,
                weight_torque=weight_torque,
                flags=flags[index] + span_flags(motion, span, clipped),
            )
            for index, span in enumerate(spans, start=1)
        ]
    )
    up_counted, down_counted = (
        [m for m in movements if m.direction == way and counts(m.flags)] for way in ("up", "down")
    )
    up, down = figures_of(up_counted, body_mass_kg), figures_of(down_counted, body_mass_kg)
    modes = {m.mode for m in movements}
    return replace(
        measures,
        mode=modes.pop() if len(modes) == 1 else "mixed",
        set_speed_deg_s=set_speed,
        set_speed_source="given" if speed_deg_s else "estimated",
        movements=tuple(movements),
        up=up,
        down=down,
        down_up_peak_ratio_pct=_down_up_ratio_pct(up_counted, down_counted, up, down),
        quality=general
        + gap_remarks(motion, movements)
        + flag_remarks(movements, "Movement")
        + set_remarks("up", up_counted, up)
        + set_remarks("down", down_counted, down)
        + implausible_remarks(motion, movements, (), body_mass_kg),
    )


def _columns(trace: Trace) -> tuple[Array, Array, Array, Array | None]:
    velocity = None if trace.velocity_deg_s is None else np.asarray(trace.velocity_deg_s)
    return np.asarray(trace.time_s), np.asarray(trace.angle_deg), np.asarray(trace.torque_nm), velocity


def _refuse_bad_options(
    speed_deg_s: float | None, band_pct: float, body_mass_kg: float | None, drop: int
) -> None:
    if speed_deg_s is not None and not speed_deg_s > 0.0:
        raise ValueError(f"a set speed of {speed_deg_s:g}°/s is not above 0")
    if not 0.0 < band_pct <= 50.0:
        raise ValueError(f"a band of {band_pct:g} % is not between 0 and 50")
    if body_mass_kg is not None and not body_mass_kg > 0.0:
        raise ValueError(f"a body mass of {body_mass_kg:g} kg is not above 0")
    if drop < 0:
        raise ValueError(f"{drop} movements cannot be dropped")


def _usable_cutoff_hz(cutoff_hz: float, rate_hz: float) -> float:
    """Return 0 where the recording is too slow for any such filter, which the verdict then says."""
    return cutoff_hz if is_fast_enough(rate_hz) or carries(rate_hz, cutoff_hz) else 0.0


def _down_up_ratio_pct(
    up_counted: Sequence[MovementMeasures],
    down_counted: Sequence[MovementMeasures],
    up: SetFigures,
    down: SetFigures,
) -> float | None:
    best_up, best_down = up.best_peak_torque_nm, down.best_peak_torque_nm
    if best_up is None or best_down is None or len({m.mode for m in (*up_counted, *down_counted)}) != 1:
        return None
    # A limb carried back by the rig is no effort, although its small torque has a sign.
    if min(best_up, best_down) <= _LEAST_EFFORT_SHARE * max(best_up, best_down):
        return None
    return 100.0 * best_down / best_up
