"""Rows of text in columns of cells, harmless whatever a name holds: what widgets and plain print share."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from rich.cells import cell_len, set_cell_size

__all__ = [
    "Cell",
    "Column",
    "Pane",
    "Row",
    "Span",
    "View",
    "compose_row",
    "fit",
    "fitted",
    "headings",
    "joined",
    "plain",
    "spans_of",
    "text_of",
    "wrapped",
]

GAP = 2
# Marks, joiners and direction switches that move other text about on the terminal.
_HARMFUL = frozenset({"Cc", "Cf", "Co", "Cs", "Zl", "Zp"})


class Span(NamedTuple):
    """A piece of text with the role that its style follows from, such as ``good`` or ``quiet``."""

    text: str
    role: str = ""


Cell = str | Span | Sequence[Span]


@dataclass(frozen=True)
class Column:
    """A column; width 0 shares what the others leave."""

    title: str
    width: int = 0
    align: Literal["left", "right"] = "left"


@dataclass(frozen=True)
class Row:
    """A row under the ``key`` it is chosen by."""

    key: str
    cells: tuple[Cell, ...]
    role: str = ""

    @property
    def words(self) -> str:
        """The text a filter looks through."""
        return " ".join(text_of(spans_of(cell)) for cell in self.cells).casefold()


def plain(text: str) -> str:
    """Return ``text`` with everything that could steer a terminal or turn the writing direction made a blank."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(" " if unicodedata.category(character) in _HARMFUL else character for character in text)


def spans_of(cell: Cell) -> list[Span]:
    """Return a cell as spans of harmless text."""
    if isinstance(cell, str):
        return [Span(plain(cell))]
    if isinstance(cell, Span):
        return [Span(plain(cell.text), cell.role)]
    return [Span(plain(span.text), span.role) for span in cell]


def wrapped(text: str, width: int, role: str = "", *, first: str = "  ", others: str = "  ") -> list[Span]:
    """Return a text in lines of at most ``width`` cells, each with its blanks before it."""
    from textwrap import wrap

    lines = wrap(plain(text), max(width - 2 - len(first), 20))
    return [Span((others if place else first) + line, role) for place, line in enumerate(lines)]


def text_of(spans: Iterable[Span]) -> str:
    """Return the text of spans."""
    return "".join(span.text for span in spans)


def fit(cell: Cell, width: int, align: Literal["left", "right"] = "left") -> list[Span]:
    """Return a cell at exactly ``width`` terminal cells; what is cut off ends in an ellipsis."""
    spans = spans_of(cell)
    length = _length(spans)
    if length > width:
        return _cut(spans, width)
    blank = Span(" " * (width - length))
    return [blank, *spans] if align == "right" else [*spans, blank]


def _cut(spans: Sequence[Span], width: int) -> list[Span]:
    if width <= 0:
        return []
    kept: list[Span] = []
    room = width - 1
    for span in spans:
        length = cell_len(span.text)
        if length > room:
            kept.append(Span(set_cell_size(span.text, room) + "…", span.role))
            return kept
        kept.append(span)
        room -= length
    return kept


def widths(columns: Sequence[Column], width: int) -> list[int]:
    """Return each column's width; the flexible ones share what is left."""
    fixed = sum(column.width for column in columns) + GAP * (len(columns) - 1)
    flexible = [column for column in columns if column.width == 0]
    if not flexible:
        return [column.width for column in columns]
    share, over = divmod(max(width - fixed, 4 * len(flexible)), len(flexible))
    found = []
    for column in columns:
        if column.width:
            found.append(column.width)
        else:
            found.append(share + (1 if over > 0 else 0))
            over -= 1
    return found


def fitted(columns: Sequence[Column], rows: Sequence[Row], width: int) -> tuple[Column, ...]:
    """Return the columns as they are where every cell has room, else as wide as the cells of ``rows`` need.

    Where that is more than ``width`` the widest give way. A flexible column takes what is left.
    """
    needed = [
        max([len(column.title), *(_length(row.cells[place]) for row in rows)])
        for place, column in enumerate(columns)
    ]
    if all(room >= need for room, need in zip(widths(columns, width), needed, strict=True)):
        return tuple(columns)
    while sum(needed) + GAP * (len(columns) - 1) > width and max(needed) > 1:
        needed[needed.index(max(needed))] -= 1
    return tuple(
        replace(column, width=need) if column.width else column
        for column, need in zip(columns, needed, strict=True)
    )


def _length(cell: Cell) -> int:
    return sum(cell_len(span.text) for span in spans_of(cell))


def compose_row(columns: Sequence[Column], cells: Sequence[Cell], width: int, role: str = "") -> list[Span]:
    """Return one line of exactly ``width`` cells."""
    spans: list[Span] = []
    for place, (column, cell, room) in enumerate(zip(columns, cells, widths(columns, width), strict=False)):
        if place:
            spans.append(Span(" " * GAP))
        spans.extend(fit(cell, room, column.align))
    line = fit(spans, width)
    return [Span(span.text, span.role or role) for span in line] if role else line


def joined(spans: Iterable[Span]) -> list[Span]:
    """Return the same text with neighbours of one role made one."""
    found: list[Span] = []
    for span in spans:
        if found and found[-1].role == span.role:
            found[-1] = Span(found[-1].text + span.text, span.role)
        else:
            found.append(span)
    return found


def headings(columns: Sequence[Column], width: int) -> list[Span]:
    """Return the line of column titles."""
    return compose_row(columns, [Span(column.title, "quiet") for column in columns], width)


@dataclass(frozen=True)
class Pane:
    """One titled list of a room: what the screen shows and plain print writes."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    note: str = ""
    empty: str = "nothing here yet"


@dataclass(frozen=True)
class View:
    """A room as data: where one is, what to know of it, and its panes."""

    left: str
    right: str
    panes: tuple[Pane, ...]
