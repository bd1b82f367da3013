"""Typing what was seen to on arrival, point by point."""

from __future__ import annotations

import datetime as dt
import re

from pydantic import ValidationError

from fieldlog.errors import InputError
from fieldlog.fieldwork.entry import parse_quantity
from fieldlog.fieldwork.visit.arrival import ArrivalItem
from fieldlog.records.base import first_fault
from fieldlog.records.visit import Arrival

__all__ = ["read_clock_time", "with_answer", "with_confirmed"]

_TIME = re.compile(r"([0-9]{1,2})[:.,h]?([0-9]{2})")


def with_confirmed(arrival: Arrival | None, field: str) -> Arrival:
    """Return the arrival with a point confirmed, or open again where it was confirmed."""
    arrival = arrival or Arrival()
    return arrival.model_copy(update={field: None if getattr(arrival, field) else True})


def with_answer(
    arrival: Arrival | None, item: ArrivalItem, text: str, now: dt.datetime, date: dt.date
) -> Arrival:
    """Return the arrival with what was typed at a point; nothing typed takes the answer back.

    Raises InputError where it is no time or no temperature.
    """
    arrival = arrival or Arrival()
    value: object
    if not text.strip():
        value = "" if item.kind == "text" else None
    elif item.kind == "instant":
        value = read_clock_time(text, now, date)
    elif item.kind == "number":
        value = parse_quantity(text, "c", item.label)
    else:
        value = text.strip()
    try:
        return Arrival.model_validate({**arrival.model_dump(), item.field: value})
    except ValidationError as error:
        raise InputError(first_fault(error), "type it again") from None


def read_clock_time(text: str, now: dt.datetime, date: dt.date) -> dt.datetime:
    """Return the moment of ``date`` that was typed as ``8:14``, ``0814`` or ``8.14``, in the offset of ``now``.

    Raises InputError where it is no time of the day.
    """
    found = _TIME.fullmatch(text.strip())
    if not found or int(found[1]) > 23 or int(found[2]) > 59:
        raise InputError(f"{text.strip()!r} is no time of the day", "type hours and minutes, such as 8:14")
    return dt.datetime.combine(date, dt.time(int(found[1]), int(found[2])), now.tzinfo)
