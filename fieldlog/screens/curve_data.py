"""From a recording to the curves that are drawn. Loads NumPy: called in a worker thread only."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from fieldlog.fieldwork.results.sets import Import
from fieldlog.records.protocol import Protocol
from fieldlog.screens.curve import Curve, CurvePlot, LineStyle

if TYPE_CHECKING:
    from fieldlog.fieldwork.recording.recording import MovementCurve

__all__ = ["plots_of"]

MOST_POINTS = 300


def plots_of(
    import_: Import, protocol: Protocol, *, left_out: Sequence[int] = (), last: Import | None = None
) -> list[tuple[str, CurvePlot]]:
    """Return titled plots: torque over angle for each direction that is an effort, then torque over time.

    The best repetition is solid, the others dotted, the best of ``last`` dashed. Curves are of the same
    muscle torque as the measures.
    """
    from fieldlog.fieldwork.recording.recording import curves

    def drawn(one: Import, out: Sequence[int]) -> list[MovementCurve]:
        recording, sweep = one.recordings()
        return [curve for curve in curves(recording, one.options(out), sweep=sweep) if curve.counted]

    now = drawn(import_, left_out)
    before = drawn(last, ()) if last else []
    plots = []
    for direction in protocol.efforts:
        shown = [curve for curve in now if curve.direction == direction]
        if not shown:
            continue
        plots.append(
            (
                f"{protocol.direction_name(direction)}, torque over angle",
                _over_angle(shown, before, direction),
            )
        )
    times = tuple(
        Curve(
            f"{curve.index}",
            _thin(curve.time_s.tolist()),
            _thin(curve.torque_nm.tolist()),
            "solid" if curve.direction == "up" else "dotted",
            "one" if curve.direction == "up" else "two",
        )
        for curve in now
    )
    plots.append(("torque over time", CurvePlot(times, x_unit="s")))
    return plots


def _over_angle(shown: Sequence[MovementCurve], before: Sequence[MovementCurve], direction: str) -> CurvePlot:
    best = max(shown, key=_peak)
    drawn = [_curve(best, f"rep {best.index}", "solid", "one")]
    drawn += [_curve(curve, f"{curve.index}", "dotted", "two") for curve in shown if curve is not best]
    earlier = [curve for curve in before if curve.direction == direction]
    if earlier:
        drawn.append(_curve(max(earlier, key=_peak), "last visit", "dashed", "last"))
    angles = best.angle_deg[best.in_load_range]
    ranges = ((float(angles.min()), float(angles.max())),) if angles.size else ()
    return CurvePlot(tuple(drawn), load_ranges=ranges)


def _peak(curve: MovementCurve) -> float:
    inside = curve.torque_nm[curve.in_load_range]
    return float(inside.max()) if inside.size else float(curve.torque_nm.max())


def _curve(curve: MovementCurve, label: str, line: LineStyle, role: str) -> Curve:
    angle, torque = curve.angle_deg.tolist(), curve.torque_nm.tolist()
    return Curve(label, _thin(angle), _thin(torque), line, role)


def _thin(values: list[float]) -> list[float]:
    step = max(1, len(values) // MOST_POINTS)
    return values[::step]
