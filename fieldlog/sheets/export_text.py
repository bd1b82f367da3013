"""Making text cells harmless for spreadsheets and terminals; numbers are never touched."""

from __future__ import annotations

import math
import unicodedata
from typing import Any

__all__ = ["harmless", "plain_value", "without_controls"]

# A spreadsheet takes a cell that begins so for a formula; the wide forms are folded by some of them.
FORMULA_SIGNS = frozenset("=+-@＝＋－＠\t\r\n")


def without_controls(text: str) -> str:
    """Return ``text`` with control characters and half characters shown as blanks."""
    return "".join(" " if unicodedata.category(letter) in ("Cc", "Cs") else letter for letter in text)


def harmless(text: str) -> str:
    """Return ``text`` so that a spreadsheet reads it as text: led by an apostrophe where it looks like a formula."""
    begins = text.lstrip(" ")[:1]
    cleaned = without_controls(text)
    return f"'{cleaned}" if begins in FORMULA_SIGNS and begins else cleaned


def plain_value(value: Any) -> Any:
    """Return ``value`` with NaN and infinities as None; everything else as it is."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
