"""Dates, numbers and verdicts as a person reads them; the state is always in the words, colour only helps."""

from __future__ import annotations

import datetime as dt

from fieldlog.screens.table import Span

__all__ = ["MINUS", "day_words", "number", "rig_words", "signed", "verdict_span"]

MINUS = "−"
_GOOD = frozenset({"pass", "go", "confirmed", "good", "done"})
_MIDDLING = frozenset(
    {"conditional pass", "provisional", "limits", "note", "warning", "unverified", "undecidable", "waiting"}
)
_BAD = frozenset({"fail", "conditional fail", "held", "suspect", "stop", "overdue"})
_MARKS = {"good": "✓", "warn": "~", "bad": "✗"}


def day_words(date: dt.date | None, today: dt.date) -> str:
    """Return a date the short way: ``today``, ``4 May``, ``4 May 2030`` in another year, ``–`` for none."""
    if date is None:
        return "–"
    if date == today:
        return "today"
    words = f"{date.day} {date:%b}"
    return words if date.year == today.year else f"{words} {date.year}"


def rig_words(name: str) -> str:
    """Return a rig by name, called a rig where the name does not say so already."""
    return name if name.casefold().startswith("rig") else f"rig {name}"


def number(value: float | None, digits: int = 1, unit: str = "") -> str:
    """Return a number with its unit, or a dash where there is none."""
    if value is None:
        return "–"
    text = f"{value:.{digits}f}"
    if float(text) == 0:
        text = text.removeprefix("-")
    return f"{text.replace('-', MINUS)}{' ' + unit if unit else ''}"


def signed(value: float | None, digits: int = 2, unit: str = "") -> str:
    """Return a number that always shows its sign."""
    if value is None:
        return "–"
    text = number(value, digits, unit)
    return text if value < 0 and text.startswith(MINUS) else f"+{text}"


def verdict_span(word: str, *, mark: bool = True) -> Span:
    """Return a verdict or state in its words with a mark before it, in the colour that goes with it.

    What follows a comma, such as ``suspect, released by`` somebody, is part of the words only.
    """
    state = word.partition(",")[0]
    role = "good" if state in _GOOD else "bad" if state in _BAD else "warn" if state in _MIDDLING else ""
    return Span(f"{_MARKS[role]} {word}" if mark and role else word, role)
