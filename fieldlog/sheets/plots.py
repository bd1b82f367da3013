"""Plots drawn as vectors: torque over angle, and a measure over the visits."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fieldlog.sheets.content import CurvePlot, TrendPlot
from fieldlog.sheets.fonts import BOLD
from fieldlog.sheets.layout import Layout
from fieldlog.sheets.pen import BLUE, FAINT, GREY, INK, ORANGE, WHITE
from fieldlog.sheets.scales import nice_ticks, span_of, tick_text

__all__ = ["curve_height", "draw_curves", "draw_trend", "trend_height"]

CURVE_PT = 150.0
TREND_PT = 120.0
AXIS_LEFT_PT = 34.0
NAMES_PT = 110.0

COLOURS = (BLUE, INK, ORANGE, GREY)
"""By movement, the same in every plot of a page."""

Placer = Callable[[float], float]


def curve_height(layout: Layout, plot: CurvePlot) -> float:
    """Height of the plot with heading and words."""
    return _plot_height(layout, CURVE_PT, plot.words)


def trend_height(layout: Layout, plot: TrendPlot) -> float:
    """Height of the plot with heading and words."""
    return _plot_height(layout, TREND_PT, plot.words)


def draw_curves(layout: Layout, plot: CurvePlot) -> None:
    """Draw today's curves solid and those of the last visit dashed, one colour a movement."""
    layout.need(curve_height(layout, plot))
    _heading(layout, plot.heading)
    pen, sizes = layout.pen, layout.sizes
    low_x, high_x = span_of([angle for curve in plot.curves for angle in curve.angle_deg])
    low_y, high_y = span_of([0.0, *(torque for curve in plot.curves for torque in curve.torque_nm)])
    # A curve that dips a hair below zero at its ends is no reason to halve the plot.
    low_y = 0.0 if low_y > -0.03 * high_y else low_y
    with layout.tags.content("Figure", plot.words):
        place_x, place_y = _axes(
            layout, CURVE_PT, (low_x, high_x, "angle, °"), (low_y, high_y, "torque, N·m")
        )
        kinds = list(dict.fromkeys(curve.kind for curve in plot.curves))
        for number, curve in enumerate(sorted(plot.curves, key=lambda curve: not curve.earlier)):
            points = [
                (place_x(a), place_y(max(t, low_y)))
                for a, t in zip(curve.angle_deg, curve.torque_nm, strict=True)
            ]
            style = _style(kinds.index(curve.kind), earlier=curve.earlier)
            pen.line(points, **style)
            _key_line(layout, len(plot.curves) - 1 - number, curve.name, style)
    layout.y -= CURVE_PT
    _words(layout, plot.words)
    layout.y -= sizes.gap_pt


def _style(kind: int, *, earlier: bool) -> dict[str, Any]:
    colour = COLOURS[kind % len(COLOURS)]
    return {"colour": colour, "width_pt": 0.8 if earlier else 1.4, "dash": (3, 2) if earlier else ()}


def _key_line(layout: Layout, place: int, name: str, style: dict[str, Any]) -> None:
    small = layout.sizes.small_pt
    x, y = layout.right - NAMES_PT + 8, layout.y - small * (2.2 + 1.4 * place)
    layout.pen.line([(x, y), (x + 16, y)], **style)
    layout.pen.text(x + 20, y - small * 0.32, name, small, within_pt=NAMES_PT - 28)


def draw_trend(layout: Layout, plot: TrendPlot) -> None:
    """Draw each series over the visits, with bars for what error alone can make."""
    layout.need(trend_height(layout, plot))
    _heading(layout, plot.heading)
    pen, sizes = layout.pen, layout.sizes
    by_day = {point.day: point.date for _, points in plot.series for point in points}
    dates = [by_day[day] for day in sorted(by_day)]
    ends = [
        end for _, points in plot.series for p in points for end in (p.value - p.error, p.value + p.error)
    ]
    low, high = span_of(ends)
    with layout.tags.content("Figure", plot.words):
        place_x, place_y = _axes(
            layout, TREND_PT, (0.0, float(len(dates)), ""), (low, high, plot.unit), dates=dates
        )
        looks = _looks(plot)
        names: list[tuple[float, str, tuple[float, float, float]]] = []
        for number, (name, points) in enumerate(plot.series):
            look = looks[number]
            colour = COLOURS[look[0] % len(COLOURS)]
            shift = (number - (len(plot.series) - 1) / 2) * 0.08
            places = [(place_x(dates.index(p.date) + 0.5 + shift), place_y(p.value)) for p in points]
            for (x, y), point in zip(places, points, strict=True):
                half = place_y(point.value + point.error) - y
                pen.line([(x, y - half), (x, y + half)], colour=colour, width_pt=0.8)
                for end in (y - half, y + half):
                    pen.line([(x - 2, end), (x + 2, end)], colour=colour, width_pt=0.8)
            if len(places) > 1:
                pen.line(places, colour=colour, width_pt=0.6, dash=(2, 2) if look[0] % 2 else ())
            for place in places:
                _point(layout, place, look)
            names.append((places[-1][1], name, colour))
        for number, y in _names(layout, names, indent_pt=8.0):
            _point(layout, (layout.right - NAMES_PT + 10, y), looks[number])
    layout.y -= TREND_PT
    _words(layout, plot.words)
    layout.y -= sizes.gap_pt


def _plot_height(layout: Layout, plot_pt: float, words: str) -> float:
    lines = len(layout.pen.lines_of(words, layout.sizes.small_pt, layout.width))
    heading = (layout.sizes.text_pt + 1.5) * 1.5
    return heading + plot_pt + lines * layout.sizes.small_leading_pt + layout.sizes.gap_pt


def _heading(layout: Layout, heading: str) -> None:
    size = layout.sizes.text_pt + 1.5
    layout.y -= size
    with layout.tags.content("H2"):
        layout.pen.text(layout.left, layout.y, heading, size, font=BOLD, within_pt=layout.width)
    layout.y -= size * 0.5


def _words(layout: Layout, words: str) -> None:
    sizes = layout.sizes
    with layout.tags.content("P"):
        for line in layout.pen.lines_of(words, sizes.small_pt, layout.width):
            layout.y -= sizes.small_leading_pt
            layout.pen.text(layout.left, layout.y + 1.5, line, sizes.small_pt, colour=GREY)


def _axes(
    layout: Layout,
    height: float,
    across: tuple[float, float, str],
    upwards: tuple[float, float, str],
    dates: list[str] | None = None,
) -> tuple[Placer, Placer]:
    pen, small = layout.pen, layout.sizes.small_pt
    left, right = layout.left + AXIS_LEFT_PT, layout.right - NAMES_PT
    bottom, top = layout.y - height + small * 2.6, layout.y - small * 1.6
    ticks_y = nice_ticks(upwards[0], upwards[1], 5)
    low_y, high_y = ticks_y[0], ticks_y[-1]
    ticks_x = [] if dates is not None else nice_ticks(across[0], across[1], 7)
    low_x, high_x = (across[0], across[1]) if dates is not None else (ticks_x[0], ticks_x[-1])

    def place_x(value: float) -> float:
        return left + (right - left) * (value - low_x) / (high_x - low_x)

    def place_y(value: float) -> float:
        return bottom + (top - bottom) * (value - low_y) / (high_y - low_y)

    for tick, shown in zip(ticks_y, tick_text(ticks_y), strict=True):
        zero = abs(tick) < 1e-9
        pen.line(
            [(left, place_y(tick)), (right, place_y(tick))], colour=GREY if zero else FAINT, width_pt=0.4
        )
        pen.text(left - 4, place_y(tick) - small * 0.32, shown, small, colour=GREY, align="right")
    pen.text(layout.left, layout.y - small * 0.8, upwards[2], small, colour=GREY)
    foot = bottom - small * 1.25
    if dates is None:
        for tick, shown in zip(ticks_x, tick_text(ticks_x), strict=True):
            pen.line([(place_x(tick), bottom), (place_x(tick), bottom - 2)], colour=GREY, width_pt=0.4)
            pen.text(place_x(tick), foot, shown, small, colour=GREY, align="middle")
        beside = right + pen.width_pt(tick_text(ticks_x)[-1], small) / 2 + 8
        pen.text(beside, foot, across[2], small, colour=GREY)
    else:
        every = -(-len(dates) // 7)
        for number, date in enumerate(dates):
            if (len(dates) - 1 - number) % every == 0:
                pen.text(place_x(number + 0.5), foot, date, small, colour=GREY, align="middle")
    return place_x, place_y


def _looks(plot: TrendPlot) -> list[tuple[int, int]]:
    """Of each series: the place of its kind, and the how manieth of that kind it is."""
    kinds = plot.kinds or tuple(name for name, _ in plot.series)
    known = list(dict.fromkeys(kinds))
    return [(known.index(kind), kinds[:number].count(kind)) for number, kind in enumerate(kinds)]


def _point(layout: Layout, place: tuple[float, float], look: tuple[int, int]) -> None:
    """Kinds differ in colour and shape, series of one kind in filling."""
    x, y = place
    kind, turn = look
    colour = COLOURS[kind % len(COLOURS)]
    fill = WHITE if turn % 2 else colour
    if kind % 2:
        layout.pen.box(x - 2.1, y - 2.1, 4.2, 4.2, fill=fill, edge=colour, width_pt=0.9)
    else:
        layout.pen.dot(x, y, 2.4, fill=fill, edge=colour, width_pt=0.9)


def _names(
    layout: Layout, names: list[tuple[float, str, tuple[float, float, float]]], *, indent_pt: float
) -> list[tuple[int, float]]:
    """Write the name of each series at its end, moved apart where two would touch; return where each stands."""
    small = layout.sizes.small_pt
    x = layout.right - NAMES_PT + 8 + indent_pt
    last = float("inf")
    stands = []
    for number, (wanted, name, colour) in sorted(enumerate(names), key=lambda entry: -entry[1][0]):
        y = min(wanted - small * 0.32, last - small * 1.15)
        stands.append((number, y + small * 0.32))
        layout.pen.text(
            x, y, name, small, colour=colour if colour != ORANGE else INK, within_pt=NAMES_PT - 10 - indent_pt
        )
        last = y
    return stands
