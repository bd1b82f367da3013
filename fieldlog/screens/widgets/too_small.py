"""The word to a window that is too small to work in."""

from __future__ import annotations

from textual.geometry import Size

from fieldlog.screens.table import Span
from fieldlog.screens.widgets.text_line import TextLines

__all__ = ["TooSmall"]

LEAST_WIDTH, LEAST_HEIGHT = 60, 20


class TooSmall(TextLines):
    """Covers the room while the window has less than 60 × 20 characters."""

    DEFAULT_CSS = "TooSmall { layer: top; dock: top; width: 100%; height: 100%; display: none; background: $background; }"

    def show_for(self, size: Size) -> None:
        """Come up where a window of this size is too small, else go."""
        small = size.width < LEAST_WIDTH or size.height < LEAST_HEIGHT
        if small:
            self.show_lines(
                "",
                Span(" this window is too small", "strong"),
                f" it has {size.width} × {size.height} characters",
                f" fieldlog needs {LEAST_WIDTH} × {LEAST_HEIGHT}",
                " nothing is lost; make it larger",
            )
        self.display = small
