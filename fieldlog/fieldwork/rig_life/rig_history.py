"""A rig's life over all its sites: lines, control charts, drift, and when it should be calibrated next."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import groupby
from typing import Any

from fieldlog.analysis.calibration import reference_torque
from fieldlog.analysis.charts import DEFAULT_RULES, ewma, individuals
from fieldlog.analysis.drift import Forecast, forecast
from fieldlog.fieldwork.results.cover import EventFact
from fieldlog.fieldwork.rig_life.rig_interval import as_found_day, suggest_interval
from fieldlog.records.rig_check import DIRECTIONS, CheckEntry, TorquePoint

__all__ = ["EWMA_WEIGHT", "HistoricCheck", "chart_of", "drift_of", "history"]

EWMA_WEIGHT = 0.3
SETTLED_CHECKS = 20
"""Limits from fewer checks than this are marked early."""

_SPLITTING = ("adjusted", "serviced")
_HORIZON_DAYS = 730.0  # a line is not carried further than two years

_Load = tuple[float, float, float, str]


@dataclass(frozen=True)
class HistoricCheck:
    """A check as kept: what was read, and its verdict as ``check_judge.judge`` gave it."""

    id: str
    at: dt.datetime
    site: str
    stage: str
    state: str
    verdict: Mapping[str, Any]
    entry: CheckEntry


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
    split_at = max((event.at for event in events if event.kind in _SPLITTING), default=None)
    lines = {direction: _lines(in_order, direction) for direction in DIRECTIONS}
    suggested = suggest_interval(
        [as_found_day(check.at.date(), check.verdict) for check in in_order if check.state == "as-found"],
        _days_that_ended_well(in_order),
    )
    return {
        "rig": rig,
        "checks": [
            {
                "at": check.at.isoformat(),
                "site": check.site,
                "stage": check.stage,
                "state": check.state,
                "verdict": check.verdict["verdict"],
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
        "points": _points(in_order, split_at, rules),
        "suggested_interval_days": suggested.days if suggested else None,
        "due_on": suggested.due_on.isoformat() if suggested else None,
    }


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
        line = check.verdict["torque"]["lines"].get(direction)
        if line is not None:
            lines.append(
                {
                    "at": check.at.isoformat(),
                    "slope": line["slope"],
                    "intercept_nm": line["intercept_nm"],
                }
            )
    return lines


def _points(
    checks: Sequence[HistoricCheck], split_at: dt.datetime | None, rules: Sequence[int]
) -> list[dict[str, Any]]:
    errors: dict[_Load, list[tuple[HistoricCheck, float]]] = {}
    for check in checks:
        of_check: dict[_Load, list[float]] = {}
        for point, judged in zip(check.entry.torque, check.verdict["torque"]["points"], strict=True):
            of_check.setdefault(_load(point), []).append(judged["error_pct"])
        for load, values in of_check.items():
            errors.setdefault(load, []).append((check, math.fsum(values) / len(values)))
    points = []
    for load, found in sorted(errors.items(), key=lambda item: (item[0][3] != "up", item[0])):
        mass_kg, arm_m, arm_angle_deg, direction = load
        latest = found[-1][0]
        reference = reference_torque(mass_kg + latest.entry.hanger_kg, arm_m, arm_angle_deg)
        points.append(
            {
                "mass_kg": mass_kg,
                "arm_m": arm_m,
                "arm_angle_deg": arm_angle_deg,
                "direction": direction,
                "reference_nm": round(reference, 2),
                "at": [check.at.isoformat() for check, _ in found],
                "errors_pct": [error for _, error in found],
                **chart_of([error for _, error in found], rules),
                "drift": drift_of(
                    [(check.at, error) for check, error in found if split_at is None or check.at > split_at],
                    _tolerance_pct(latest, load),
                ),
            }
        )
    return points


def _load(point: TorquePoint) -> _Load:
    return (point.mass_kg, point.arm_m, point.arm_angle_deg, point.direction)


def _tolerance_pct(check: HistoricCheck, load: _Load) -> float:
    judged = next(
        judged
        for point, judged in zip(check.entry.torque, check.verdict["torque"]["points"], strict=True)
        if _load(point) == load
    )
    return 100.0 * float(judged["tolerance_nm"]) / float(judged["reference_nm"])


def drift_of(found: Sequence[tuple[dt.datetime, float]], tolerance_pct: float) -> dict[str, Any] | None:
    """Return slope and forecast of values over time (any unit, the tolerance's own), dates or None within two years.

    None under two different instants or without a tolerance.
    """
    if len(found) < 2 or tolerance_pct <= 0.0:
        return None
    first, last = found[0][0], found[-1][0]
    days = [(at - first).total_seconds() / 86400.0 for at, _ in found]
    if days[-1] == days[0]:
        return None
    line: Forecast = forecast(days, [error for _, error in found], tolerance=tolerance_pct)

    def date(day: float | None) -> str | None:
        if day is None or not days[0] <= day <= days[-1] + _HORIZON_DAYS:
            return None
        return (first + dt.timedelta(days=day)).astimezone(last.tzinfo).date().isoformat()

    return {
        "slope_pct_per_day": line.slope_per_day,
        "crosses_on": date(line.crossing_day),
        "earliest": date(line.earliest_day),
        "latest": date(line.latest_day),
    }


def _days_that_ended_well(checks: Sequence[HistoricCheck]) -> list[dt.date]:
    days = []
    for day, of_day in groupby(checks, key=lambda check: check.at.date()):
        if list(of_day)[-1].verdict["verdict"] in ("pass", "conditional pass"):
            days.append(day)
    return days
