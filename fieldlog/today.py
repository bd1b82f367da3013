"""Today's date, and now: from the clock, unless FIELDLOG_TODAY sets the day."""

from __future__ import annotations

import datetime as dt
import os

from fieldlog.errors import InputError

__all__ = ["now", "today"]


def today() -> dt.date:
    """Return the day in FIELDLOG_TODAY, else the clock's. Raises InputError where the variable is no date."""
    given = os.environ.get("FIELDLOG_TODAY", "").strip()
    if not given:
        return dt.datetime.now().astimezone().date()
    try:
        return dt.date.fromisoformat(given)
    except ValueError:
        raise InputError(
            f"FIELDLOG_TODAY: {given[:40]!r} is no date", "write it as 2031-05-04 or unset it"
        ) from None


def now() -> dt.datetime:
    """Return this moment with the machine's offset, on the day that ``today`` gives."""
    moment = dt.datetime.now().astimezone().replace(microsecond=0)
    return dt.datetime.combine(today(), moment.timetz())
