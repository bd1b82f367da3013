"""Holds: what the analysis measured of efforts without motion, as figures of a set like those of movements."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from statistics import stdev
from typing import Any

from fieldlog.analysis.counting import counts
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Direction

__all__ = [
    "ANGLE_TOLERANCE_DEG",
    "HOLD_FIGURES",
    "best_peak_nm",
    "direction_figures",
    "efforts_in",
    "hold_angle_deg",
    "measured_efforts",
    "measured_figures",
]

ANGLE_TOLERANCE_DEG = 5.0
"""Holds whose angles differ by no more than this compare (common practice)."""

HOLD_FIGURES = ("best_mean_torque_nm", "best_rtd_50_nm_s", "best_rtd_100_nm_s", "best_rtd_200_nm_s")
"""Figures that only holds have."""

_RATES = ("rtd_50_nm_s", "rtd_100_nm_s", "rtd_200_nm_s")


def efforts_in(record: EffortSet, efforts: Sequence[Direction]) -> list[dict[str, Any]]:
    """Every movement of a set or, of an isometric one, every hold with the angle it was held at.

    A hold counts in the direction its torque has. A rig that writes torque without its sign says nothing of
    the direction: where only one of the protocol's is an effort, it is that one.
    """
    left_out = {entry.index for entry in record.left_out}
    return measured_efforts(record.measures, efforts, left_out=left_out, unsigned=_is_unsigned(record))


def measured_efforts(
    measures: Mapping[str, Any],
    efforts: Sequence[Direction],
    *,
    left_out: Collection[int] = (),
    unsigned: bool = False,
) -> list[dict[str, Any]]:
    """The same of measures that are on no record yet; ``unsigned``: the rig writes torque without its sign."""
    found: list[dict[str, Any]] = list(measures["movements"])
    for hold in (measures.get("isometric") or {}).get("holds", ()):
        out = hold["index"] in left_out and "left_out" not in hold["flags"]
        flags = [*hold["flags"], *(["left_out"] if out else [])]
        found.append(
            {
                **hold,
                "direction": efforts[0] if unsigned and len(efforts) == 1 else hold["direction"],
                "mode": "isometric",
                "start_deg": hold["angle_deg"],
                "end_deg": hold["angle_deg"],
                "peak_torque_angle_deg": hold["angle_deg"],
                "work_j": None,
                "torque_at_nm": {},
                "flags": flags,
            }
        )
    return found


def direction_figures(
    record: EffortSet, direction: Direction, efforts: Sequence[Direction]
) -> dict[str, Any] | None:
    """The figures of one direction as the analysis gave them, or those of its holds; None without either."""
    return measured_figures(
        record.measures,
        direction,
        efforts,
        left_out={entry.index for entry in record.left_out},
        unsigned=_is_unsigned(record),
        body_mass_kg=record.body_mass_kg,
    )


def measured_figures(
    measures: Mapping[str, Any],
    direction: Direction,
    efforts: Sequence[Direction],
    *,
    left_out: Collection[int] = (),
    unsigned: bool = False,
    body_mass_kg: float | None = None,
) -> dict[str, Any] | None:
    """The same of measures that are on no record yet."""
    if not measures.get("isometric"):
        figures: dict[str, Any] | None = (measures.get("set") or {}).get(direction)
        return figures
    counted = [
        hold
        for hold in measured_efforts(measures, efforts, left_out=left_out, unsigned=unsigned)
        if hold["direction"] == direction and hold["mode"] == "isometric" and counts(hold["flags"])
    ]
    return _figures_of(counted, body_mass_kg)


def best_peak_nm(
    measures: Mapping[str, Any],
    direction: Direction,
    efforts: Sequence[Direction],
    *,
    left_out: Collection[int] = (),
    unsigned: bool = False,
) -> float | None:
    """The best peak torque of one direction, of movements or of holds; None without either."""
    figures = measured_figures(measures, direction, efforts, left_out=left_out, unsigned=unsigned)
    value = (figures or {}).get("best_peak_torque_nm")
    return None if value is None else float(value)


def hold_angle_deg(figures: dict[str, Any]) -> float | None:
    """The mean angle of the holds behind a set's figures; None where they are not of holds."""
    angle: float | None = figures.get("hold_angle_deg")
    return angle


def _figures_of(holds: Sequence[dict[str, Any]], body_mass_kg: float | None) -> dict[str, Any]:
    peaks = sorted(_known(holds, "peak_torque_nm"))
    best = peaks[-1] if peaks else None
    mean = math.fsum(peaks) / len(peaks) if peaks else None
    angles = _known(holds, "angle_deg")
    return {
        "movements": len(holds),
        "best_peak_torque_nm": best,
        "best_peak_torque_nm_kg": best / body_mass_kg if best is not None and body_mass_kg else None,
        "mean_peak_torque_nm": mean,
        "mean_best_three_nm": math.fsum(peaks[-3:]) / 3.0 if len(peaks) >= 3 else None,
        "peak_torque_cv_pct": 100.0 * stdev(peaks) / mean if mean and mean > 0.0 and len(peaks) > 1 else None,
        "total_work_j": None,
        "work_thirds_drop_pct": None,
        "decline_pct": None,
        "work_slope_j": None,
        "hold_angle_deg": math.fsum(angles) / len(angles) if angles else None,
        "best_mean_torque_nm": max(_known(holds, "mean_torque_nm"), default=None),
        **{f"best_{key}": max(_known(holds, key), default=None) for key in _RATES},
    }


def _is_unsigned(record: EffortSet) -> bool:
    return (record.column_map or {}).get("torque_sign") == "magnitude"


def _known(holds: Sequence[dict[str, Any]], key: str) -> list[float]:
    return [hold[key] for hold in holds if hold[key] is not None]
