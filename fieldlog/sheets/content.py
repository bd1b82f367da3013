"""What a page says, apart from how it is drawn: the PDF, the Markdown and the CSV are made from it."""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

__all__ = [
    "Block",
    "Cell",
    "ChangeBar",
    "Column",
    "Curve",
    "CurvePlot",
    "DotStrip",
    "Facts",
    "Figure",
    "Legend",
    "Mark",
    "MarkFamily",
    "Marks",
    "Row",
    "Sheet",
    "Signatures",
    "Stamp",
    "StripRow",
    "Table",
    "TrendPlot",
    "TrendPoint",
    "Words",
    "figures_digest",
    "with_text",
]

MarkFamily = Literal["quality", "cover"]
T = TypeVar("T")


@dataclass(frozen=True)
class Figure:
    """A number with its decimals, bold where ``strong``; ``instead`` is printed where there is none."""

    value: float | None
    decimals: int = 1
    instead: str = "–"
    signed: bool = False
    strong: bool = False

    @property
    def text(self) -> str:
        """The number as printed, with a true minus sign."""
        if self.value is None:
            return self.instead
        if abs(self.value) >= 1e7:
            return f"{self.value:.2e}".replace("-", "−")
        shown = f"{self.value:+.{self.decimals}f}" if self.signed else f"{self.value:.{self.decimals}f}"
        if float(shown) == 0:
            shown = shown.lstrip("+-")
        return shown.replace("-", "−")


@dataclass(frozen=True)
class ChangeBar:
    """A change since the last visit beside the change that error alone can make, both in percent."""

    word: str
    change_pct: float | None = None
    detectable_pct: float | None = None
    beyond_error: bool = False


@dataclass(frozen=True)
class Mark:
    """A mark and the word it stands for."""

    family: MarkFamily
    word: str


@dataclass(frozen=True)
class Marks:
    """The marks of one line."""

    marks: tuple[Mark, ...]


Cell = str | Figure | ChangeBar | Marks


@dataclass(frozen=True)
class Column:
    """A column of a table. ``share`` is its part of the width left over beside the others."""

    key: str
    header: str
    unit: str = ""
    kind: Literal["text", "number", "change", "marks"] = "text"
    width_pt: float = 40.0
    share: float = 0.0


@dataclass(frozen=True)
class Row:
    """One line of a table; ``opens_group`` draws a hairline above it."""

    cells: tuple[Cell, ...]
    opens_group: bool = False


@dataclass(frozen=True)
class Table:
    """A table with a heading and one remark under it."""

    heading: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    remark: str = ""
    empty: str = "nothing"


@dataclass(frozen=True)
class Facts:
    """Short pairs of what and how much, set side by side."""

    pairs: tuple[tuple[str, str], ...]
    heading: str = ""
    across: int = 3


@dataclass(frozen=True)
class Words:
    """Paragraphs; a caution is set apart by a bar beside it."""

    paragraphs: tuple[str, ...]
    heading: str = ""
    caution: bool = False
    small: bool = False


@dataclass(frozen=True)
class Legend:
    """Each mark of the page with its word and what the word means."""

    entries: tuple[tuple[Mark, str], ...]
    detectable: bool = False


@dataclass(frozen=True)
class StripRow:
    """One line of dots: a direction, with the values of all sides that are not named."""

    label: str
    open_values: tuple[float, ...]
    filled_values: tuple[float, ...]
    words: str


@dataclass(frozen=True)
class DotStrip:
    """The squad as dots on one axis a direction, without names."""

    heading: str
    unit: str
    rows: tuple[StripRow, ...]
    open_name: str
    filled_name: str


@dataclass(frozen=True)
class Curve:
    """Torque over angle of one repetition; curves of one ``kind`` (a movement) share a colour."""

    name: str
    kind: str
    angle_deg: tuple[float, ...]
    torque_nm: tuple[float, ...]
    earlier: bool = False


@dataclass(frozen=True)
class CurvePlot:
    """Today's curves over those of the last visit."""

    heading: str
    curves: tuple[Curve, ...]
    words: str


@dataclass(frozen=True)
class TrendPoint:
    """A value of one visit (``day`` orders them) with the half-width of what error alone can make."""

    date: str
    day: int
    value: float
    error: float


@dataclass(frozen=True)
class TrendPlot:
    """Values over the visits, with their uncertainty. Series of one kind (a movement) share a colour.

    ``kinds`` are those of the series in their order; without them each series is its own.
    """

    heading: str
    unit: str
    series: tuple[tuple[str, tuple[TrendPoint, ...]], ...]
    words: str
    kinds: tuple[str, ...] = ()


@dataclass(frozen=True)
class Signatures:
    """Lines to be signed by hand."""

    roles: tuple[str, ...]


Block = Table | Facts | Words | Legend | DotStrip | CurvePlot | TrendPlot | Signatures


@dataclass(frozen=True)
class Stamp:
    """What tells one issue of a sheet from another; printed small at the foot of every page."""

    number: str
    revision: int
    date: dt.date
    digest: str
    changes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """A page: title, what it is about, and its blocks in reading order."""

    kind: str
    title: str
    subject: str
    blocks: tuple[Block, ...]


def figures_digest(sheet: Sheet) -> str:
    """SHA-256 of the figures and words in tables, strips and trends as they are printed, headings apart.

    Curves are left out: they are drawn from the recordings, which are sources themselves.
    """
    printed = [_figures(block) for block in sheet.blocks]
    return hashlib.sha256(repr(printed).encode(errors="surrogatepass")).hexdigest()


def _figures(block: Block) -> list[Any]:
    if isinstance(block, Table):
        return [[_cell_text(cell) for cell in row.cells] for row in block.rows]
    if isinstance(block, DotStrip):
        return [[f"{value:.2f}" for value in (*row.open_values, *row.filled_values)] for row in block.rows]
    if isinstance(block, TrendPlot):
        return [
            [name, [(p.date, f"{p.value:.1f}", f"{p.error:.1f}") for p in points]]
            for name, points in block.series
        ]
    return []


def _cell_text(cell: Cell) -> str:
    if isinstance(cell, Figure):
        return f"{cell.text}!" if cell.strong else cell.text
    if isinstance(cell, ChangeBar):
        return f"{cell.word} {Figure(cell.change_pct).text} {Figure(cell.detectable_pct).text}"
    if isinstance(cell, Marks):
        return " ".join(mark.word for mark in cell.marks)
    return cell


def with_text(part: T, change: Callable[[str], str]) -> T:
    """Return ``part`` (a sheet, a block, a tuple, …) with ``change`` applied to every text in it."""
    changed: Any = part
    if isinstance(part, str):
        changed = change(part)
    elif isinstance(part, tuple):
        changed = tuple(with_text(item, change) for item in part)
    elif dataclasses.is_dataclass(part) and not isinstance(part, type):
        changed = dataclasses.replace(
            part,
            **{
                entry.name: with_text(getattr(part, entry.name), change)
                for entry in dataclasses.fields(part)
                if entry.name not in ("key", "kind", "family")
            },
        )
    return changed  # type: ignore[no-any-return]
