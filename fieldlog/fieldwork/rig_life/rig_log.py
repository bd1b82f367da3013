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
from fieldlog.fieldwork.rig_checks.checks import checks_of_rig, event_facts, historic_checks
from fieldlog.fieldwork.rig_life.rig_history import HistoricCheck, chart_of, drift_of, history
from fieldlog.fieldwork.rig_life.rigs import rig_named
from fieldlog.records.judged_check import RigCheck
from fieldlog.records.review import Review
from fieldlog.records.rig import Rig
from fieldlog.records.rig_check import DIRECTIONS
from fieldlog.store.workspace import Workspace

__all__ = ["LEAST_CHECKS", "SETTLED_CHECKS", "RigLog", "Series", "rig_log"]

LEAST_CHECKS = 8
"""Limits from fewer checks than this say little, and the run rules with them."""
SETTLED_CHECKS = 20
"""Limits from fewer checks than this are marked early."""
_SPLITTING = ("adjusted", "serviced")


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
    drift: dict[str, Any] | None

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
        return max((event.at for event in self.events if event.kind in _SPLITTING), default=None)

    @property
    def split_by(self) -> str:
        """What it was that splits the lines: ``adjusted``, ``serviced``, or an empty text."""
        latest = [
            event.kind for event in self.events if event.at == self.split_at and event.kind in _SPLITTING
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
    life = history(rig.name, historic, events, rules=rules)
    checks = tuple(checks_of_rig(workspace, rig.id))
    signed = sign_offs(workspace)
    split_at = max((event.at for event in events if event.kind in _SPLITTING), default=None)
    return RigLog(
        rig=rig,
        checks=checks,
        sites={each.id: each.site for each in historic},
        events=tuple(events),
        lines=tuple(_lines(historic, split_at, rules)),
        points=tuple(_points(historic, life)),
        signed=signed,
        signed_until=signed_off_until(checks, signed),
        interval_days=life["suggested_interval_days"],
        due_on=dt.date.fromisoformat(life["due_on"]) if life["due_on"] else None,
        not_for_use=rig_not_for_use(workspace, rig.id, now),
        rules=tuple(rules),
    )


def _lines(
    checks: Sequence[HistoricCheck], split_at: dt.datetime | None, rules: Sequence[int]
) -> list[Series]:
    found = []
    for direction in DIRECTIONS:
        with_line = [check for check in checks if check.verdict["torque"]["lines"].get(direction)]
        lines = [check.verdict["torque"]["lines"][direction] for check in with_line]
        slopes = [100.0 * (line["slope"] - 1.0) for line in lines]
        zeros = [float(line["intercept_nm"]) for line in lines]
        limits = with_line[-1].verdict["tolerance"] if with_line else {}
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


def _points(checks: Sequence[HistoricCheck], life: dict[str, Any]) -> list[Series]:
    by_instant: dict[str, list[HistoricCheck]] = {}
    for check in sorted(checks, key=lambda check: (check.at, check.id)):
        by_instant.setdefault(check.at.isoformat(), []).append(check)
    several_arms = len({(point["arm_m"], point["arm_angle_deg"]) for point in life["points"]}) > 1
    found = []
    for number, point in enumerate(life["points"]):
        arm = f" at {point['arm_m']:g} m" if several_arms else ""
        of_point = tuple(by_instant[at][0] for at in point["at"])
        found.append(
            Series(
                key=f"point.{number}",
                title=f"{point['mass_kg']:g} kg{arm}, {point['direction']}",
                unit=f"% of {point['reference_nm']:.1f} N·m",
                digits=2,
                checks=of_point,
                values=tuple(point["errors_pct"]),
                tolerance=_tolerance_pct(of_point[-1], point),
                chart={name: point[name] for name in ("individuals", "ewma", "signals")},
                drift=point["drift"],
            )
        )
    return found


def _tolerance_pct(check: HistoricCheck, point: dict[str, Any]) -> float:
    return max(
        100.0 * float(judged["tolerance_nm"]) / float(judged["reference_nm"])
        for judged in check.verdict["torque"]["points"]
        if judged["mass_kg"] == point["mass_kg"] and judged["direction"] == point["direction"]
    )
