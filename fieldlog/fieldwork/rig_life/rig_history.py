"""A rig's life over all its sites: lines, control charts, drift, and when it should be calibrated next."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from fieldlog.analysis.calibration import reference_torque
from fieldlog.analysis.charts import DEFAULT_RULES, ewma, individuals
from fieldlog.analysis.drift import Forecast, forecast
from fieldlog.fieldwork.results.cover import EventFact
from fieldlog.fieldwork.rig_life.rig_interval import (
    SuggestedInterval,
    as_found_day,
    good_days,
    suggest_interval,
)
from fieldlog.records.check_entry import CheckEntry, TorquePoint
from fieldlog.records.rig import ADJUSTING_EVENTS
from fieldlog.records.terms import DIRECTIONS, Direction

__all__ = [
    "EWMA_WEIGHT",
    "SETTLED_CHECKS",
    "Drift",
    "HistoricCheck",
    "LoadSeries",
    "chart_of",
    "drift_of",
    "history",
    "last_adjusted",
    "load_series",
    "next_calibration",
]

EWMA_WEIGHT = 0.3
SETTLED_CHECKS = 20
"""Limits from fewer checks than this are marked early."""

_HORIZON_DAYS = 730.0  # a line is not carried further than two years

_Load = tuple[float, float, float, Direction]


@dataclass(frozen=True)
class HistoricCheck:
    """A check as kept: what was read, and how it was judged by ``check_judge.judge``."""

    id: str
    at: dt.datetime
    site: str
    stage: str
    state: str
    judged: Mapping[str, Any]
    entry: CheckEntry


@dataclass(frozen=True)
class Drift:
    """A line through values over time, in their unit a day, and when it leaves the tolerance.

    The dates are None where that is more than two years off, or never.
    """

    slope_per_day: float
    crosses_on: dt.date | None
    earliest: dt.date | None
    latest: dt.date | None


@dataclass(frozen=True)
class LoadSeries:
    """The error at one load (mass, lever and direction) in every check it was hung in, in order of time.

    ``reference_nm`` is nominal (standard gravity), ``errors_pct`` one value a check: the mean of its readings.
    """

    mass_kg: float
    arm_m: float
    arm_angle_deg: float
    direction: Direction
    reference_nm: float
    checks: tuple[HistoricCheck, ...]
    errors_pct: tuple[float, ...]
    tolerance_pct: float
    chart: dict[str, Any]
    drift: Drift | None


def history(
    rig: str,
    checks: Iterable[HistoricCheck],
    events: Iterable[EventFact] = (),
    *,
    rules: Sequence[int] = DEFAULT_RULES,
) -> dict[str, Any]:
    """Return the history of a rig, as ``fieldlog history --json`` prints it.

    Points are grouped by mass, arm, arm angle and direction, one value a check (the mean of its readings).
    ``rules`` choose the run rules (numbers of ``charts.RUN_RULES``). Charts use all values; drift uses the
    checks since the rig was last adjusted or serviced.
    """
    in_order = sorted(checks, key=lambda check: (check.at, check.id))
    lines = {direction: _lines(in_order, direction) for direction in DIRECTIONS}
    suggested = next_calibration(in_order)
    return {
        "rig": rig,
        "checks": [
            {
                "at": check.at.isoformat(),
                "site": check.site,
                "stage": check.stage,
                "state": check.state,
                "verdict": check.judged["verdict"],
            }
            for check in in_order
        ],
        "lines": lines,
        "line_charts": {
            direction: {
                "slope": chart_of([line["slope"] for line in of], rules),
                "intercept_nm": chart_of([line["intercept_nm"] for line in of], rules),
            }
            for direction, of in lines.items()
        },
        "points": [_body(series) for series in load_series(in_order, last_adjusted(events), rules)],
        "suggested_interval_days": suggested.days if suggested else None,
        "due_on": suggested.due_on.isoformat() if suggested else None,
    }


def last_adjusted(events: Iterable[EventFact]) -> dt.datetime | None:
    """Return when a rig was last adjusted or serviced: lines over time start anew there."""
    return max((event.at for event in events if event.kind in ADJUSTING_EVENTS), default=None)


def next_calibration(checks: Sequence[HistoricCheck]) -> SuggestedInterval | None:
    """Return interval and due day (see ``rig_interval.INTERVAL_RULE``) from checks in order of time."""
    return suggest_interval(
        [as_found_day(check.at.date(), check.judged) for check in checks if check.state == "as-found"],
        good_days((check.at, check.judged["verdict"]) for check in checks),
    )


def chart_of(values: Sequence[float], rules: Sequence[int] = DEFAULT_RULES) -> dict[str, Any]:
    """Return ``individuals``, ``ewma`` and ``signals`` of values in order of time; null charts under two."""
    if len(values) < 2:
        return {"individuals": None, "ewma": None, "signals": []}
    chart = individuals(values, rules=rules)
    average = ewma(values, target=chart.centre, sigma=chart.sigma, weight=EWMA_WEIGHT)
    return {
        "individuals": {
            "centre": chart.centre,
            "lower": chart.lower,
            "upper": chart.upper,
            "mean_moving_range": chart.mean_moving_range,
            "range_upper": chart.range_upper,
            "early": len(values) < SETTLED_CHECKS,
        },
        "ewma": {"values": list(average.ewma), "lower": average.lower, "upper": average.upper},
        "signals": [asdict(signal) for signal in chart.signals],
    }


def _lines(checks: Sequence[HistoricCheck], direction: str) -> list[dict[str, Any]]:
    lines = []
    for check in checks:
        line = check.judged["torque"]["lines"].get(direction)
        if line is not None:
            lines.append(
                {
                    "at": check.at.isoformat(),
                    "slope": line["slope"],
                    "intercept_nm": line["intercept_nm"],
                }
            )
    return lines


def load_series(
    checks: Sequence[HistoricCheck], since: dt.datetime | None, rules: Sequence[int] = DEFAULT_RULES
) -> list[LoadSeries]:
    """Return one series a load, ``up`` first, then by mass, from checks in order of time.

    Charts use all values, the drift those after ``since``.
    """
    found: dict[_Load, list[tuple[HistoricCheck, float]]] = {}
    for check in checks:
        of_check: dict[_Load, list[float]] = {}
        for point, judged in zip(check.entry.torque, check.judged["torque"]["points"], strict=True):
            of_check.setdefault(_load(point), []).append(judged["error_pct"])
        for load, values in of_check.items():
            found.setdefault(load, []).append((check, math.fsum(values) / len(values)))
    in_order = sorted(found.items(), key=lambda item: (item[0][3] != "up", item[0]))
    return [_series_of(load, errors, since, rules) for load, errors in in_order]


def _series_of(
    load: _Load,
    errors: Sequence[tuple[HistoricCheck, float]],
    since: dt.datetime | None,
    rules: Sequence[int],
) -> LoadSeries:
    mass_kg, arm_m, arm_angle_deg, direction = load
    latest = errors[-1][0]
    tolerance_pct = _tolerance_pct(latest, load)
    values = tuple(error for _, error in errors)
    return LoadSeries(
        mass_kg=mass_kg,
        arm_m=arm_m,
        arm_angle_deg=arm_angle_deg,
        direction=direction,
        reference_nm=round(reference_torque(mass_kg + latest.entry.hanger_kg, arm_m, arm_angle_deg), 2),
        checks=tuple(check for check, _ in errors),
        errors_pct=values,
        tolerance_pct=tolerance_pct,
        chart=chart_of(values, rules),
        drift=drift_of(
            [(check.at, error) for check, error in errors if since is None or check.at > since], tolerance_pct
        ),
    )


def _body(series: LoadSeries) -> dict[str, Any]:
    return {
        "mass_kg": series.mass_kg,
        "arm_m": series.arm_m,
        "arm_angle_deg": series.arm_angle_deg,
        "direction": series.direction,
        "reference_nm": series.reference_nm,
        "at": [check.at.isoformat() for check in series.checks],
        "errors_pct": list(series.errors_pct),
        **series.chart,
        "drift": _drift_body(series.drift),
    }


def _drift_body(drift: Drift | None) -> dict[str, Any] | None:
    if drift is None:
        return None
    days = {"crosses_on": drift.crosses_on, "earliest": drift.earliest, "latest": drift.latest}
    return {
        "slope_pct_per_day": drift.slope_per_day,
        **{name: day.isoformat() if day else None for name, day in days.items()},
    }


def _load(point: TorquePoint) -> _Load:
    return (point.mass_kg, point.arm_m, point.arm_angle_deg, point.direction)


def _tolerance_pct(check: HistoricCheck, load: _Load) -> float:
    judged = next(
        judged
        for point, judged in zip(check.entry.torque, check.judged["torque"]["points"], strict=True)
        if _load(point) == load
    )
    return 100.0 * float(judged["tolerance_nm"]) / float(judged["reference_nm"])


def drift_of(found: Sequence[tuple[dt.datetime, float]], tolerance: float) -> Drift | None:
    """Return the line through values over time, in order, and when it leaves ±``tolerance`` (in their unit).

    None under two different instants or without a tolerance.
    """
    if len(found) < 2 or tolerance <= 0.0:
        return None
    first, last = found[0][0], found[-1][0]
    days = [(at - first).total_seconds() / 86400.0 for at, _ in found]
    if days[-1] == days[0]:
        return None
    line: Forecast = forecast(days, [value for _, value in found], tolerance=tolerance)

    def date(day: float | None) -> dt.date | None:
        if day is None or not days[0] <= day <= days[-1] + _HORIZON_DAYS:
            return None
        return (first + dt.timedelta(days=day)).astimezone(last.tzinfo).date()

    return Drift(line.slope_per_day, date(line.crossing_day), date(line.earliest_day), date(line.latest_day))
