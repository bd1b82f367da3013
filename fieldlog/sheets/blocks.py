"""Facts, paragraphs, the legend of marks and lines to sign: the plain blocks of a page."""

from __future__ import annotations

from fieldlog.sheets.content import Facts, Legend, Signatures, Words
from fieldlog.sheets.fonts import BOLD, REGULAR
from fieldlog.sheets.layout import Layout
from fieldlog.sheets.marks import draw_mark
from fieldlog.sheets.pen import BLUE, GREY, INK, PALE, WHITE

__all__ = [
    "draw_facts",
    "draw_legend",
    "draw_signatures",
    "draw_words",
    "facts_height",
    "legend_height",
    "signatures_height",
    "words_height",
]

SIGNATURE_PT = 34.0
MOST_FACT_LINES = 6


def _draw_heading(layout: Layout, heading: str) -> None:
    size = layout.sizes.text_pt + 1.5
    layout.y -= size
    with layout.tags.content("H2"):
        layout.pen.text(layout.left, layout.y, heading, size, font=BOLD, within_pt=layout.width)
    layout.y -= size * 0.5


def _heading_height(layout: Layout, heading: str) -> float:
    return (layout.sizes.text_pt + 1.5) * 1.5 if heading else 0.0


def _facts_lines(layout: Layout, facts: Facts) -> list[list[tuple[str, list[str]]]]:
    """Rows of (what, lines of how much)."""
    pairs = [pair for pair in _fact_lines(layout, facts) if len(pair[1]) <= MOST_FACT_LINES]
    return [pairs[start : start + facts.across] for start in range(0, len(pairs), facts.across)]


def _fact_lines(layout: Layout, facts: Facts) -> list[tuple[str, list[str]]]:
    width = layout.width / facts.across - 10.0
    return [(what, layout.pen.lines_of(much, layout.sizes.text_pt, width)) for what, much in facts.pairs]


def _long_facts(layout: Layout, facts: Facts) -> Words | None:
    """What is too long to stand beside others: full width, one paragraph each."""
    wrapped = zip(facts.pairs, _fact_lines(layout, facts), strict=True)
    long = tuple(f"{what}: {much}" for (what, much), (_, lines) in wrapped if len(lines) > MOST_FACT_LINES)
    return Words(long) if long else None


def _facts_row_height(layout: Layout, row: list[tuple[str, list[str]]]) -> float:
    most = max(len(lines) for _, lines in row)
    return layout.sizes.small_leading_pt + most * layout.sizes.leading_pt + layout.sizes.gap_pt * 0.25


def facts_height(layout: Layout, facts: Facts) -> float:
    """Height of the pairs with their heading."""
    rows = sum(_facts_row_height(layout, row) for row in _facts_lines(layout, facts))
    long = _long_facts(layout, facts)
    more = words_height(layout, long) if long else 0.0
    return _heading_height(layout, facts.heading) + rows + layout.sizes.gap_pt * 0.6 + more


def draw_facts(layout: Layout, facts: Facts) -> None:
    """Draw pairs in columns: what small above, how much below."""
    pen, sizes = layout.pen, layout.sizes
    rows = _facts_lines(layout, facts)
    layout.need(
        _heading_height(layout, facts.heading) + (_facts_row_height(layout, rows[0]) if rows else 0.0)
    )
    if facts.heading:
        _draw_heading(layout, facts.heading)
    for row in rows:
        height = _facts_row_height(layout, row)
        layout.need(height)
        for number, (what, lines) in enumerate(row):
            x = layout.left + number * layout.width / facts.across
            y = layout.y - sizes.small_pt
            with layout.tags.content("P"):
                pen.text(
                    x, y, what, sizes.small_pt, colour=GREY, within_pt=layout.width / facts.across - 10.0
                )
                y -= sizes.leading_pt
                for line in lines:
                    pen.text(x, y, line, sizes.text_pt, font=REGULAR)
                    y -= sizes.leading_pt
        layout.y -= height
    layout.y -= sizes.gap_pt * 0.6
    if long := _long_facts(layout, facts):
        draw_words(layout, long)


def _words_sizes(layout: Layout, words: Words) -> tuple[float, float, float]:
    size = layout.sizes.small_pt if words.small else layout.sizes.text_pt
    return size, size * 1.32, 9.0 if words.caution else 0.0


def words_height(layout: Layout, words: Words) -> float:
    """Height of the paragraphs with their heading."""
    size, leading, indent = _words_sizes(layout, words)
    lines = sum(len(layout.pen.lines_of(text, size, layout.width - indent)) for text in words.paragraphs)
    between = (len(words.paragraphs) - 1) * leading * 0.2
    return _heading_height(layout, words.heading) + lines * leading + between + layout.sizes.gap_pt


def draw_words(layout: Layout, words: Words) -> None:
    """Draw paragraphs; cautions stand beside a heavy bar."""
    pen = layout.pen
    size, leading, indent = _words_sizes(layout, words)
    layout.need(_heading_height(layout, words.heading) + leading * 2)
    if words.heading:
        _draw_heading(layout, words.heading)
    for number, text in enumerate(words.paragraphs):
        if number:
            layout.y -= leading * 0.2
        lines = pen.lines_of(text, size, layout.width - indent)
        # A paragraph of some length may be broken over pages, a short one is kept together.
        if len(lines) <= 6:
            layout.need(len(lines) * leading)
        for start in range(0, len(lines), 6):
            some = lines[start : start + 6]
            layout.need(len(some) * leading)
            with layout.tags.content("P"):
                top = layout.y
                for line in some:
                    layout.y -= leading
                    pen.text(layout.left + indent, layout.y + size * 0.28, line, size)
                if words.caution:
                    joined = leading * 0.2 if number or start else 0.0
                    pen.box(layout.left, layout.y, 2.2, top - layout.y + joined, fill=INK)
    layout.y -= layout.sizes.gap_pt


def _legend_items(layout: Layout, legend: Legend) -> list[tuple[float, int]]:
    """(width, line) of every entry, the detectable band last."""
    size = layout.sizes.small_pt
    x, line, items = 0.0, 0, []
    texts = [f"{mark.word}: {meaning}" for mark, meaning in legend.entries]
    if legend.detectable:
        texts.append(_BAND)
    for text in texts:
        width = layout.pen.width_pt(text, size) + size * 1.6 + 12.0 + (14.0 if text is _BAND else 0.0)
        if x and x + width > layout.width:
            x, line = 0.0, line + 1
        items.append((x, line))
        x += width
    return items


_BAND = "what the error of the test alone can make; filled dot: beyond it, marked in the main measures only"


def legend_height(layout: Layout, legend: Legend) -> float:
    """Height of the legend."""
    items = _legend_items(layout, legend)
    return (items[-1][1] + 1) * layout.sizes.small_leading_pt * 1.12 + layout.sizes.gap_pt if items else 0.0


def draw_legend(layout: Layout, legend: Legend) -> None:
    """Draw each mark beside its word and what the word means."""
    pen, size = layout.pen, layout.sizes.small_pt
    items = _legend_items(layout, legend)
    if not items:
        return
    leading = layout.sizes.small_leading_pt * 1.12
    layout.need(legend_height(layout, legend))
    top = layout.y - size
    for (mark, meaning), (x, line) in zip(legend.entries, items, strict=False):
        y = top - line * leading
        with layout.tags.content("P"):
            draw_mark(pen, layout.left + x, y - size * 0.08, size * 0.95, mark)
            word = pen.text(layout.left + x + size * 1.5, y, f"{mark.word}: ", size, font=BOLD)
            pen.text(layout.left + x + size * 1.5 + word, y, meaning, size, colour=GREY)
    if legend.detectable:
        x, line = items[-1]
        y = top - line * leading
        with layout.tags.content("P"):
            pen.box(layout.left + x, y - 0.5, 16.0, size * 0.75, fill=PALE)
            pen.dot(layout.left + x + 4.5, y + size * 0.32, size * 0.24, fill=WHITE, edge=BLUE)
            pen.dot(layout.left + x + 19.0, y + size * 0.32, size * 0.24, fill=BLUE, edge=BLUE)
            pen.text(layout.left + x + 24.0, y, _BAND, size, colour=GREY)
    layout.y -= legend_height(layout, legend)


def signatures_height(layout: Layout, signatures: Signatures) -> float:
    """Height of the lines to sign."""
    return SIGNATURE_PT * ((len(signatures.roles) + 1) // 2) + layout.sizes.gap_pt


def draw_signatures(layout: Layout, signatures: Signatures) -> None:
    """Draw a line with room for a name, a date and a signature for each role."""
    layout.need(signatures_height(layout, signatures))
    width = layout.width / 2 - 14.0
    for number, role in enumerate(signatures.roles):
        x = layout.left + (number % 2) * (width + 28.0)
        if number % 2 == 0:
            layout.y -= SIGNATURE_PT
        with layout.tags.content("P"):
            layout.pen.line([(x, layout.y + 10.0), (x + width, layout.y + 10.0)], width_pt=0.5)
            layout.pen.text(x, layout.y + 1.5, role, layout.sizes.small_pt, colour=GREY, within_pt=width)
    layout.y -= layout.sizes.gap_pt
