"""When a rig should be calibrated next: a staircase over its as-found checks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from fieldlog.records.rig_check import GOOD_VERDICTS

__all__ = [
    "INTERVAL_RULE",
    "AsFoundDay",
    "SuggestedInterval",
    "as_found_day",
    "good_days",
    "suggest_interval",
]

FIRST_INTERVAL_DAYS = 180
SHORTEST_INTERVAL_DAYS = 14
LONGEST_INTERVAL_DAYS = 365
_LENGTHEN, _SHORTEN = 1.5, 0.5
_COMFORTABLE_SHARE = 0.8
_DAYS_IN_A_ROW = 3

INTERVAL_RULE = (
    f"staircase (ILAC-G24/OIML D 10:2022, method 1, steps common practice): starts at {FIRST_INTERVAL_DAYS} days; "
    f"a day with a failed as-found check halves it; {_DAYS_IN_A_ROW} days in a row whose as-found errors stay "
    f"within {100 * _COMFORTABLE_SHARE:.0f} % of tolerance, spread over at least the interval, lengthen it by half; "
    f"from {SHORTEST_INTERVAL_DAYS} to {LONGEST_INTERVAL_DAYS} days; due that long after the last day that passed, "
    "at once after a failure nothing has passed since"
)


@dataclass(frozen=True)
class AsFoundDay:
    """One as-found check: its day, whether it was good, and its largest share of a tolerance."""

    day: dt.date
    good: bool
    largest_share: float


@dataclass(frozen=True)
class SuggestedInterval:
    """Days until the next calibration, and the day it is due."""

    days: int
    due_on: dt.date


def as_found_day(day: dt.date, judged: Mapping[str, Any]) -> AsFoundDay:
    """Return what the staircase needs of one as-found check from its verdict."""
    shares = (
        abs(point["error_nm"]) / point["tolerance_nm"] if point["tolerance_nm"] else 1.0
        for point in judged["torque"]["points"]
    )
    return AsFoundDay(day, judged["verdict"] in GOOD_VERDICTS, max(shares))


def good_days(checks: Iterable[tuple[dt.datetime, str]]) -> list[dt.date]:
    """Return the days whose last check was good; ``checks`` are (at, verdict) in order of time, as-left ones too."""
    last = {at.date(): verdict for at, verdict in checks}
    return [day for day, verdict in last.items() if verdict in GOOD_VERDICTS]


def suggest_interval(
    as_found: Sequence[AsFoundDay], passed_on: Sequence[dt.date]
) -> SuggestedInterval | None:
    """Return the interval by ``INTERVAL_RULE``; None without any as-found check.

    ``as_found`` in order of time; ``passed_on`` as ``good_days`` gives them.
    """
    if not as_found:
        return None
    interval = float(FIRST_INTERVAL_DAYS)
    in_a_row: list[dt.date] = []
    for day, checks in groupby(as_found, key=lambda check: check.day):
        of_day = list(checks)
        if not all(check.good for check in of_day):
            interval, in_a_row = interval * _SHORTEN, []
        elif all(check.largest_share <= _COMFORTABLE_SHARE for check in of_day):
            in_a_row.append(day)
            if len(in_a_row) >= _DAYS_IN_A_ROW and (day - in_a_row[0]).days >= interval:
                interval, in_a_row = interval * _LENGTHEN, [day]
        else:
            in_a_row = []
        interval = min(max(interval, SHORTEST_INTERVAL_DAYS), LONGEST_INTERVAL_DAYS)
    days = round(interval)
    latest = as_found[-1].day
    last_pass = max(passed_on, default=None)
    failed_since = not passed_on or any(
        not check.good and last_pass is not None and check.day > last_pass for check in as_found
    )
    due_on = latest if failed_since or last_pass is None else last_pass + dt.timedelta(days=days)
    return SuggestedInterval(days, due_on)
