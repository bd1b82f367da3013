"""The measures of a recording as text for a terminal of 80 columns."""

from __future__ import annotations

import textwrap
from typing import Any

from fieldlog.cli.output import print_line

__all__ = ["FIGURES", "print_trace"]

_WIDTH = 80

FIGURES = (
    ("movements", "movements that count", 0),
    ("best_peak_torque_nm", "best peak torque, N·m", 1),
    ("best_peak_torque_nm_kg", "best peak torque, N·m/kg", 2),
    ("mean_peak_torque_nm", "mean peak torque, N·m", 1),
    ("mean_best_three_nm", "mean of the best three, N·m", 1),
    ("peak_torque_cv_pct", "variation of peak torque, %", 1),
    ("total_work_j", "total work, J", 1),
    ("work_thirds_drop_pct", "work, last third below first, %", 1),
    ("decline_pct", "decline of peak torque, %", 1),
    ("work_slope_j", "change of work per repetition, J", 2),
)


def print_trace(body: dict[str, Any]) -> None:
    """Print the measures: what was read, movements or holds, set figures, quality."""
    for line in _lines(body):
        print_line(line)


def _lines(body: dict[str, Any]) -> list[str]:
    lines = _wrapped(
        f"{body['file']}: {body['samples']} samples, {body['rate_hz']:.4g} Hz, {body['duration_s']:.1f} s, {body['mode']}"
    )
    lines += _wrapped(_recipe(body["recipe"]))
    if body["weight_torque"]:
        lines += _wrapped(_weight(body["weight_torque"]))
    if body["isometric"]:
        lines += ["", *_holds(body["isometric"])]
    else:
        lines.append(f"set speed {body['set_speed_deg_s']:.4g}°/s ({body['set_speed_source']})")
        lines += ["", *_movements(body["movements"])]
        lines += [*_torque_at(body["movements"]), "", *_set(body["set"])]
    return [*lines, "", *_quality(body["quality"])]


def _recipe(recipe: dict[str, Any]) -> str:
    filtered = f"low-pass {recipe['cutoff_hz']:g} Hz" if recipe["cutoff_hz"] else "no filter"
    return f"recipe {recipe['version']}: {filtered}, band {recipe['band_pct']:g} %, weight torque {recipe['gravity']}"


def _weight(weight: dict[str, Any]) -> str:
    parts = [
        f"weight torque {weight['cos_nm']:.2f}·cos θ {weight['sin_nm']:+.2f}·sin θ {weight['offset_nm']:+.2f} N·m"
    ]
    if weight["rms_nm"] is not None:
        parts.append(f"left over {weight['rms_nm']:.2f} N·m")
    if weight["up_down_difference_nm"] is not None:
        parts.append(f"up and down {weight['up_down_difference_nm']:.1f} N·m apart")
    if not weight["separable"]:
        parts.append("cosine and offset cannot be told apart over this range, only the curve counts")
    return ", ".join(parts)


def _movements(movements: list[dict[str, Any]]) -> list[str]:
    lines = [
        "  no  way   mode        range  load range   peak    at    work   power",
        "                          deg           %    N·m   deg       J       W",
    ]
    for m in movements:
        lines.append(
            f"{m['index']:4d}  {m['direction']:<4}  {m['mode']:<10}  {_n(m['range_deg'], 5, 0)}"
            f"  {_n(m['load_range_share_pct'], 10, 0)} {_n(m['peak_torque_nm'], 6, 1)}"
            f" {_n(m['peak_torque_angle_deg'], 5, 0)} {_n(m['work_j'], 7, 1)} {_n(m['mean_power_w'], 7, 0)}"
        )
        lines += _flags(m["flags"])
    return lines


def _torque_at(movements: list[dict[str, Any]]) -> list[str]:
    angles = sorted({angle for m in movements for angle in m["torque_at_nm"]}, key=float)
    if not angles:
        return []
    rows = [
        f"{m['index']:4d}  {m['direction']:<4}  "
        + " ".join(_n(m["torque_at_nm"][angle], 7, 1) for angle in angles)
        for m in movements
    ]
    head = "  no  way   " + " ".join(f"{angle + '°':>7}" for angle in angles)
    return ["", "  torque in N·m at", head, *rows]


def _set(figures: dict[str, Any]) -> list[str]:
    lines = [f"  {'':<34}{'up':>9}{'down':>9}"]
    for key, words, digits in FIGURES:
        up, down = figures["up"][key], figures["down"][key]
        if up is not None or down is not None:
            lines.append(f"  {words:<34}{_n(up, 9, digits)}{_n(down, 9, digits)}")
    if figures["down_up_peak_ratio_pct"] is not None:
        lines.append(
            f"  {'best peak torque, down / up, %':<34}{_n(figures['down_up_peak_ratio_pct'], 18, 1)}"
        )
    return lines


def _holds(isometric: dict[str, Any]) -> list[str]:
    cutoff = isometric["rtd_cutoff_hz"]
    lines = [
        "  no  way    angle    peak    mean   onset  RTD 50 ms  100 ms  200 ms",
        "               deg     N·m     N·m       s      N·m/s   N·m/s   N·m/s",
    ]
    for hold in isometric["holds"]:
        lines.append(
            f"{hold['index']:4d}  {hold['direction']:<4} {_n(hold['angle_deg'], 7, 1)} {_n(hold['peak_torque_nm'], 7, 1)}"
            f" {_n(hold['mean_torque_nm'], 7, 1)} {_n(hold['onset_s'], 7, 3)}  {_n(hold['rtd_50_nm_s'], 9, 0)}"
            f" {_n(hold['rtd_100_nm_s'], 7, 0)} {_n(hold['rtd_200_nm_s'], 7, 0)}"
        )
        lines += _flags(hold["flags"])
    said = f"low-passed at {cutoff:g} Hz" if cutoff else "not low-passed"
    return [*lines, f"  RTD: rate of torque development from onset, torque {said}"]


def _flags(flags: list[str]) -> list[str]:
    return _wrapped(", ".join(flags), first=" " * 12) if flags else []


def _quality(quality: list[dict[str, Any]]) -> list[str]:
    lines = ["quality" if quality else "quality: nothing to remark"]
    for entry in quality:
        lines += _wrapped(f"{entry['code']}: {entry['text']}", first=f"  {entry['level']:<8} ", rest=" " * 11)
    return lines


def _wrapped(text: str, *, first: str = "", rest: str | None = None) -> list[str]:
    return textwrap.wrap(
        text,
        _WIDTH,
        initial_indent=first,
        subsequent_indent="  " if rest is None and not first else rest or first,
    )


def _n(value: float | None, width: int, digits: int) -> str:
    return f"{'–':>{width}}" if value is None else f"{value:{width}.{digits}f}"
