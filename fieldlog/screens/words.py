"""Dates, numbers and verdicts as a person reads them; the state is always in the words, colour only helps."""

from __future__ import annotations

import datetime as dt
import re
from contextvars import ContextVar
from dataclasses import dataclass

from fieldlog.date_words import day_text, moment_text
from fieldlog.screens.table import Span

__all__ = [
    "DECIMAL_SIGNS",
    "MASS_UNITS",
    "MINUS",
    "SHOWN",
    "TORQUE_UNITS",
    "Shown",
    "day_words",
    "measured",
    "moment_words",
    "number",
    "rig_words",
    "sentence",
    "signed",
    "unit_shown",
    "verdict_span",
]

MINUS = "−"
DECIMAL_SIGNS = (".", ",")
# As shown → as the entry of quantities calls it.
TORQUE_UNITS = {"N·m": "nm", "lbf·ft": "lbf_ft"}
MASS_UNITS = {"kg": "kg", "lb": "lb"}


@dataclass(frozen=True)
class Shown:
    """How numbers and dates are shown on this laptop; what is stored stays in SI units."""

    decimal_sign: str = "."
    date_order: str = "day first"
    torque_unit: str = "N·m"
    mass_unit: str = "kg"


# Set by the application for everything that runs in it; text printed without one is in SI units.
SHOWN: ContextVar[Shown] = ContextVar("shown", default=Shown())  # noqa: B039 (frozen)
_POINT = re.compile(r"(?<=\d)\.(?=\d)")
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
    return day_text(date, today, order=SHOWN.get().date_order)


def moment_words(at: dt.datetime | dt.date, today: dt.date | None = None) -> str:
    """Return an instant or a date in full, such as ``4 May 2031 13:20``; this year's without the year."""
    order = SHOWN.get().date_order
    if isinstance(at, dt.datetime):
        return moment_text(at, today, order=order)
    return day_text(at, today, order=order)


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
    text = text.replace("-", MINUS).replace(".", SHOWN.get().decimal_sign)
    return f"{text}{' ' + unit if unit else ''}"


def sentence(text: str) -> str:
    """Return a sentence whose numbers were written with a point, with the decimal sign of this laptop."""
    return _POINT.sub(",", text) if SHOWN.get().decimal_sign == "," else text


def unit_shown(unit: str) -> str:
    """Return the unit in which results of ``unit`` (N·m, kg or another) are shown on this laptop."""
    return {"N·m": SHOWN.get().torque_unit, "kg": SHOWN.get().mass_unit}.get(unit, unit)


def measured(value: float | None, digits: int, unit: str, *, with_unit: bool = True) -> str:
    """Return a result of ``unit`` in the unit it is shown in.

    For results only: what is read off a rig, a scale or a mass is shown as it stands there.
    """
    wanted = unit_shown(unit)
    if value is not None and wanted != unit:
        from fieldlog.fieldwork.entry import in_unit

        names = TORQUE_UNITS | MASS_UNITS
        value = in_unit(value, names[unit], names[wanted])
    return number(value, digits, wanted if with_unit else "")


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
