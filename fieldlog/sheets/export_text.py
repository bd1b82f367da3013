"""Making text cells harmless for spreadsheets and terminals; numbers are never touched."""

from __future__ import annotations

import math
import unicodedata
from typing import Any

__all__ = ["harmless", "plain_value", "without_controls"]

# A spreadsheet takes a cell that begins so for a formula; the wide forms are folded by some of them.
FORMULA_SIGNS = frozenset("=+-@＝＋－＠")


def without_controls(text: str) -> str:
    """Return ``text`` with control characters and half characters shown as blanks."""
    return "".join(" " if unicodedata.category(letter) in ("Cc", "Cs") else letter for letter in text)


def harmless(text: str) -> str:
    """Return ``text`` so that a spreadsheet reads it as text: led by an apostrophe where it looks like a formula."""
    cleaned = without_controls(text)
    begins = cleaned.lstrip(" ")[:1]
    return f"'{cleaned}" if begins and begins in FORMULA_SIGNS else cleaned


def plain_value(value: Any) -> Any:
    """Return ``value`` with NaN and infinities as None; everything else as it is."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
