"""The measures of a recording as text for a terminal."""

from __future__ import annotations

from typing import Any

from fieldlog.cli.output import print_line

__all__ = ["print_trace"]


def print_trace(body: dict[str, Any]) -> None:
    """Print the measures: what was read, movements or holds, set figures, quality."""
    for line in _lines(body):
        print_line(line)


def _lines(body: dict[str, Any]) -> list[str]:
    recipe = body["recipe"]
    filtered = f"{recipe['cutoff_hz']:g} Hz" if recipe["cutoff_hz"] else "no filter"
    lines = [
        f"{body['file']}: {body['samples']} samples, {body['rate_hz']:.4g} Hz, {body['duration_s']:.1f} s, {body['mode']}",
        f"recipe {recipe['version']}: low-pass {filtered}, band {recipe['band_pct']:g} %, weight torque {recipe['gravity']}",
    ]
    weight = body["weight_torque"]
    if weight:
        lines.append(
            f"weight torque {weight['cos_nm']:.2f}·cos θ {weight['sin_nm']:+.2f}·sin θ {weight['offset_nm']:+.2f} N·m"
            + (f", left over {weight['rms_nm']:.2f} N·m" if weight["rms_nm"] is not None else "")
            + (
                f", up and down {weight['up_down_difference_nm']:.1f} N·m apart"
                if weight["up_down_difference_nm"] is not None
                else ""
            )
            + (
                ""
                if weight["separable"]
                else "; cosine and offset cannot be told apart, only the curve counts"
            )
        )
    if body["isometric"]:
        lines += ["", *_holds(body["isometric"])]
    else:
        lines.append(f"set speed {body['set_speed_deg_s']:.4g}°/s ({body['set_speed_source']})")
        lines += ["", *_movements(body["movements"]), "", *_set(body["set"])]
    return [*lines, "", *_quality(body["quality"])]


def _movements(movements: list[dict[str, Any]]) -> list[str]:
    lines = [
        "  no  way   mode        range  load   peak    at   work  power  flags",
        "                         deg     %    N·m   deg      J      W",
    ]
    lines += [
        f"{m['index']:4d}  {m['direction']:<4}  {m['mode']:<10}  {_n(m['range_deg'], 5, 0)}  {_n(m['load_range_share_pct'], 4, 0)}"
        f" {_n(m['peak_torque_nm'], 6, 1)} {_n(m['peak_torque_angle_deg'], 5, 0)} {_n(m['work_j'], 6, 1)} {_n(m['mean_power_w'], 6, 0)}"
        f"  {', '.join(m['flags'])}"
        for m in movements
    ]
    angles = sorted({angle for m in movements for angle in m["torque_at_nm"]}, key=float)
    if angles:
        lines += [
            "",
            "  torque at angle, N·m",
            "  no  way   " + " ".join(f"{angle + '°':>7}" for angle in angles),
        ]
        lines += [
            f"{m['index']:4d}  {m['direction']:<4}  "
            + " ".join(_n(m["torque_at_nm"][angle], 7, 1) for angle in angles)
            for m in movements
        ]
    return lines


_FIGURES = (
    ("movements", "movements that count", 0),
    ("best_peak_torque_nm", "best peak torque, N·m", 1),
    ("best_peak_torque_nm_kg", "best peak torque, N·m/kg", 2),
    ("mean_peak_torque_nm", "mean peak torque, N·m", 1),
    ("mean_best_three_nm", "mean of the best three, N·m", 1),
    ("peak_torque_cv_pct", "variation of peak torque, %", 1),
    ("total_work_j", "total work, J", 1),
    ("work_thirds_drop_pct", "work, last third below first, %", 1),
    ("decline_pct", "decline of peak torque, %", 1),
    ("work_slope_j", "work per repetition, J", 2),
)


def _set(figures: dict[str, Any]) -> list[str]:
    lines = [f"  {'':<34}{'up':>8}{'down':>8}"]
    for key, words, digits in _FIGURES:
        up, down = figures["up"][key], figures["down"][key]
        if up is not None or down is not None:
            lines.append(f"  {words:<34}{_n(up, 8, digits)}{_n(down, 8, digits)}")
    if figures["down_up_peak_ratio_pct"] is not None:
        lines.append(
            f"  {'best peak torque, down / up, %':<34}{_n(figures['down_up_peak_ratio_pct'], 16, 1)}"
        )
    return lines


def _holds(isometric: dict[str, Any]) -> list[str]:
    cutoff = isometric["rtd_cutoff_hz"]
    lines = [
        "  no  way    angle    peak    mean   onset   RTD 50     100     200  flags",
        "               deg     N·m     N·m       s    N·m/s   N·m/s   N·m/s",
    ]
    lines += [
        f"{hold['index']:4d}  {hold['direction']:<4} {_n(hold['angle_deg'], 7, 1)} {_n(hold['peak_torque_nm'], 7, 1)} {_n(hold['mean_torque_nm'], 7, 1)}"
        f" {_n(hold['onset_s'], 7, 3)}  {_n(hold['rtd_50_nm_s'], 7, 0)} {_n(hold['rtd_100_nm_s'], 7, 0)} {_n(hold['rtd_200_nm_s'], 7, 0)}"
        f"  {', '.join(hold['flags'])}"
        for hold in isometric["holds"]
    ]
    return [
        *lines,
        f"  rate of torque development from torque low-passed at {cutoff:g} Hz"
        if cutoff
        else "  rate of torque development from torque as recorded",
    ]


def _quality(quality: list[dict[str, Any]]) -> list[str]:
    if not quality:
        return ["quality: nothing to remark"]
    return ["quality", *(f"  {entry['level']:<8} {entry['code']:<20} {entry['text']}" for entry in quality)]


def _n(value: float | None, width: int, digits: int) -> str:
    return f"{'–':>{width}}" if value is None else f"{value:{width}.{digits}f}"
