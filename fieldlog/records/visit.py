"""A visit: one day at one place."""

from __future__ import annotations

import datetime as dt
from typing import ClassVar

from pydantic import Field

from fieldlog.records.base import Home, Instant, Part, Record, derived_id

__all__ = ["Arrival", "Visit", "visit_id"]


class Arrival(Part):
    """What was seen to before the rig was used; ``None`` means not looked at yet."""

    levelled: bool | None = None
    anchored: bool | None = None
    cables: bool | None = None
    stop_switch_athlete: bool | None = None
    stop_switch_tester: bool | None = None
    first_aid: str = Field(default="", max_length=200)
    powered_on_at: Instant | None = None
    hall_temperature_c: float | None = Field(default=None, ge=-40, le=60)


class Visit(Record):
    """One day at a site. The id follows from site and date, so two laptops name the same visit alike."""

    table: ClassVar[str] = "visits"
    home: ClassVar[Home] = "site"

    site_id: str
    date: dt.date
    rig_id: str | None = None
    arrival: Arrival | None = None
    handed_over_at: Instant | None = None
    note: str = Field(default="", max_length=2000)


def visit_id(site_id: str, date: dt.date) -> str:
    """Id of the visit to ``site_id`` on ``date``: the same on every laptop."""
    return derived_id("visit", site_id, date.isoformat())
