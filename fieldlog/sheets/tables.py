"""Tables: figures aligned on the decimal sign, change bars, marks, and clean continuation over pages."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldlog.sheets.content import ChangeBar, Column, Figure, Marks, Row, Table
from fieldlog.sheets.figures import draw_change_bar
from fieldlog.sheets.fonts import BOLD, REGULAR
from fieldlog.sheets.layout import Layout
from fieldlog.sheets.marks import draw_mark
from fieldlog.sheets.pen import FAINT, GREY, Pen
from fieldlog.sheets.wording import sentence

__all__ = ["draw_table", "is_squeezed", "table_height"]

PAD_PT = 3.0
# A row stays on one page; the longest remarks a record may hold are longer than that in a narrow column.
MOST_LINES = 40
# Widths of columns are given for cells of this size.
CELL_PT = 7.2


@dataclass(frozen=True)
class _Place:
    """A column on the page; ``point_x`` is where decimal signs stand."""

    column: Column
    left: float
    right: float
    point_x: float
    head: tuple[str, ...]

    @property
    def width(self) -> float:
        return self.right - self.left - PAD_PT


def table_height(layout: Layout, table: Table) -> float:
    """Height of the whole table if it stood on one page."""
    if not table.rows:
        return _heading_height(layout, table) + layout.sizes.leading_pt + layout.sizes.gap_pt
    places = _places(layout, table)
    rows = sum(_row_height(layout, places, row) for row in table.rows)
    return (
        _heading_height(layout, table) + _head_height(layout, places) + rows + _remark_height(layout, table)
    )


def is_squeezed(layout: Layout, table: Table) -> bool:
    """Whether the columns ask for more width than there is."""
    return sum(_least_width(layout, table, index) for index in range(len(table.columns))) > layout.width


def draw_table(layout: Layout, table: Table) -> None:
    """Draw the table; where it goes on overleaf its head is repeated. An empty one is a sentence."""
    if not table.rows:
        _draw_empty(layout, table)
        return
    places = _places(layout, table)
    head = _head_height(layout, places)
    heights = [_row_height(layout, places, row) for row in table.rows]
    whole = table_height(layout, table)
    # A short table is not torn apart; of a longer one at least two rows stand under the head.
    short = whole <= layout.full_height / 4
    layout.need(whole if short else _heading_height(layout, table) + head + sum(heights[:2]))
    if table.heading:
        _draw_heading(layout, table.heading)
    scale = _change_scale_pct(table)
    with layout.tags.group("Table"):
        _draw_head(layout, places, head)
        for number, (row, height) in enumerate(zip(table.rows, heights, strict=True)):
            # The lines of one athlete stay together.
            group = height
            for later, more in zip(table.rows[number + 1 :], heights[number + 1 :], strict=True):
                if not row.opens_group or later.opens_group:
                    break
                group += more
            # A short remark is not parted from the last line it speaks of.
            remark = _remark_height(layout, table) if number == len(heights) - 1 and table.remark else 0.0
            if layout.need(min(group + remark, layout.full_height / 3)):
                _draw_head(layout, places, head)
            _draw_row(layout, places, row, height, scale)
    with layout.tags.decoration():
        layout.pen.line([(layout.left, layout.y), (layout.right, layout.y)], colour=GREY, width_pt=0.5)
    if table.remark:
        _draw_remark(layout, table.remark)
    layout.y -= layout.sizes.gap_pt


def _places(layout: Layout, table: Table) -> list[_Place]:
    widths = [_least_width(layout, table, index) for index in range(len(table.columns))]
    shares = sum(column.share for column in table.columns)
    spare = layout.width - sum(widths)
    squeeze = 1.0 if spare >= 0 else layout.width / sum(widths)
    left = layout.left
    places = []
    for index, (column, least) in enumerate(zip(table.columns, widths, strict=True)):
        width = least * squeeze
        if spare > 0:
            width += spare * (column.share / shares if shares else 1 / len(widths))
        head = tuple(layout.pen.lines_of(column.header, layout.sizes.small_pt, width - PAD_PT, BOLD))
        point = left + width - PAD_PT - _widest_fraction(layout, table, index)
        # Text begins a little further right where a figure ends just before it.
        after_figure = index > 0 and table.columns[index - 1].kind == "number" and column.kind != "number"
        places.append(_Place(column, left + 2 * PAD_PT * after_figure, left + width, point, head))
        left += width
    return places


def _least_width(layout: Layout, table: Table, index: int) -> float:
    """The width asked for, at the size of the cells, and at least the longest word of the head or figure."""
    sizes, column = layout.sizes, table.columns[index]
    words = [layout.pen.width_pt(word, sizes.small_pt, BOLD) for word in column.header.split(" ")]
    figures = {cell.text for row in table.rows if isinstance(cell := row.cells[index], Figure)}
    widest = max((layout.pen.width_pt(text, sizes.cell_pt) for text in figures), default=0.0)
    asked = column.width_pt * sizes.cell_pt / CELL_PT
    return max(asked, min(max(*words, widest), 90.0) + PAD_PT + 1.0)


def _widest_fraction(layout: Layout, table: Table, index: int) -> float:
    fractions = {
        cell.text[cell.text.index(".") :]
        for row in table.rows
        if isinstance(cell := row.cells[index], Figure) and cell.value is not None and "." in cell.text
    }
    return max((layout.pen.width_pt(fraction, layout.sizes.cell_pt) for fraction in fractions), default=0.0)


def _heading_height(layout: Layout, table: Table) -> float:
    return (layout.sizes.text_pt + 1.5) * 1.5 if table.heading else 0.0


def _draw_heading(layout: Layout, heading: str) -> None:
    size = layout.sizes.text_pt + 1.5
    layout.y -= size
    with layout.tags.content("H2"):
        layout.pen.text(layout.left, layout.y, heading, size, font=BOLD, within_pt=layout.width)
    layout.y -= size * 0.5


def _head_height(layout: Layout, places: list[_Place]) -> float:
    lines = max(len(place.head) for place in places)
    units = any(place.column.unit for place in places)
    return (lines + units) * layout.sizes.small_leading_pt + 4.0


def _draw_head(layout: Layout, places: list[_Place], height: float) -> None:
    pen, sizes = layout.pen, layout.sizes
    lines = max(len(place.head) for place in places)
    with layout.tags.group("TR"):
        for place in places:
            right_aligned = place.column.kind == "number"
            x = place.right - PAD_PT if right_aligned else place.left
            y = layout.y - sizes.small_leading_pt * (lines - len(place.head) + 0.8)
            with layout.tags.content("TH"):
                for line in place.head:
                    pen.text(
                        x, y, line, sizes.small_pt, font=BOLD, align="right" if right_aligned else "left"
                    )
                    y -= sizes.small_leading_pt
                if place.column.unit:
                    pen.text(
                        x,
                        y,
                        place.column.unit,
                        sizes.small_pt,
                        colour=GREY,
                        align="right" if right_aligned else "left",
                        within_pt=place.width,
                    )
    layout.y -= height
    with layout.tags.decoration():
        pen.line([(layout.left, layout.y), (layout.right, layout.y)], width_pt=0.8)


def _row_height(layout: Layout, places: list[_Place], row: Row) -> float:
    lines = max(len(_cell_lines(layout, place, row, index)) for index, place in enumerate(places))
    return layout.sizes.row_pt + (lines - 1) * layout.sizes.cell_pt * 1.15


def _cell_lines(layout: Layout, place: _Place, row: Row, index: int) -> list[str]:
    cell = row.cells[index]
    if isinstance(cell, str):
        lines = layout.pen.lines_of(cell, layout.sizes.cell_pt, place.width)
        return lines if len(lines) <= MOST_LINES else [*lines[: MOST_LINES - 1], "… (the record has more)"]
    if isinstance(cell, ChangeBar) and cell.change_pct is None:
        return layout.pen.lines_of(cell.word, layout.sizes.cell_pt, place.width)
    return [""]


def _draw_row(layout: Layout, places: list[_Place], row: Row, height: float, scale_pct: float) -> None:
    pen, sizes = layout.pen, layout.sizes
    if row.opens_group:
        with layout.tags.decoration():
            pen.line([(layout.left, layout.y), (layout.right, layout.y)], colour=FAINT, width_pt=0.4)
    base = layout.y - (sizes.row_pt + sizes.cell_pt * 0.68) / 2
    with layout.tags.group("TR"):
        for index, place in enumerate(places):
            cell = row.cells[index]
            with layout.tags.content("TD", _alternative(cell)):
                if isinstance(cell, Figure):
                    _draw_figure(pen, place, base, cell, sizes.cell_pt)
                elif isinstance(cell, Marks):
                    x = place.left
                    for mark in cell.marks:
                        draw_mark(pen, x, base - sizes.cell_pt * 0.06, sizes.cell_pt * 0.82, mark)
                        x += sizes.cell_pt * 1.25
                elif isinstance(cell, ChangeBar) and cell.change_pct is not None:
                    draw_change_bar(
                        pen,
                        cell,
                        left=place.left,
                        base=base,
                        width=place.width,
                        size_pt=sizes.cell_pt,
                        scale_pct=scale_pct,
                    )
                else:
                    y = base
                    for line in _cell_lines(layout, place, row, index):
                        right_aligned = place.column.kind == "number"
                        pen.text(
                            place.right - PAD_PT if right_aligned else place.left,
                            y,
                            line,
                            sizes.cell_pt,
                            font=REGULAR,
                            align="right" if right_aligned else "left",
                            colour=GREY if isinstance(cell, ChangeBar) else (0.10, 0.10, 0.12),
                        )
                        y -= sizes.cell_pt * 1.15
    layout.y -= height


def _draw_figure(pen: Pen, place: _Place, base: float, cell: Figure, size_pt: float) -> None:
    if cell.value is None:
        pen.text(
            place.right - PAD_PT, base, cell.text, size_pt, colour=GREY, align="right", within_pt=place.width
        )
    else:
        pen.figure(place.point_x, base, cell.text, size_pt, font=BOLD if cell.strong else REGULAR)


def _alternative(cell: object) -> str:
    if isinstance(cell, Marks):
        return "; ".join(f"{mark.family}: {mark.word}" for mark in cell.marks)
    return ""


def _draw_empty(layout: Layout, table: Table) -> None:
    layout.need(table_height(layout, table))
    if table.heading:
        _draw_heading(layout, table.heading)
    layout.y -= layout.sizes.leading_pt
    with layout.tags.content("P"):
        layout.pen.text(layout.left, layout.y + 2.0, sentence(table.empty), layout.sizes.text_pt, colour=GREY)
    layout.y -= layout.sizes.gap_pt


def _remark_height(layout: Layout, table: Table) -> float:
    if not table.remark:
        return layout.sizes.gap_pt
    lines = layout.pen.lines_of(table.remark, layout.sizes.small_pt, layout.width)
    return len(lines) * layout.sizes.small_leading_pt + 2.0 + layout.sizes.gap_pt


def _draw_remark(layout: Layout, remark: str) -> None:
    layout.y -= 2.0
    lines = layout.pen.lines_of(remark, layout.sizes.small_pt, layout.width)
    layout.need(len(lines) * layout.sizes.small_leading_pt)
    with layout.tags.content("P"):
        for line in lines:
            layout.y -= layout.sizes.small_leading_pt
            layout.pen.text(layout.left, layout.y + 1.5, line, layout.sizes.small_pt, colour=GREY)


def _change_scale_pct(table: Table) -> float:
    """One scale for all bars of a table, so that they can be compared by eye."""
    sizes = [
        max(abs(cell.change_pct), cell.detectable_pct or 0.0)
        for row in table.rows
        for cell in row.cells
        if isinstance(cell, ChangeBar) and cell.change_pct is not None
    ]
    widest = max(sizes, default=10.0)
    return min(max(10.0, 10 * math.ceil(widest / 10)), 60.0)
