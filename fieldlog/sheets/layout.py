"""Where on the pages the next block goes: sizes, cursor, page breaks, heading and foot of each page."""

from __future__ import annotations

from dataclasses import dataclass, field

from fieldlog.date_words import day_text
from fieldlog.sheets.content import Sheet, Stamp
from fieldlog.sheets.fonts import BOLD, REGULAR
from fieldlog.sheets.pen import FAINT, GREY, INK, Pen
from fieldlog.sheets.tagging import Tags

__all__ = ["PAPERS", "SIZES", "Layout", "Sizes"]

PAPERS = {"a4": (595.276, 841.89), "letter": (612.0, 792.0)}
SIDE_PT = 38.0
TOP_PT = 32.0
BOTTOM_PT = 47.0


@dataclass(frozen=True)
class Sizes:
    """One step of density: rows and text of tables, other text, gap between blocks, strip. All in points."""

    row_pt: float
    cell_pt: float
    text_pt: float
    small_pt: float
    gap_pt: float
    strip_pt: float

    @property
    def leading_pt(self) -> float:
        """Distance of two lines of text."""
        return self.text_pt * 1.32

    @property
    def small_leading_pt(self) -> float:
        """Distance of two lines of small text."""
        return self.small_pt * 1.3


# From generous to as dense as a page for thirty athletes and two sides needs; the first that fits is used.
SIZES = (
    Sizes(16.0, 7.4, 9.0, 7.0, 13.0, 20.0),
    Sizes(14.0, 7.4, 8.6, 6.9, 11.0, 18.0),
    Sizes(12.0, 7.3, 8.2, 6.8, 9.0, 16.0),
    Sizes(10.6, 7.2, 7.8, 6.7, 7.5, 14.0),
    Sizes(9.4, 7.1, 7.4, 6.5, 6.0, 13.0),
    Sizes(8.4, 7.0, 7.0, 6.3, 4.5, 12.0),
    Sizes(7.8, 6.8, 6.8, 6.1, 3.2, 11.0),
)


@dataclass
class Layout:
    """The pages while they are filled from top to bottom."""

    pen: Pen
    tags: Tags
    sheet: Sheet
    stamp: Stamp
    paper: tuple[float, float]
    sizes: Sizes
    y: float = 0.0
    pages: int = 1
    _drawn_pages: list[dict[str, object]] = field(default_factory=list)

    @property
    def left(self) -> float:
        """Left edge of what may be drawn on."""
        return SIDE_PT

    @property
    def right(self) -> float:
        """Right edge of what may be drawn on."""
        return self.paper[0] - SIDE_PT

    @property
    def width(self) -> float:
        """Width of what may be drawn on."""
        return self.right - self.left

    @property
    def full_height(self) -> float:
        """Height for blocks on a page after the first."""
        return self.paper[1] - TOP_PT - BOTTOM_PT - 22.0

    def begin(self) -> None:
        """Write title and subject at the head of the first page."""
        self.y = self.paper[1] - TOP_PT
        title_pt = 12.0 + self.sizes.gap_pt * 0.5
        self.y -= title_pt * 0.8
        with self.tags.content("H1"):
            self.pen.text(self.left, self.y, self.sheet.title, title_pt, font=BOLD, within_pt=self.width)
        self.y -= self.sizes.text_pt * 1.55
        with self.tags.content("P"):
            for line in self.pen.lines_of(self.sheet.subject, self.sizes.text_pt + 0.6, self.width):
                self.pen.text(self.left, self.y, line, self.sizes.text_pt + 0.6, colour=GREY)
                self.y -= (self.sizes.text_pt + 0.6) * 1.25
        self.y -= self.sizes.gap_pt * 0.15
        with self.tags.decoration():
            self.pen.line([(self.left, self.y), (self.right, self.y)], width_pt=1.1)
        self.y -= self.sizes.gap_pt * 0.8

    def head_height(self) -> float:
        """Height ``begin`` takes."""
        lines = len(self.pen.lines_of(self.sheet.subject, self.sizes.text_pt + 0.6, self.width))
        return (
            (12.0 + self.sizes.gap_pt * 0.5) * 0.8
            + self.sizes.text_pt * 1.55
            + lines * (self.sizes.text_pt + 0.6) * 1.25
            + self.sizes.gap_pt * 0.95
        )

    def need(self, height: float) -> bool:
        """Go to a new page where less than ``height`` is left; say whether it did."""
        if self.y - height >= BOTTOM_PT:
            return False
        self.new_page()
        return True

    def new_page(self) -> None:
        """Keep this page and start the next with a short heading."""
        self._keep_page()
        self.pages += 1
        self.tags.next_page()
        self.y = self.paper[1] - TOP_PT - 6.0
        with self.tags.content("P"):
            self.pen.text(
                self.left,
                self.y,
                f"{self.sheet.title}, {self.sheet.subject} (continued)",
                7.4,
                colour=GREY,
                within_pt=self.width,
            )
        self.y -= 5.0
        with self.tags.decoration():
            self.pen.line([(self.left, self.y), (self.right, self.y)], width_pt=0.5)
        self.y -= 11.0

    def finish(self) -> None:
        """Write the foot of every page, now that their number is known."""
        self._keep_page()
        canvas = self.pen.canvas
        for number, state in enumerate(self._drawn_pages, start=1):
            canvas.__dict__.update(state)
            self._foot(number)
            canvas.showPage()

    def _keep_page(self) -> None:
        # The page library writes a page when it is shown; keeping its state back lets the foot name
        # the number of pages.
        canvas = self.pen.canvas
        self._drawn_pages.append(dict(canvas.__dict__))
        canvas._startPage()  # noqa: SLF001 (the library's own recipe for "page 1 of 3")

    def _foot(self, number: int) -> None:
        y = BOTTOM_PT - 16.0
        stamp = self.stamp
        with self.tags.foot_of(number - 1):
            self.pen.line([(self.left, y + 9.0), (self.right, y + 9.0)], colour=FAINT, width_pt=0.5)
            self.pen.text(
                self.left,
                y,
                f"Sheet {stamp.number}, revision {stamp.revision}, {day_text(stamp.date)}",
                7.0,
                font=BOLD,
                colour=INK,
            )
            self.pen.text(self.right, y, f"page {number} of {self.pages}", 7.0, colour=GREY, align="right")
            y -= 8.2
            self.pen.text(
                self.left,
                y,
                f"made from {stamp.digest} (SHA-256); still current? fieldlog sheet verify FILE.pdf",
                5.6,
                font=REGULAR,
                colour=GREY,
                within_pt=self.width,
            )
