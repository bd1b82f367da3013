"""Small drawings inside the text: the change bar and the squad's dot strip."""

from __future__ import annotations

from collections.abc import Sequence

from fieldlog.sheets.content import ChangeBar, DotStrip, Figure, StripRow
from fieldlog.sheets.fonts import BOLD, REGULAR
from fieldlog.sheets.layout import Layout
from fieldlog.sheets.pen import BLUE, FAINT, GREY, INK, PALE, WHITE, Pen
from fieldlog.sheets.scales import nice_ticks, span_of, tick_text

__all__ = ["draw_change_bar", "draw_strip", "strip_height"]

LABEL_PT = 78.0
WORDS_PT = 196.0


def draw_change_bar(
    pen: Pen, change: ChangeBar, *, left: float, base: float, width: float, size_pt: float, scale_pct: float
) -> None:
    """Draw a change as a dot over the grey band of what error alone can make, then number and word.

    A filled dot lies beyond error, an open one within; a change off the scale gets an arrow head.
    """
    assert change.change_pct is not None
    words_pt = max(pen.width_pt("higher", size_pt, BOLD), pen.width_pt("unclear", size_pt)) + 2.0
    number_pt = pen.width_pt("+00.0", size_pt) + 5.5
    bar = max(width - words_pt - number_pt, 12.0)
    middle, y = left + bar / 2, base + size_pt * 0.30
    half = bar / 2 - 2.0
    band = half * min((change.detectable_pct or 0.0) / scale_pct, 1.0)
    pen.box(middle - band, y - size_pt * 0.34, 2 * band, size_pt * 0.68, fill=PALE)
    pen.line([(middle - half, y), (middle + half, y)], colour=FAINT, width_pt=0.4)
    pen.line([(middle, y - size_pt * 0.40), (middle, y + size_pt * 0.40)], colour=GREY, width_pt=0.5)
    share = change.change_pct / scale_pct
    x = middle + half * max(-1.0, min(1.0, share))
    radius = size_pt * 0.22
    if abs(share) > 1:
        tip = radius * 1.6 if share > 0 else -radius * 1.6
        pen.shape([(x, y), (x - tip, y + radius), (x - tip, y - radius)], fill=BLUE)
    elif change.beyond_error:
        pen.dot(x, y, radius, fill=BLUE, edge=BLUE)
    else:
        pen.dot(x, y, radius, fill=WHITE, edge=BLUE, width_pt=0.8)
    number = Figure(change.change_pct, 1, signed=True).text
    fraction = pen.width_pt(".0", size_pt)
    pen.figure(left + bar + number_pt - fraction - 4.5, base, number, size_pt)
    pen.text(
        left + bar + number_pt,
        base,
        change.word,
        size_pt,
        colour=INK if change.beyond_error else GREY,
        font=BOLD if change.beyond_error else REGULAR,
        within_pt=words_pt,
    )


def strip_height(layout: Layout, strip: DotStrip) -> float:
    """Height of the strip with heading, rows and axis."""
    sizes = layout.sizes
    return (
        (sizes.text_pt + 1.5) * 1.5
        + len(strip.rows) * sizes.strip_pt
        + sizes.small_leading_pt * 2
        + sizes.gap_pt
    )


def draw_strip(layout: Layout, strip: DotStrip) -> None:
    """Draw one line of dots a direction on a common axis, without names; a bar marks the median."""
    layout.need(strip_height(layout, strip))
    pen, sizes = layout.pen, layout.sizes
    heading_pt = sizes.text_pt + 1.5
    layout.y -= heading_pt
    with layout.tags.content("H2"):
        pen.text(layout.left, layout.y, strip.heading, heading_pt, font=BOLD)
    layout.y -= heading_pt * 0.5
    low, high = span_of([value for row in strip.rows for value in row.open_values + row.filled_values])
    axis_left, axis_right = layout.left + LABEL_PT, layout.right - WORDS_PT
    ticks = nice_ticks(low, high, 6)
    low, high = min(low, ticks[0]), max(high, ticks[-1])

    def place(value: float) -> float:
        return axis_left + (axis_right - axis_left) * (value - low) / (high - low)

    for row in strip.rows:
        layout.y -= sizes.strip_pt
        with layout.tags.content("Figure", _row_in_words(strip, row)):
            pen.line([(axis_left, layout.y), (axis_right, layout.y)], colour=FAINT, width_pt=0.5)
            for tick in ticks:
                pen.line([(place(tick), layout.y), (place(tick), layout.y + 2)], colour=FAINT, width_pt=0.5)
            pen.text(layout.left, layout.y + 1.5, row.label, sizes.text_pt, within_pt=LABEL_PT - 6)
            _dots(
                layout,
                [(place(v), False) for v in row.open_values] + [(place(v), True) for v in row.filled_values],
            )
            middle = place(_median(row.open_values + row.filled_values))
            pen.line([(middle, layout.y - 1.5), (middle, layout.y + sizes.strip_pt * 0.8)], width_pt=0.9)
            pen.text(
                axis_right + 10,
                layout.y + 1.5,
                row.words,
                sizes.small_pt,
                colour=INK,
                within_pt=WORDS_PT - 10,
            )
    layout.y -= sizes.small_leading_pt
    with layout.tags.content("P"):
        for tick, shown in zip(ticks, tick_text(ticks), strict=True):
            pen.text(place(tick), layout.y, shown, sizes.small_pt, colour=GREY, align="middle")
        pen.text(axis_right + 10, layout.y, strip.unit, sizes.small_pt, colour=GREY)
    layout.y -= sizes.small_leading_pt
    _strip_key(layout, strip, axis_left)
    layout.y -= sizes.gap_pt


def _dots(layout: Layout, dots: Sequence[tuple[float, bool]]) -> None:
    radius = layout.sizes.strip_pt * 0.13
    columns: dict[int, list[bool]] = {}
    for x, filled in sorted(dots):
        columns.setdefault(round(x / (2 * radius)), []).append(filled)
    room = layout.sizes.strip_pt * 0.8 - radius
    for column, stack in columns.items():
        step = min(2 * radius, room / max(len(stack) - 1, 1))
        for level, filled in enumerate(stack):
            x, y = column * 2 * radius, layout.y + radius + 0.8 + level * step
            layout.pen.dot(x, y, radius * 0.86, fill=BLUE if filled else WHITE, edge=BLUE, width_pt=0.6)


def _strip_key(layout: Layout, strip: DotStrip, x: float) -> None:
    pen, sizes = layout.pen, layout.sizes
    with layout.tags.content("P"):
        for name, filled in ((strip.open_name, False), (strip.filled_name, True)):
            if name:
                pen.dot(
                    x + 2, layout.y + sizes.small_pt * 0.32, 2.0, fill=BLUE if filled else WHITE, edge=BLUE
                )
                x += 8 + pen.text(x + 7, layout.y, name, sizes.small_pt, colour=GREY) + 8
        pen.line([(x + 1, layout.y - 0.5), (x + 1, layout.y + sizes.small_pt * 0.8)], width_pt=0.9)
        pen.text(x + 5, layout.y, "middle value", sizes.small_pt, colour=GREY)


def _row_in_words(strip: DotStrip, row: StripRow) -> str:
    values = row.open_values + row.filled_values
    return (
        f"{row.label}: {len(values)} values from {min(values):.2f} to {max(values):.2f} {strip.unit}, "
        f"middle value {_median(values):.2f}. {row.words}"
    )


def _median(values: Sequence[float]) -> float:
    ordered = sorted(values)
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else (ordered[middle - 1] + ordered[middle]) / 2
