"""Arriving: what is seen to before the rig is used, and how long it still has to warm up."""

from __future__ import annotations

import datetime as dt
import functools
from dataclasses import dataclass
from typing import Any, Literal

import orjson

from fieldlog.fieldwork.catalogue import read_shipped
from fieldlog.records.visit import Arrival

__all__ = ["ArrivalItem", "arrival_caution", "arrival_items", "open_items", "warm_up_left_minutes"]


@dataclass(frozen=True)
class ArrivalItem:
    """One thing to see to. ``field`` is the one of the arrival it fills; ``holds``: not done, not ready."""

    field: str
    label: str
    text: str
    kind: Literal["yes_no", "text", "instant", "number"]
    holds: bool
    unit: str = ""


def arrival_items() -> tuple[ArrivalItem, ...]:
    """Return the list in order, as it comes with fieldlog (common practice)."""
    return tuple(ArrivalItem(**item) for item in _shipped()["items"])


def arrival_caution() -> str:
    """Return the caution that belongs beside the list."""
    return str(_shipped()["caution"])


def open_items(arrival: Arrival | None) -> tuple[ArrivalItem, ...]:
    """Return what still has to be seen to: not looked at, or looked at and found wrong."""
    return tuple(
        item
        for item in arrival_items()
        if item.holds and (arrival is None or getattr(arrival, item.field) in (None, False, ""))
    )


def warm_up_left_minutes(arrival: Arrival | None, warm_up_minutes: float, now: dt.datetime) -> float | None:
    """Return the minutes the rig still has to warm up, or ``None`` where nobody noted when it was switched on."""
    if arrival is None or arrival.powered_on_at is None:
        return None
    on_minutes = (now - arrival.powered_on_at).total_seconds() / 60.0
    return max(warm_up_minutes - on_minutes, 0.0)


@functools.cache
def _shipped() -> dict[str, Any]:
    body: dict[str, Any] = orjson.loads(read_shipped("arrival.json"))
    return body
