"""What a series of the rig log says, in sentences with their dates: rules that fired, drift, limits, events."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence

from fieldlog.date_words import day_text
from fieldlog.fieldwork.rig_life.rig_history import SETTLED_CHECKS
from fieldlog.fieldwork.rig_life.rig_log import LEAST_CHECKS, RigLog, Series

__all__ = ["due_words", "limits_words", "series_sentences", "sign_off_words"]

_SayDay = Callable[[dt.date, dt.date], str]


def series_sentences(log: RigLog, series: Series, today: dt.date, say_day: _SayDay = day_text) -> list[str]:
    """Return the sentences of one series: the latest of each rule that fired, the drift, and since when."""
    return [*_rules(series, today, say_day), _drift(log, series, today, say_day)]


def limits_words(series: Series) -> str:
    """Return how many checks the limits rest on, and whether they are early."""
    count = len(series.values)
    if series.chart["individuals"] is None:
        return "one check: no limits yet"
    if count < LEAST_CHECKS:
        return f"limits very early, from {count} checks only"
    if count < SETTLED_CHECKS:
        return f"early limits, from {count} checks"
    return f"limits from {count} checks"


def due_words(log: RigLog, today: dt.date, say_day: _SayDay = day_text) -> str:
    """Return the suggested interval and when the next calibration is due."""
    if log.due_on is None or log.interval_days is None:
        return "no as-found check yet, so no interval"
    days = (log.due_on - today).days
    when = "today" if days == 0 else f"overdue by {-days} days" if days < 0 else f"in {days} days"
    return f"calibration due {say_day(log.due_on, today)}, {when} (interval {log.interval_days} days)"


def sign_off_words(log: RigLog, today: dt.date, say_day: _SayDay = day_text) -> str:
    """Return up to when every check is signed off."""
    if not log.checks:
        return "no check yet"
    if log.signed_until is None:
        return "not signed off"
    return f"signed off to {say_day(log.signed_until.date(), today)}"


def _rules(series: Series, today: dt.date, say_day: _SayDay) -> list[str]:
    latest = {signal["rule"]: signal for signal in series.chart["signals"]}
    often = [signal["rule"] for signal in series.chart["signals"]]
    found = []
    for rule, signal in sorted(latest.items(), key=lambda pair: -pair[1]["index"]):
        place = signal["index"] - 1
        check = series.checks[place]
        more = often.count(rule) - 1
        times = f", {more} time{'s' if more > 1 else ''} before" if more else ""
        since = _since(series, place, today, say_day) if rule == 4 else ""
        found.append(f"{say_day(check.at.date(), today)}, {check.site}: {signal['text']}{since}{times}")
    return found


def _since(series: Series, place: int, today: dt.date, say_day: _SayDay) -> str:
    """From when on the values lay on one side of the centre."""
    centre = series.chart["individuals"]["centre"]
    above = series.values[place] > centre
    first = place
    while first > 0 and (series.values[first - 1] > centre) == above and series.values[first - 1] != centre:
        first -= 1
    return f" since {say_day(series.checks[first].at.date(), today)}"


def _drift(log: RigLog, series: Series, today: dt.date, say_day: _SayDay) -> str:
    unit = series.unit.split()[0]
    split_at = log.split_at
    used: Sequence[dt.datetime] = [
        check.at for check in series.checks if split_at is None or check.at > split_at
    ]
    since = f" since {say_day(used[0].date(), today)}" if used else ""
    if split_at is not None and used:
        since = f" since {log.split_by} on {say_day(split_at.date(), today)}"
    if series.drift is None:
        return f"no drift line yet: {len(used)} check{'s' if len(used) != 1 else ''}{since}"
    drift = series.drift
    said = f"drift {drift.slope_per_day:+.4f} {unit} a day{since} ({len(used)} checks)".replace("-", "−")
    if len(used) < 3:
        return f"{said}; two checks make no forecast"
    if drift.crosses_on is None:
        at_worst = f", at the earliest {say_day(drift.earliest, today)}" if drift.earliest else ""
        return f"{said} → tolerance not within two years{at_worst}"
    low = say_day(drift.earliest, today) if drift.earliest else "any day"
    high = say_day(drift.latest, today) if drift.latest else "not within two years"
    return f"{said} → tolerance on {say_day(drift.crosses_on, today)} (95 %: {low} – {high})"
