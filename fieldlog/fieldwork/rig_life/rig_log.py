"""The rig log: a rig's checks over all sites as series over time, each with its chart, its drift and what to say of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fieldlog.analysis.charts import DEFAULT_RULES
from fieldlog.fieldwork.clearance.start_gate import rig_not_for_use
from fieldlog.fieldwork.results.cover import EventFact
from fieldlog.fieldwork.results.decisions import sign_offs, signed_off_until
from fieldlog.fieldwork.rig_checks.checks import checks_of_rig, event_facts
from fieldlog.fieldwork.rig_life.life import historic_checks
from fieldlog.fieldwork.rig_life.rig_history import (
    Drift,
    HistoricCheck,
    LoadSeries,
    chart_of,
    drift_of,
    last_adjusted,
    load_series,
    next_calibration,
)
from fieldlog.fieldwork.rig_life.rigs import rig_named
from fieldlog.records.review import Review
from fieldlog.records.rig import ADJUSTING_EVENTS, Rig
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.terms import DIRECTIONS
from fieldlog.store.workspace import Workspace

__all__ = ["LEAST_CHECKS", "RigLog", "Series", "rig_log"]

LEAST_CHECKS = 8
"""Limits from fewer checks than this say little, and the run rules with them."""


@dataclass(frozen=True)
class Series:
    """One figure of every check in order of time. ``tolerance`` is in the unit of the values, around zero."""

    key: str
    title: str
    unit: str
    digits: int
    checks: tuple[HistoricCheck, ...]
    values: tuple[float, ...]
    tolerance: float
    chart: dict[str, Any]
    drift: Drift | None

    @property
    def fired(self) -> frozenset[int]:
        """Places (from 0) of the checks at which a run rule fired."""
        return frozenset(signal["index"] - 1 for signal in self.chart["signals"])


@dataclass(frozen=True)
class RigLog:
    """All there is to know of a rig. Times are those of the checks."""

    rig: Rig
    checks: tuple[RigCheck, ...]
    sites: dict[str, str]
    events: tuple[EventFact, ...]
    lines: tuple[Series, ...]
    points: tuple[Series, ...]
    signed: dict[str, list[Review]]
    signed_until: dt.datetime | None
    interval_days: int | None
    due_on: dt.date | None
    not_for_use: str
    rules: tuple[int, ...]

    @property
    def site_count(self) -> int:
        """At how many sites the rig was checked."""
        return len({check.site_id for check in self.checks})

    @property
    def split_at(self) -> dt.datetime | None:
        """When the rig was last adjusted or serviced: lines over time start anew there."""
        return last_adjusted(self.events)

    @property
    def split_by(self) -> str:
        """What it was that splits the lines: ``adjusted``, ``serviced``, or an empty text."""
        latest = [
            event.kind
            for event in self.events
            if event.at == self.split_at and event.kind in ADJUSTING_EVENTS
        ]
        return latest[-1] if latest else ""


def rig_log(
    workspace: Workspace, name_or_id: str, now: dt.datetime, *, rules: Sequence[int] = DEFAULT_RULES
) -> RigLog:
    """Read the log of a rig over all sites; ``rules`` are numbers of ``charts.RUN_RULES``.

    Raises NotFoundError where no rig has this name or id.
    """
    rig = rig_named(workspace, name_or_id).record
    historic = historic_checks(workspace, rig.id)
    events = event_facts(workspace, rig.id)
    split_at = last_adjusted(events)
    interval = next_calibration(historic)
    checks = tuple(checks_of_rig(workspace, rig.id))
    signed = sign_offs(workspace)
    return RigLog(
        rig=rig,
        checks=checks,
        sites={each.id: each.site for each in historic},
        events=tuple(events),
        lines=tuple(_lines(historic, split_at, rules)),
        points=tuple(_points(load_series(historic, split_at, rules))),
        signed=signed,
        signed_until=signed_off_until(checks, signed),
        interval_days=interval.days if interval else None,
        due_on=interval.due_on if interval else None,
        not_for_use=rig_not_for_use(workspace, rig.id, now),
        rules=tuple(rules),
    )


def _lines(
    checks: Sequence[HistoricCheck], split_at: dt.datetime | None, rules: Sequence[int]
) -> list[Series]:
    found = []
    for direction in DIRECTIONS:
        with_line = [check for check in checks if check.judged["torque"]["lines"].get(direction)]
        lines = [check.judged["torque"]["lines"][direction] for check in with_line]
        slopes = [100.0 * (line["slope"] - 1.0) for line in lines]
        zeros = [float(line["intercept_nm"]) for line in lines]
        limits = with_line[-1].judged["tolerance"] if with_line else {}
        for name, unit, values, tolerance in (
            ("slope", "% from 1", slopes, limits.get("torque_pct", 0.0)),
            ("zero", "N·m", zeros, limits.get("torque_floor_nm", 0.0)),
        ):
            if not values:
                continue
            dated = [
                (check.at, value)
                for check, value in zip(with_line, values, strict=True)
                if split_at is None or check.at > split_at
            ]
            found.append(
                Series(
                    key=f"{name}.{direction}",
                    title=f"{name}, {direction}",
                    unit=unit,
                    digits=2,
                    checks=tuple(with_line),
                    values=tuple(values),
                    tolerance=tolerance,
                    chart=chart_of(values, rules),
                    drift=drift_of(dated, tolerance),
                )
            )
    return found


def _points(of_loads: Sequence[LoadSeries]) -> list[Series]:
    several_arms = len({(load.arm_m, load.arm_angle_deg) for load in of_loads}) > 1
    found = []
    for number, load in enumerate(of_loads):
        arm = f" at {load.arm_m:g} m" if several_arms else ""
        found.append(
            Series(
                key=f"point.{number}",
                title=f"{load.mass_kg:g} kg{arm}, {load.direction}",
                unit=f"% of {load.reference_nm:.1f} N·m",
                digits=2,
                checks=load.checks,
                values=load.errors_pct,
                tolerance=load.tolerance_pct,
                chart=load.chart,
                drift=load.drift,
            )
        )
    return found
