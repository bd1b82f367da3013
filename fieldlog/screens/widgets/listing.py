"""A list with a cursor: rows are drawn only where they are seen, so ten thousand cost what twenty do."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from rich.style import Style
from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Region, Size
from textual.message import Message
from textual.reactive import reactive
from textual.scroll_view import ScrollView
from textual.strip import Strip

from fieldlog.screens.palette import role_style
from fieldlog.screens.table import Cell, Column, Row, Span, compose_row, headings, spans_of, text_of
from fieldlog.screens.widgets.row_bar import RowBar
from fieldlog.screens.widgets.text_line import strip_of

__all__ = ["Listing"]

SHARE_AHEAD = 4
MARK, IDLE_MARK, NO_MARK = "▸ ", "▹ ", "  "


def _texts(cells: Sequence[Cell]) -> list[str]:
    return [text_of(spans_of(cell)).strip() for cell in cells]


class Listing(ScrollView, can_focus=True):
    """Rows in columns, one under the cursor. Takes text only, never markup."""

    DEFAULT_CSS = """
    Listing { height: 1fr; overflow-x: hidden; overflow-y: auto; scrollbar-size-vertical: 1; }
    Listing:focus { background-tint: $foreground 2%; }
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", "up", show=False),
        Binding("down", "move(1)", "down", show=False),
        Binding("pageup", "page(-1)", "page up", show=False),
        Binding("pagedown", "page(1)", "page down", show=False),
        Binding("home", "to(0)", "first", show=False),
        Binding("end", "to(-1)", "last", show=False),
    ]

    cursor: reactive[int] = reactive(0, repaint=False)

    class Moved(Message):
        """The cursor stands on another row."""

        def __init__(self, listing: Listing, row_key: str | None) -> None:
            super().__init__()
            self.listing = listing
            self.row_key = row_key

        @property
        def control(self) -> Listing:
            """The listing that speaks."""
            return self.listing

    def __init__(
        self,
        *columns: Column,
        empty: str = "nothing here yet",
        heading: bool = True,
        id: str | None = None,  # noqa: A002 (Textual's own name)
    ) -> None:
        super().__init__(id=id)
        self.columns = columns
        self.empty = empty
        self.heading = heading
        self._all: list[Row] = []
        self._shown: list[Row] = []
        self._needle = ""
        self._base: Style | None = None
        self._drawn: dict[str, tuple[Row, tuple[object, ...], Strip]] = {}

    @property
    def vertical_scrollbar(self) -> RowBar:
        """The bar at the edge, made when it is first needed."""
        if not isinstance(self._vertical_scrollbar, RowBar):
            self._vertical_scrollbar = bar = RowBar(vertical=True, name="vertical")
            bar.display = False
            self.app._start_widget(self, bar)  # noqa: SLF001 (what Textual does for its own bar)
        return self._vertical_scrollbar

    # what is in it

    def show_rows(self, rows: Sequence[Row], *, columns: Sequence[Column] | None = None) -> None:
        """Show ``rows``; the cursor stays on the row of the same key where there still is one."""
        key = self.row_key
        self._all = list(rows)
        if columns is not None:
            self.columns = tuple(columns)
        self._drawn.clear()
        self._sift(key)

    def change_row(self, row: Row) -> None:
        """Show one row anew, in the place of the row of its key."""
        for rows in {id(self._all): self._all, id(self._shown): self._shown}.values():
            place = self._places(rows).get(row.key)
            if place is not None:
                rows[place] = row
                if rows is self._shown:
                    self._draw_anew(place)

    def _places(self, rows: list[Row]) -> dict[str, int]:
        return {row.key: place for place, row in enumerate(rows)}

    def filter(self, needle: str) -> None:
        """Show only rows that hold every word of ``needle``."""
        self._needle = needle.casefold().strip()
        self._sift(self.row_key)

    def _sift(self, key: str | None) -> None:
        words = self._needle.split()
        self._shown = (
            [row for row in self._all if all(word in row.words for word in words)] if words else self._all
        )
        place = next((index for index, row in enumerate(self._shown) if row.key == key), None)
        self.cursor = min(self.cursor, max(len(self._shown) - 1, 0)) if place is None else place
        self._measure()
        self.refresh()
        if self.row_key != key:
            self.post_message(self.Moved(self, self.row_key))

    @property
    def count_words(self) -> str:
        """How many rows are shown of how many, such as ``12 of 240``."""
        return f"{len(self._shown)} of {len(self._all)}"

    @property
    def rows(self) -> list[Row]:
        """Every row, filtered or not."""
        return self._all

    @property
    def needle(self) -> str:
        """The words of the filter."""
        return self._needle

    @property
    def row_key(self) -> str | None:
        """Key of the row under the cursor."""
        return self._shown[self.cursor].key if self.cursor < len(self._shown) else None

    @property
    def row_text(self) -> str:
        """Text of the row under the cursor, whole and not as it is cut on the screen, columns parted by tabs."""
        return "\t".join(self.row_cells)

    @property
    def row_cells(self) -> list[str]:
        """Texts of the cells of the row under the cursor."""
        return _texts(self._shown[self.cursor].cells) if self.cursor < len(self._shown) else []

    @property
    def table_text(self) -> str:
        """Text of all rows that the filter lets through, a line each, the titles before them."""
        titles = [[column.title for column in self.columns]] if self._head else []
        return "\n".join("\t".join(line) for line in (*titles, *(_texts(row.cells) for row in self._shown)))

    # moving

    def to_key(self, key: str) -> None:
        """Put the cursor on the row of this key, where there is one."""
        for index, row in enumerate(self._shown):
            if row.key == key:
                self.cursor = index

    def action_move(self, by: int) -> None:
        """Move the cursor by rows."""
        self.cursor = max(0, min(self.cursor + by, len(self._shown) - 1))

    def action_page(self, by: int) -> None:
        """Move the cursor by pages."""
        self.action_move(by * max(self._visible_rows, 1))

    def action_to(self, place: int) -> None:
        """Move the cursor to the first or the last row."""
        self.cursor = max(len(self._shown) - 1, 0) if place < 0 else 0

    def watch_cursor(self, old: int, new: int) -> None:
        """Draw the two rows anew and tell who listens."""
        if old != new:
            top = int(self.scroll_y)
            self._follow()
            if top == int(self.scroll_y):
                self._draw_anew(old, new)
            else:
                self.refresh()
            self.post_message(self.Moved(self, self.row_key))

    def _draw_anew(self, *places: int) -> None:
        for place in places:
            y = place - int(self.scroll_y) + self._head
            if 0 <= y < self.size.height:
                self.refresh(Region(0, y, self.size.width, 1))

    def on_click(self, event: events.Click) -> None:
        """Put the cursor where the mouse points, for who has one."""
        row = event.y + int(self.scroll_y) - self._head
        if 0 <= row < len(self._shown):
            self.cursor = row

    # drawing

    @property
    def _head(self) -> int:
        return 1 if self.heading and any(column.title for column in self.columns) else 0

    @property
    def _visible_rows(self) -> int:
        return self.scrollable_content_region.height - self._head

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 (Textual's signature)
        """As high as the rows, where the style asks for it."""
        return max(len(self._shown), 1) + self._head

    def _measure(self) -> None:
        lines = len(self._shown) + self._head
        if self.virtual_size.height != lines:
            self.virtual_size = Size(0, lines)
            if self.styles.height is not None and self.styles.height.is_auto:
                self.refresh(layout=True)

    def _follow(self) -> None:
        # A few rows at once: each scroll draws all lines anew, which a slow link feels.
        top, rows = int(self.scroll_y), max(self._visible_rows, 1)
        more = rows // SHARE_AHEAD
        if self.cursor < top:
            self.scroll_to(y=max(self.cursor - more, 0), animate=False, immediate=True)
        elif self.cursor >= top + rows:
            self.scroll_to(y=self.cursor - rows + 1 + more, animate=False, immediate=True)

    def on_resize(self) -> None:
        """Keep the cursor in sight."""
        self._measure()
        self._follow()

    def line_spans(self, row: Row, width: int, *, at_cursor: bool) -> list[Span]:  # noqa: ARG002 (for entries)
        """Return one row as spans; a list with an entry in its rows draws the entry here."""
        return compose_row(self.columns_at(width), row.cells, width, row.role)

    def columns_at(self, width: int) -> Sequence[Column]:  # noqa: ARG002 (for lists that fit theirs)
        """Return the columns of heading and rows on a line of ``width``."""
        return self.columns

    def render_line(self, y: int) -> Strip:
        """Draw one line of what is in sight."""
        width = self.scrollable_content_region.width
        if self._head and y == 0:
            return self._strip(Span(NO_MARK), headings(self.columns_at(width - 2), width - 2), width)
        index = y + int(self.scroll_y) - self._head
        if not self._shown and index == 0:
            words = f"nothing fits “{self._needle}”; esc shows all" if self._needle else self.empty
            return self._strip(Span(NO_MARK), [Span(words, "quiet")], width)
        if not 0 <= index < len(self._shown):
            return Strip.blank(width, self._base_style)
        row = self._shown[index]
        if index != self.cursor:
            return self._row_strip(row, width)
        mark = Span(MARK, "key") if self.has_focus else Span(IDLE_MARK, "quiet")
        spans = self.line_spans(row, width - 2, at_cursor=True)
        return self._strip(mark, spans, width, strong=self.has_focus)

    def _row_strip(self, row: Row, width: int) -> Strip:
        """Draw a row away from the cursor, once for each width: scrolling draws all of them anew."""
        now = (width, self.app.theme, self._base_style)
        known = self._drawn.get(row.key)
        if known is not None and known[0] is row and known[1] == now:
            return known[2]
        strip = self._strip(Span(NO_MARK), self.line_spans(row, width - 2, at_cursor=False), width)
        self._drawn[row.key] = (row, now, strip)
        return strip

    def notify_style_update(self) -> None:
        """Colours may have changed: look them up anew."""
        self._base = None
        super().notify_style_update()

    @property
    def _base_style(self) -> Style:
        # Looking it up walks the whole tree of widgets, which is too dear for every line.
        if self._base is None:
            self._base = self.rich_style
        return self._base

    def _strip(self, mark: Span, spans: Sequence[Span], width: int, *, strong: bool = False) -> Strip:
        base = self._base_style + role_style("strong", self.app.theme) if strong else self._base_style
        return strip_of((mark, *spans), width, base, self.app.theme)
