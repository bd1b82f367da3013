"""A sheet as PDF: chooses the density at which it fits one page, draws its blocks, closes the file."""

from __future__ import annotations

import dataclasses
import io
from typing import Any

from fieldlog import __version__
from fieldlog.date_words import day_text
from fieldlog.sheets import blocks, figures, plots, tables
from fieldlog.sheets.content import (
    Block,
    CurvePlot,
    DotStrip,
    Facts,
    Legend,
    Sheet,
    Signatures,
    Stamp,
    Table,
    TrendPlot,
    Words,
    with_text,
)
from fieldlog.sheets.fonts import REGULAR, page_fonts
from fieldlog.sheets.layout import BOTTOM_PT, PAPERS, SIZES, TOP_PT, Layout, Sizes
from fieldlog.sheets.pen import Pen
from fieldlog.sheets.tagging import Tags
from fieldlog.sheets.text import LetterCase

__all__ = ["render_pdf", "with_changes"]

# (height, draw) of each block.
HANDS: dict[type, tuple[Any, Any]] = {
    Table: (tables.table_height, tables.draw_table),
    Facts: (blocks.facts_height, blocks.draw_facts),
    Words: (blocks.words_height, blocks.draw_words),
    Legend: (blocks.legend_height, blocks.draw_legend),
    Signatures: (blocks.signatures_height, blocks.draw_signatures),
    DotStrip: (figures.strip_height, figures.draw_strip),
    CurvePlot: (plots.curve_height, plots.draw_curves),
    TrendPlot: (plots.trend_height, plots.draw_trend),
}
# Where a sheet goes over several pages anyway, nothing is gained by small print.
SEVERAL_PAGES = SIZES[2]


def render_pdf(sheet: Sheet, stamp: Stamp, *, paper: str = "a4") -> bytes:
    """Return the PDF of ``sheet``; the same arguments give the same bytes."""
    from reportlab.pdfgen.canvas import Canvas

    fonts = page_fonts()
    letters = LetterCase(fonts)
    drawn = with_text(with_changes(sheet, stamp), letters.drawable)
    if remark := letters.remark():
        drawn = dataclasses.replace(drawn, blocks=(*drawn.blocks, Words((remark,), small=True)))
    size = PAPERS[paper]
    file = io.BytesIO()
    canvas = Canvas(
        file, pagesize=size, invariant=1, lang="en-GB", initialFontName=REGULAR, pdfVersion=(1, 7)
    )
    canvas.setTitle(f"{drawn.title}, {drawn.subject}")
    canvas.setAuthor("fieldlog")
    canvas.setCreator(f"fieldlog {__version__}")
    canvas.setSubject(f"Sheet {stamp.number}, revision {stamp.revision}, {day_text(stamp.date)}")
    canvas.setKeywords(f"{stamp.number}; revision {stamp.revision}; sha256 {stamp.digest}")
    # The date of the sheet, not the clock's.
    canvas.setDateFormatter(lambda *_now: f"D:{stamp.date:%Y%m%d}000000Z")
    canvas.setViewerPreference("DisplayDocTitle", "true")
    layout = _layout(drawn, stamp, canvas, size)
    layout.begin()
    for block in drawn.blocks:
        HANDS[type(block)][1](layout, block)
    layout.finish()
    layout.tags.finish()
    canvas.save()
    return file.getvalue()


def with_changes(sheet: Sheet, stamp: Stamp) -> Sheet:
    """Say near the top what changed since the revision before."""
    if not stamp.changes:
        return sheet
    changed = Words(
        stamp.changes, heading=f"Changed since revision {stamp.revision - 1}, which no longer holds"
    )
    return dataclasses.replace(sheet, blocks=(*sheet.blocks[:1], changed, *sheet.blocks[1:]))


def _layout(sheet: Sheet, stamp: Stamp, canvas: Any, size: tuple[float, float]) -> Layout:
    pen, room = Pen(canvas, page_fonts()), size[1] - TOP_PT - BOTTOM_PT

    def at(sizes: Sizes) -> Layout:
        return Layout(pen, Tags(canvas), sheet, stamp, size, sizes)

    fitting = []
    for layout in map(at, SIZES):
        if layout.head_height() + sum(_height(layout, block) for block in sheet.blocks) <= room:
            # A page with room to spare is no gain where its columns are squeezed.
            if not any(
                tables.is_squeezed(layout, block) for block in sheet.blocks if isinstance(block, Table)
            ):
                return layout
            fitting.append(layout)
    return fitting[0] if fitting else at(SEVERAL_PAGES)


def _height(layout: Layout, block: Block) -> float:
    height = HANDS[type(block)][0](layout, block)
    assert isinstance(height, float)
    return height
