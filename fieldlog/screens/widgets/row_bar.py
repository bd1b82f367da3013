"""Where one is in a long list: a bar at its edge, drawn anew only where it moved."""

from __future__ import annotations

from textual.geometry import Region
from textual.reactive import reactive
from textual.scrollbar import ScrollBar
from textual.strip import Strip

from fieldlog.screens.table import Span
from fieldlog.screens.widgets.text_line import strip_of

__all__ = ["RowBar"]

THUMB, TRACK = Span("▐", "quiet"), Span(" ")


class RowBar(ScrollBar):
    """The bar beside rows. Textual's own draws every line of itself at each step, which a slow laptop feels."""

    position: reactive[float] = reactive(0.0, repaint=False)
    window_size: reactive[int] = reactive(0, repaint=False)
    window_virtual_size: reactive[int] = reactive(100, repaint=False)
    _drawn: tuple[int, int] = (0, 0)

    def watch_position(self) -> None:
        """Draw what moved."""
        self._follow()

    def watch_window_size(self) -> None:
        """Draw what grew."""
        self._follow()

    def watch_window_virtual_size(self) -> None:
        """Draw what shrank."""
        self._follow()

    @property
    def thumb(self) -> tuple[int, int]:
        """First line of the mark, and the line after it."""
        lines, rows, seen = self.size.height, self.window_virtual_size, self.window_size
        if not 0 < seen < rows:
            return (0, 0)
        length = max(round(lines * seen / rows), 1)
        top = round((lines - length) * min(self.position / (rows - seen), 1.0))
        return (top, top + length)

    def _follow(self) -> None:
        if self.thumb != self._drawn:
            first = min(self._drawn[0], self.thumb[0])
            last = max(self._drawn[1], self.thumb[1])
            self._drawn = self.thumb
            self.refresh(Region(0, first, self.size.width, last - first))

    def render_line(self, y: int) -> Strip:
        """Draw one line."""
        first, last = self.thumb
        mark = THUMB if first <= y < last else TRACK
        return strip_of([mark], self.size.width, self.rich_style, self.app.theme)
