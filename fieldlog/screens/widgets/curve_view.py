"""A widget around the raster: it hands over its size and keeps the cursor."""

from __future__ import annotations

from dataclasses import replace
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.geometry import Size

from fieldlog.screens.curve import CurvePlot, draw, read_out
from fieldlog.screens.table import Span
from fieldlog.screens.widgets.text_line import TextLines

__all__ = ["CURSOR_KEYS", "CurveView"]

STEPS = 60
CURSOR_KEYS = (
    Binding("left", "cursor(-1)", "cursor left", show=False),
    Binding("right", "cursor(1)", "cursor right", show=False),
)
"""Bindings of the curve, and of a room that hands them on to its curve."""


class CurveView(TextLines, can_focus=True):
    """Curves as large as there is room; left and right move a cursor that reads the values."""

    DEFAULT_CSS = "CurveView { height: 1fr; }"

    BINDINGS: ClassVar[list[BindingType]] = [*CURSOR_KEYS]

    def __init__(self, *, ascii_only: bool = False, id: str | None = None) -> None:  # noqa: A002 (Textual's own name)
        super().__init__(id=id)
        self.ascii_only = ascii_only
        self.plot: CurvePlot | None = None
        self._drawn_for: tuple[CurvePlot | None, Size] | None = None

    def show_plot(self, plot: CurvePlot | None) -> None:
        """Show other curves; the cursor stays where it was if that is on them."""
        at = self.plot.cursor if self.plot and plot and self.plot.x_unit == plot.x_unit else None
        if plot and at is not None and plot.x_span[0] <= at <= plot.x_span[1]:
            plot = replace(plot, cursor=at)
        self.plot = plot
        self.refresh()

    @property
    def read_out(self) -> str:
        """The values under the cursor."""
        return read_out(self.plot) if self.plot else ""

    def action_cursor(self, by: int) -> None:
        """Move the cursor by a sixtieth of the width."""
        if self.plot is None:
            return
        low, high = self.plot.x_span
        at = (low + high) / 2 if self.plot.cursor is None else self.plot.cursor + by * (high - low) / STEPS
        self.plot = replace(self.plot, cursor=min(max(at, low), high))
        self.refresh()

    def spans_at(self, y: int) -> list[Span]:
        """Draw when size or curves changed; then one line after the other."""
        if self._drawn_for != (self.plot, self.size):
            self._drawn_for = (self.plot, self.size)
            plot = self.plot or CurvePlot(())
            height = self.size.height
            read_out = [[Span(f"  {self.read_out}", "entry")]] if self.read_out else []
            drawn = (
                draw(plot, self.size.width, height - len(read_out), ascii_only=self.ascii_only)
                if height > 1
                else []
            )
            self._lines = [*drawn, *read_out]
        return self._lines[y] if y < len(self._lines) else []
