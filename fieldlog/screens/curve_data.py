"""From a recording to the curves that are drawn. Loads NumPy: called in a worker thread only."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

from fieldlog.fieldwork.results.imports import Import, JudgedImport, analyse_import
from fieldlog.records.protocol import Protocol
from fieldlog.screens.curve import Curve, CurvePlot, LineStyle

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from fieldlog.fieldwork.recording.recording import MovementCurve

    Array = NDArray[np.float64]

__all__ = ["plots_of"]

MOST_POINTS = 300


def plots_of(
    given: Import | JudgedImport,
    protocol: Protocol,
    *,
    left_out: Sequence[int] = (),
    last: Import | None = None,
    other: Import | None = None,
) -> list[tuple[str, CurvePlot]]:
    """Return titled plots: torque over angle of each effort, the whole set over time, each effort over its own time.

    The best repetition is solid, the others dotted, the best of ``last`` (the last visit) dashed, that of
    ``other`` (the other side today) dash-dotted. Curves are of the same muscle torque as the measures. Holds
    have no angle to be drawn over. What was judged already is drawn from that analysis; ``left_out`` is then of it.
    """

    def drawn(one: Import | JudgedImport | None, out: Sequence[int] = ()) -> list[MovementCurve]:
        if one is None:
            return []
        judged = analyse_import(one, out) if isinstance(one, Import) else one
        return [curve for curve in judged.curves() if curve.counted]

    now = drawn(given, left_out)
    beside = [(drawn(last), _Style("last visit", "dashed", "last"))]
    if other is not None:
        beside.append((drawn(other), _Style(other.side, "dash-dotted", "three")))
    over_angle, over_time = [], []
    for direction in protocol.efforts:
        shown = [curve for curve in now if curve.direction == direction]
        if shown:
            name = protocol.direction_name(direction)
            over_angle.append((f"{name}, torque over angle", _compared(shown, beside, direction, "angle")))
            over_time.append((f"{name}, from its start", _compared(shown, beside, direction, "time")))
    whole = ("torque over time", _whole(now, protocol))
    return (
        [whole, *over_time]
        if (given if isinstance(given, Import) else given.taken).mode == "isometric"
        else [*over_angle, whole, *over_time]
    )


class _Style(NamedTuple):
    label: str
    line: LineStyle
    role: str
    group: str = ""


def _whole(now: Sequence[MovementCurve], protocol: Protocol) -> CurvePlot:
    curves = tuple(
        Curve(
            f"{curve.index}",
            _thin(curve.time_s.tolist()),
            _thin(curve.torque_nm.tolist()),
            "solid" if curve.direction == "up" else "dotted",
            "one" if curve.direction == "up" else "two",
            protocol.up_name if curve.direction == "up" else protocol.down_name,
        )
        for curve in now
    )
    ranges = [curve.time_s[curve.in_load_range] for curve in now]
    marked = tuple((float(times[0]), float(times[-1])) for times in ranges if times.size)
    return CurvePlot(curves, x_unit="s", load_ranges=marked)


def _compared(
    shown: Sequence[MovementCurve],
    beside: Sequence[tuple[list[MovementCurve], _Style]],
    direction: str,
    over: Literal["angle", "time"],
) -> CurvePlot:
    best = max(shown, key=_peak)
    drawn = [_curve(best, over, _Style(f"rep {best.index}", "solid", "one"))]
    for curves, style in beside:
        same = [curve for curve in curves if curve.direction == direction]
        if same:
            drawn.append(_curve(max(same, key=_peak), over, style))
    drawn += [
        _curve(curve, over, _Style(f"{curve.index}", "dotted", "two", "others"))
        for curve in shown
        if curve is not best
    ]
    along = _along(best, over)[best.in_load_range]
    ranges = ((float(along.min()), float(along.max())),) if along.size else ()
    return CurvePlot(tuple(drawn), x_unit="°" if over == "angle" else "s", load_ranges=ranges)


def _peak(curve: MovementCurve) -> float:
    inside = curve.torque_nm[curve.in_load_range]
    return float(inside.max()) if inside.size else float(curve.torque_nm.max())


def _along(curve: MovementCurve, over: Literal["angle", "time"]) -> Array:
    return curve.angle_deg if over == "angle" else curve.time_s - curve.time_s[0]


def _curve(curve: MovementCurve, over: Literal["angle", "time"], style: _Style) -> Curve:
    along, torque = _along(curve, over).tolist(), curve.torque_nm.tolist()
    return Curve(style.label, _thin(along), _thin(torque), style.line, style.role, style.group)


def _thin(values: list[float]) -> list[float]:
    step = max(1, len(values) // MOST_POINTS)
    return values[::step]
