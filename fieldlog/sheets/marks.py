"""Marks for quality and cover: shapes that differ in form, so that grey print and any eye can tell them."""

from __future__ import annotations

from fieldlog.sheets.content import Mark, MarkFamily
from fieldlog.sheets.pen import BLUE, INK, ORANGE, WHITE, Pen

__all__ = ["MEANINGS", "draw_mark"]

# Quality marks are round, cover marks are square; the more there is to say, the more is filled or struck.
MEANINGS: dict[tuple[MarkFamily, str], str] = {
    ("quality", "good"): "nothing to remark",
    ("quality", "note"): "a remark, figures hold",
    ("quality", "warning"): "read with care",
    ("quality", "stop"): "not usable",
    ("cover", "confirmed"): "rig passed before and after",
    ("cover", "provisional"): "rig passed before, check after still to come",
    ("cover", "unverified"): "no valid rig check",
    ("cover", "suspect"): "rig failed its next check",
}


def draw_mark(pen: Pen, x: float, y: float, size_pt: float, mark: Mark) -> None:
    """Draw a mark ``size_pt`` wide whose lower left corner is ``(x, y)``."""
    if mark.family == "quality":
        _round(pen, x + size_pt / 2, y + size_pt / 2, size_pt * 0.44, mark.word)
    else:
        _square(pen, x + size_pt * 0.08, y + size_pt * 0.08, size_pt * 0.84, mark.word)


def _round(pen: Pen, x: float, y: float, radius: float, word: str) -> None:
    if word == "good":
        pen.dot(x, y, radius, edge=BLUE, width_pt=0.8)
    elif word == "note":
        pen.dot(x, y, radius, edge=BLUE, width_pt=0.8)
        pen.dot(x, y, radius * 0.4, fill=BLUE)
    elif word == "warning":
        pen.dot(x, y, radius, fill=ORANGE, edge=INK, width_pt=0.5)
        pen.line([(x, y + radius * 0.62), (x, y - radius * 0.1)], width_pt=0.9)
        pen.dot(x, y - radius * 0.5, radius * 0.14, fill=INK)
    else:
        pen.dot(x, y, radius, fill=INK)
        pen.line([(x - radius * 0.6, y), (x + radius * 0.6, y)], colour=WHITE, width_pt=1.1)


def _square(pen: Pen, x: float, y: float, side: float, word: str) -> None:
    if word == "confirmed":
        pen.box(x, y, side, side, fill=BLUE, edge=BLUE)
    elif word == "provisional":
        pen.box(x, y, side, side, edge=BLUE, width_pt=0.8)
        pen.shape([(x, y), (x + side, y), (x, y + side)], fill=BLUE)
    elif word == "suspect":
        pen.box(x, y, side, side, fill=ORANGE, edge=INK, width_pt=0.7)
        pen.line([(x, y), (x + side, y + side)], width_pt=0.9)
        pen.line([(x, y + side), (x + side, y)], width_pt=0.9)
    else:
        pen.box(x, y, side, side, edge=INK, width_pt=0.7)
