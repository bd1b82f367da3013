"""How days and speeds are written on every page."""

from __future__ import annotations

import datetime as dt

__all__ = ["day_text", "speed_text"]

# Written out here because the month names of strftime follow the laptop's language.
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_text(day: dt.date) -> str:
    """A day as ``4 May 2031``."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def speed_text(speed_deg_s: float) -> str:
    """A set speed as ``60°/s``; standing still is ``held``."""
    return "held" if speed_deg_s == 0 else f"{speed_deg_s:g}°/s"
