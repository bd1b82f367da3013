"""Measures → the JSON object that ``fieldlog trace`` prints and that is kept with a set."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from fieldlog.analysis.isometric import Hold
from fieldlog.analysis.limb import WeightTorque
from fieldlog.analysis.measures import MovementMeasures
from fieldlog.analysis.quality import Remark
from fieldlog.analysis.trace import RECIPE_VERSION, SetMeasures
from fieldlog.records.recipe import TraceOptions

if TYPE_CHECKING:
    from fieldlog.fieldwork.recording.recording import Recording

__all__ = ["HOLD_KEYS", "MOVEMENT_KEYS", "trace_body"]

MOVEMENT_KEYS = (
    "index",
    "direction",
    "mode",
    "start_s",
    "end_s",
    "start_deg",
    "end_deg",
    "range_deg",
    "load_range_deg",
    "load_range_start_deg",
    "load_range_end_deg",
    "load_range_share_pct",
    "load_range_speed_deg_s",
    "mean_speed_deg_s",
    "peak_torque_nm",
    "peak_torque_angle_deg",
    "time_to_peak_s",
    "work_j",
    "load_range_work_j",
    "mean_power_w",
    "peak_power_w",
    "impulse_nms",
    "torque_at_nm",
)
HOLD_KEYS = (
    "index",
    "direction",
    "start_s",
    "end_s",
    "angle_deg",
    "peak_torque_nm",
    "mean_torque_nm",
    "onset_s",
    "baseline_nm",
    "rtd_50_nm_s",
    "rtd_100_nm_s",
    "rtd_200_nm_s",
)


def trace_body(
    recording: Recording,
    options: TraceOptions,
    measures: SetMeasures,
    remarks: tuple[Remark, ...],
    *,
    weighed_by_sweep: bool,
) -> dict[str, Any]:
    """Return the measures as plain numbers, texts and None, with the recipe that gives them again."""
    return {
        "file": recording.name,
        "samples": measures.samples,
        "rate_hz": measures.rate_hz,
        "duration_s": measures.duration_s,
        "mode": measures.mode,
        "set_speed_deg_s": measures.set_speed_deg_s,
        "set_speed_source": measures.set_speed_source,
        "recipe": {
            **_recipe(options, measures, weighed_by_sweep=weighed_by_sweep),
            "already": recording.already.model_dump(),
        },
        "weight_torque": _weight(measures.weight_torque),
        "movements": [_movement(movement) for movement in measures.movements],
        "set": {
            "up": asdict(measures.up),
            "down": asdict(measures.down),
            "down_up_peak_ratio_pct": measures.down_up_peak_ratio_pct,
        },
        "isometric": {
            "holds": [_hold(hold) for hold in measures.isometric.holds],
            "rtd_cutoff_hz": measures.isometric.rtd_cutoff_hz,
        }
        if measures.isometric
        else None,
        "quality": [asdict(remark) for remark in (*remarks, *measures.quality)],
    }


def _recipe(options: TraceOptions, measures: SetMeasures, *, weighed_by_sweep: bool) -> dict[str, Any]:
    weighed = measures.weight_torque is not None
    return {
        "version": RECIPE_VERSION,
        "cutoff_hz": measures.cutoff_hz,
        "band_pct": options.band_pct,
        "gravity": ("sweep" if weighed_by_sweep else "given") if weighed else "none",
        "velocity": measures.velocity_source,
        "velocity_cutoff_hz": measures.signals.velocity_cutoff_hz,
        "resampled": measures.resampled,
        "speed_deg_s": options.speed_deg_s,
        "mode": options.mode,
        "drop": options.drop,
        "leave_out": list(options.leave_out),
        "at_deg": list(options.at_deg),
        "body_mass_kg": options.body_mass_kg,
    }


def _weight(weight: WeightTorque | None) -> dict[str, Any] | None:
    return None if weight is None else asdict(weight)


def _movement(movement: MovementMeasures) -> dict[str, Any]:
    body = {key: getattr(movement, key) for key in MOVEMENT_KEYS}
    return {**body, "torque_at_nm": dict(movement.torque_at_nm), "flags": list(movement.flags)}


def _hold(hold: Hold) -> dict[str, Any]:
    return {**{key: getattr(hold, key) for key in HOLD_KEYS}, "flags": list(hold.flags)}
