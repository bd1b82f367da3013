"""Days and moments in words, one way of writing them for rooms, pages and sentences."""

from __future__ import annotations

import datetime as dt

__all__ = ["DATE_ORDERS", "day_text", "moment_text"]

DATE_ORDERS = ("day first", "month first", "year first")
# Written out here because the month names of strftime follow the laptop's language.
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_text(day: dt.date, today: dt.date | None = None, *, order: str = "day first") -> str:
    """Return a day as ``4 May 2031``; one of this year without the year where ``today`` is given.

    ``order`` is one of ``DATE_ORDERS``: ``May 4 2031`` with the month first, ``2031-05-04`` with the year.
    """
    if order == "year first":
        return f"{day.year:04}-{day.month:02}-{day.day:02}"
    month = _MONTHS[day.month - 1]
    words = f"{day.day} {month}" if order == "day first" else f"{month} {day.day}"
    return words if today is not None and day.year == today.year else f"{words} {day.year}"


def moment_text(at: dt.datetime, today: dt.date | None = None, *, order: str = "day first") -> str:
    """Return an instant at its place as ``4 May 2031 13:20``, the day as ``day_text`` gives it."""
    return f"{day_text(at.date(), today, order=order)} {at:%H:%M}"
