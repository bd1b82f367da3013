"""Drawing on one page: text, lines and shapes in the few sizes and colours all pages share."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

from fieldlog.sheets.fonts import REGULAR, PageFonts
from fieldlog.sheets.text import fitted, wrapped

__all__ = ["BLUE", "FAINT", "GREY", "INK", "ORANGE", "PALE", "WHITE", "Pen"]

Colour = tuple[float, float, float]
Align = Literal["left", "right", "middle"]

INK: Colour = (0.10, 0.10, 0.12)
GREY: Colour = (0.38, 0.38, 0.40)
FAINT: Colour = (0.80, 0.80, 0.82)
PALE: Colour = (0.91, 0.91, 0.92)
WHITE: Colour = (1.0, 1.0, 1.0)
# Two colours of the set by Okabe and Ito (2008), told apart by colour-blind readers and, being of
# different lightness, in grey print. Nothing is said by colour alone.
BLUE: Colour = (0.0, 114 / 255, 178 / 255)
ORANGE: Colour = (230 / 255, 159 / 255, 0.0)


class Pen:
    """A thin hand over the page library's canvas. Lengths are points, y grows upwards."""

    def __init__(self, canvas: Any, fonts: PageFonts) -> None:
        self.canvas = canvas
        self.fonts = fonts

    def width_pt(self, text: str, size_pt: float, font: str = REGULAR) -> float:
        """Width of ``text``."""
        return self.fonts.width_pt(text, font, size_pt)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size_pt: float,
        *,
        font: str = REGULAR,
        colour: Colour = INK,
        align: Align = "left",
        within_pt: float | None = None,
    ) -> float:
        """Write one line with its base line at ``y``; return its width. ``within_pt`` shortens it."""
        if within_pt is not None:
            text = fitted(self.fonts, text, font, size_pt, within_pt)
        width = self.width_pt(text, size_pt, font)
        self.canvas.setFillColorRGB(*colour)
        self.canvas.setFont(font, size_pt)
        self.canvas.drawString(x - {"left": 0.0, "middle": width / 2, "right": width}[align], y, text)
        return width

    def lines_of(self, text: str, size_pt: float, width_pt: float, font: str = REGULAR) -> list[str]:
        """Break ``text`` into lines of at most ``width_pt``."""
        return wrapped(self.fonts, text, font, size_pt, width_pt)

    def figure(
        self, x_point: float, y: float, text: str, size_pt: float, *, font: str = REGULAR, **options: Any
    ) -> None:
        """Write a number so that its decimal sign (or, without one, its last digit) stands at ``x_point``."""
        whole = text.partition(".")[0]
        self.text(x_point - self.width_pt(whole, size_pt, font), y, text, size_pt, font=font, **options)

    def line(
        self,
        points: Sequence[tuple[float, float]],
        *,
        colour: Colour = INK,
        width_pt: float = 0.5,
        dash: tuple[float, ...] = (),
    ) -> None:
        """Draw an open line through ``points``."""
        self._stroke(colour, width_pt, dash)
        path = self.canvas.beginPath()
        path.moveTo(*points[0])
        for point in points[1:]:
            path.lineTo(*point)
        self.canvas.drawPath(path, stroke=1, fill=0)

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: Colour | None = None,
        edge: Colour | None = None,
        width_pt: float = 0.6,
    ) -> None:
        """Draw a rectangle from its lower left corner."""
        self._prepare(fill, edge, width_pt)
        self.canvas.rect(x, y, width, height, stroke=int(edge is not None), fill=int(fill is not None))

    def dot(
        self,
        x: float,
        y: float,
        radius: float,
        *,
        fill: Colour | None = None,
        edge: Colour | None = None,
        width_pt: float = 0.6,
    ) -> None:
        """Draw a circle."""
        self._prepare(fill, edge, width_pt)
        self.canvas.circle(x, y, radius, stroke=int(edge is not None), fill=int(fill is not None))

    def shape(
        self,
        points: Sequence[tuple[float, float]],
        *,
        fill: Colour | None = None,
        edge: Colour | None = None,
        width_pt: float = 0.6,
    ) -> None:
        """Draw a closed shape."""
        self._prepare(fill, edge, width_pt)
        path = self.canvas.beginPath()
        path.moveTo(*points[0])
        for point in points[1:]:
            path.lineTo(*point)
        path.close()
        self.canvas.drawPath(path, stroke=int(edge is not None), fill=int(fill is not None))

    def _prepare(self, fill: Colour | None, edge: Colour | None, width_pt: float) -> None:
        if fill is not None:
            self.canvas.setFillColorRGB(*fill)
        if edge is not None:
            self._stroke(edge, width_pt, ())

    def _stroke(self, colour: Colour, width_pt: float, dash: tuple[float, ...]) -> None:
        self.canvas.setStrokeColorRGB(*colour)
        self.canvas.setLineWidth(width_pt)
        self.canvas.setDash(list(dash))
