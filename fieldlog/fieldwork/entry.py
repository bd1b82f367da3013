"""What a person types or brings: numbers with comma or point and a unit of their own, days, notes, tables as text."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Mapping
from types import MappingProxyType

from fieldlog.analysis.units import (
    DEG_PER_UNIT,
    DEG_S_PER_UNIT,
    KG_PER_UNIT,
    M_PER_UNIT,
    NM_PER_UNIT,
    S_PER_UNIT,
)
from fieldlog.errors import InputError

__all__ = [
    "LONGEST_NOTE",
    "SEPARATORS",
    "checked_note",
    "in_unit",
    "parse_day",
    "parse_number",
    "parse_quantity",
    "parse_words",
    "separator_of",
    "unit_words",
]

LONGEST_NOTE = 2000
SEPARATORS = (";", "\t", ",")

# Quantity → unit as typed → how many of the quantity's base unit one of it is.
_FACTORS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "length": M_PER_UNIT,
        "mass": KG_PER_UNIT,
        "torque": NM_PER_UNIT,
        "angle": DEG_PER_UNIT,
        "speed": {unit.replace("/", "_"): factor for unit, factor in DEG_S_PER_UNIT.items()},
        "time": {**S_PER_UNIT, "min": 60.0, "h": 3600.0},
        "temperature": {"c": 1.0, "f": 1 / 1.8},
        "hole": {"hole": 1.0},
        "mark": {"mark": 1.0},
    }
)
_QUANTITY_OF = {unit: quantity for quantity, units in _FACTORS.items() for unit in units}

# How units are written by people, after blanks and dots are gone and letters are small.
_SPELLINGS: Mapping[str, str] = MappingProxyType(
    {
        '"': "in",
        "''": "in",
        "inch": "in",
        "inches": "in",
        "'": "ft",
        "foot": "ft",
        "feet": "ft",
        "lbs": "lb",
        "pound": "lb",
        "pounds": "lb",
        "kilo": "kg",
        "kilos": "kg",
        "n*m": "nm",
        "lbfft": "lbf_ft",
        "ftlbf": "lbf_ft",
        "lbf*ft": "lbf_ft",
        "ft*lbf": "lbf_ft",
        "lbfin": "lbf_in",
        "inlbf": "lbf_in",
        "lbf*in": "lbf_in",
        "in*lbf": "lbf_in",
        "kgfm": "kgf_m",
        "kgf*m": "kgf_m",
        "kpm": "kgf_m",
        "°": "deg",
        "degree": "deg",
        "degrees": "deg",
        "°/s": "deg_s",
        "deg/s": "deg_s",
        "rad/s": "rad_s",
        "sec": "s",
        "minute": "min",
        "minutes": "min",
        "hour": "h",
        "hours": "h",
        "°c": "c",
        "°f": "f",
        "holes": "hole",
        "marks": "mark",
    }
)
_WORDS = {
    "nm": "N·m",
    "lbf_ft": "lbf·ft",
    "lbf_in": "lbf·in",
    "kgf_m": "kgf·m",
    "deg": "°",
    "deg_s": "°/s",
    "rad_s": "rad/s",
    "c": "°C",
    "f": "°F",
}
_TYPED = re.compile(r"(?P<number>[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+))(?P<unit>\D.*)?", re.DOTALL)
_LONGEST = 40


def parse_day(text: str, what: str = "") -> dt.date:
    """Return the day a person typed, as ISO 8601 writes it. Raises InputError, with ``what`` first, for no day."""
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        named = f"{what}: " if what else ""
        raise InputError(f"{named}{_shown(text)} is no date", "write it as 2031-05-04") from None


def parse_number(text: str, what: str = "the value") -> float:
    """Return the number a person typed; a comma is a decimal sign.

    Raises InputError where the text is no plain number (two decimal signs, a unit, nothing at all).
    """
    number, unit = _split(text, what)
    if unit:
        raise InputError(
            f"{what}: {_shown(text)} has a unit where a bare number is wanted", "type the number"
        )
    return number


def parse_quantity(text: str, unit: str, what: str = "the value") -> float:
    """Return what a person typed in ``unit``; a bare number is in that unit already.

    ``unit`` is one of those in :func:`unit_words`. ``35mm`` wanted in ``cm`` is 3.5, ``55lbf.ft`` wanted in
    ``nm`` is 74.57. The result is rounded to nine significant digits, so that 35 mm is 3.5 cm and not its
    neighbour. Raises InputError where the unit is not known or measures something else.
    """
    quantity = _QUANTITY_OF[unit]
    number, typed = _split(text, what)
    if not typed:
        return number
    name = _unit_named(typed)
    if name is None or _QUANTITY_OF.get(name) != quantity:
        known = ", ".join(_WORDS.get(each, each) for each in _FACTORS[quantity])
        reason = "is not known" if name is None else f"does not measure {quantity}"
        raise InputError(
            f"{what}: the unit {_shown(typed)} {reason} here",
            f"use {known}, or no unit for {unit_words(unit)}",
        )
    if name != unit and quantity == "temperature":
        # The two temperature scales have different zeros, so a factor is not enough.
        return round((number - 32.0) / 1.8 if unit == "c" else number * 1.8 + 32.0, 6)
    return float(f"{number * _FACTORS[quantity][name] / _FACTORS[quantity][unit]:.9g}")


def parse_words(text: str, what: str) -> str:
    """Return what a person typed without outer blanks. Raises InputError where that is nothing."""
    words = text.strip()
    if not words:
        raise InputError(f"{what}: nothing was typed", "type it; esc goes back")
    return words


def in_unit(value: float, unit: str, wanted: str) -> float:
    """Return ``value`` of ``unit`` in the ``wanted`` unit of the same quantity (not of temperature), unrounded."""
    factors = _FACTORS[_QUANTITY_OF[unit]]
    return value * factors[unit] / factors[wanted]


def unit_words(unit: str) -> str:
    """Return how ``unit`` is written for people: ``nm`` is N·m, ``deg`` is °."""
    return _WORDS.get(unit, unit)


def _split(text: str, what: str) -> tuple[float, str]:
    cleaned = text.strip().replace("−", "-")
    if not cleaned:
        raise InputError(f"{what}: nothing was typed", "type a number")
    found = _TYPED.fullmatch(cleaned) if len(cleaned) <= _LONGEST else None
    if found is None:
        raise InputError(
            f"{what}: {_shown(text)} is no number", "type digits, with a comma or a point for decimals"
        )
    unit = (found["unit"] or "").strip()
    if re.match(r"[.,0-9]", unit):
        raise InputError(
            f"{what}: {_shown(text)} has two decimal signs", "leave out the sign between the thousands"
        )
    return float(found["number"].replace(",", ".")), unit


def _unit_named(typed: str) -> str | None:
    small = typed.casefold().replace("·", "*").replace("⋅", "*").replace("×", "*")
    for candidate in (small, re.sub(r"[\s.*_-]", "", small), re.sub(r"[\s._-]", "*", small)):
        name = _SPELLINGS.get(candidate, candidate)
        if name in _QUANTITY_OF:
            return name
    return None


def _shown(text: str) -> str:
    cut = text.strip()
    return repr(cut if len(cut) <= _LONGEST else cut[:_LONGEST] + "…")


def checked_note(note: str) -> str:
    """Return a note without outer blanks. Raises InputError for one longer than a note may be."""
    note = note.strip()
    if len(note) > LONGEST_NOTE:
        raise InputError(f"a note of {len(note)} characters", f"a note has up to {LONGEST_NOTE}")
    return note


def separator_of(header: str, wanted: Collection[str] = ()) -> str:
    """Return what separates the columns of a text table, told from its line of names.

    It is the mark that gives the most of the ``wanted`` names, then the most columns. Quotes that make sense
    with one mark make none with another, so they decide nothing.
    """

    def likeness(mark: str) -> tuple[int, int]:
        cells = [cell.strip().strip('"').strip() for cell in header.split(mark)]
        return len({*wanted} & {*cells}), len(cells)

    return max(SEPARATORS, key=likeness)
