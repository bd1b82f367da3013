"""Judging a rig check: every point, the lines, hysteresis, zero, angle and speed, and one verdict."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from fieldlog.analysis.calibration import VERDICTS, decide, fit_line
from fieldlog.fieldwork.rig_checks.check_basis import Basis, basis_of, pool_repeats, repeat_groups
from fieldlog.fieldwork.rig_checks.check_point import (
    SMALLEST_COVERAGE_FACTOR,
    PointBudget,
    PointJudgement,
    is_undecidable,
    judge_point,
    point_budget,
)
from fieldlog.fieldwork.rig_checks.check_remarks import remarks_on, standards_used
from fieldlog.fieldwork.rig_checks.tolerance_sets import tolerance_set_of
from fieldlog.records.check_entry import DIRECTIONS, CheckEntry, Direction, Place
from fieldlog.records.rig import Rig
from fieldlog.records.rig_check import GOOD_VERDICTS
from fieldlog.records.standard import ReferenceStandard
from fieldlog.records.tolerance import ToleranceSet

__all__ = ["budget", "check_basis", "judge", "worst"]

# Readings are decimal numbers: the binary rest of their difference must not decide about a limit.
_READING_SLACK = 1e-9


def judge(
    entry: CheckEntry,
    *,
    place: Place | None = None,
    earlier: Iterable[CheckEntry] = (),
    standards: Sequence[ReferenceStandard] = (),
    rig: Rig | None = None,
    tolerance_sets: Mapping[str, ToleranceSet] | None = None,
    today: dt.date | None = None,
) -> dict[str, Any]:
    """Return the verdict on a rig check, as ``fieldlog check --json`` prints it.

    ``place`` is the site's and serves where the check names none. ``earlier`` are the rig's latest checks,
    up to ``RECENT_CHECKS`` of them, whose repeated points tell of its repeatability. ``standards`` are the
    team's, ``tolerance_sets`` its own by name; a check dated after ``today`` gets a remark.
    Raises InputError for a tolerance set nobody knows.
    """
    tolerance_set = tolerance_set_of(entry, tolerance_sets)
    basis = check_basis(
        entry,
        place=place,
        earlier=earlier,
        standards=standards,
        rig=rig,
        tolerance_sets=tolerance_sets,
    )
    judged = [judge_point(basis, point, entry.tare_nm(point.direction)) for point in entry.torque]
    hysteresis = _hysteresis(entry, judged, basis)
    parts = {
        "torque": {
            "points": [
                {
                    "mass_kg": point.mass_kg,
                    "direction": point.direction,
                    "run": point.run,
                    **asdict(judgement),
                }
                for point, judgement in zip(entry.torque, judged, strict=True)
            ],
            "lines": {direction: _line(entry, judged, direction) for direction in DIRECTIONS},
            "hysteresis_pct": hysteresis["pct"],
            "hysteresis_verdict": hysteresis["verdict"],
            "verdict": worst(point.verdict for point in judged),
        },
        "zero": _zero(entry, basis),
        "angle": _angle(entry, basis),
        "speed": _speed(entry, basis),
    }
    verdicts = [hysteresis["verdict"], *(part["verdict"] for part in parts.values())]
    return {
        "rig": entry.rig,
        "stage": entry.stage,
        "state": entry.state,
        "local_gravity_m_s2": basis.gravity_m_s2,
        **parts,
        "verdict": worst(verdicts),
        "remarks": remarks_on(
            entry,
            judged,
            basis,
            site_place=place,
            standards=standards,
            rig=rig,
            today=today,
            torque_failed=not (
                parts["torque"]["verdict"] in GOOD_VERDICTS and hysteresis["verdict"] != "fail"
            ),
            zero_failed=parts["zero"]["verdict"] == "fail",
        ),
        "decision": entry.decision,
        "tolerance": {
            "name": tolerance_set.name,
            "version": tolerance_set.version,
            "source": tolerance_set.source,
            **tolerance_set.limits.model_dump(),
        },
    }


def check_basis(
    entry: CheckEntry,
    *,
    place: Place | None = None,
    earlier: Iterable[CheckEntry] = (),
    standards: Sequence[ReferenceStandard] = (),
    rig: Rig | None = None,
    tolerance_sets: Mapping[str, ToleranceSet] | None = None,
) -> Basis:
    """Return what the points of ``entry`` are judged on; arguments as for ``judge``."""
    return basis_of(
        place=entry.place or place,
        uncertainty=entry.uncertainty,
        limits=tolerance_set_of(entry, tolerance_sets).limits,
        decision=entry.decision,
        hanger_kg=entry.hanger_kg,
        repeatability=pool_repeats(group for each in (entry, *earlier) for group in repeat_groups(each)),
        standards=standards_used(entry, standards),
        rig=rig,
        arms_m=sorted({point.arm_m for point in entry.torque}),
    )


def budget(entry: CheckEntry, index: int, **known: Any) -> PointBudget:
    """Return the uncertainty of point ``index`` line by line; further arguments as for ``judge``."""
    return point_budget(check_basis(entry, **known), entry.torque[index])


def worst(verdicts: Iterable[str | None]) -> str:
    """Return the worst word among those given; parts that were not checked (None) do not count."""
    return max((word for word in verdicts if word is not None), key=VERDICTS.index, default="pass")


def _line(
    entry: CheckEntry, judged: Sequence[PointJudgement], direction: Direction
) -> dict[str, float | int | None] | None:
    pairs = [
        (judgement.reference_nm, point.reading_nm - entry.tare_nm(direction))
        for point, judgement in zip(entry.torque, judged, strict=True)
        if point.direction == direction
    ]
    if len({round(reference, 9) for reference, _ in pairs}) < 2:
        return None
    line = fit_line([x for x, _ in pairs], [y for _, y in pairs])
    return {
        "slope": line.slope,
        "intercept_nm": line.intercept,
        "u_slope": _or_none(line.u_slope),
        "u_intercept_nm": _or_none(line.u_intercept),
        "correlation": line.correlation,
        "residual_sd_nm": _or_none(line.residual_sd),
        "points": len(pairs),
    }


def _hysteresis(entry: CheckEntry, judged: Sequence[PointJudgement], basis: Basis) -> dict[str, Any]:
    """Unloading against loading at equal loads; a load read more than once counts by its mean."""
    readings: dict[tuple[float, float, float, str], dict[str, list[float]]] = {}
    references: dict[tuple[float, float, float, str], float] = {}
    for point, judgement in zip(entry.torque, judged, strict=True):
        load = (point.mass_kg, point.arm_m, point.arm_angle_deg, point.direction)
        readings.setdefault(load, {}).setdefault(point.run, []).append(point.reading_nm)
        references[load] = judgement.reference_nm
    differences = {
        load: abs(
            math.fsum(runs["unloading"]) / len(runs["unloading"])
            - math.fsum(runs["loading"]) / len(runs["loading"])
        )
        for load, runs in readings.items()
        if len(runs) == 2
    }
    if not differences:
        return {"pct": None, "verdict": None}
    failed = any(
        difference > basis.limits.hysteresis_nm(references[load]) + _READING_SLACK
        for load, difference in differences.items()
    )
    return {
        "pct": 100.0 * max(differences.values()) / max(references.values()),
        "verdict": "fail" if failed else "pass",
    }


def _zero(entry: CheckEntry, basis: Basis) -> dict[str, Any]:
    changes: dict[str, float] = {}
    for direction in DIRECTIONS:
        before, after = entry.tare.of(direction) if entry.tare else (None, None)
        if before is not None and after is not None:
            changes[f"{direction}_change_nm"] = after - before
    if entry.zero is not None:
        changes["bare_change_nm"] = entry.zero.after_nm - entry.zero.before_nm
    largest = max(changes.values(), key=abs)
    failed = abs(largest) > basis.limits.zero_nm + _READING_SLACK
    return {"change_nm": largest, **changes, "verdict": "fail" if failed else "pass"}


def _angle(entry: CheckEntry, basis: Basis) -> dict[str, Any]:
    tolerance = basis.limits.angle_deg
    u_expanded = SMALLEST_COVERAGE_FACTOR * basis.angle_reference_deg
    points = [
        {
            "reference_deg": point.reference_deg,
            "reading_deg": point.reading_deg,
            "error_deg": point.reading_deg - point.reference_deg,
            "tolerance_deg": tolerance,
            "u_expanded_deg": u_expanded,
            "verdict": decide(point.reading_deg - point.reference_deg, u_expanded, tolerance, basis.decision),
            "undecidable": is_undecidable(u_expanded, tolerance, basis.decision),
        }
        for point in entry.angle
    ]
    return {"points": points, "verdict": _verdict_of(points)}


def _speed(entry: CheckEntry, basis: Basis) -> dict[str, Any]:
    points = []
    for point in entry.speed:
        error = point.reading_deg_s - point.reference_deg_s
        tolerance = basis.limits.speed_deg_s(point.reference_deg_s)
        u_expanded = SMALLEST_COVERAGE_FACTOR * basis.speed_reference_rel * abs(point.reference_deg_s)
        points.append(
            {
                "reference_deg_s": point.reference_deg_s,
                "reading_deg_s": point.reading_deg_s,
                "error_deg_s": error,
                "tolerance_deg_s": tolerance,
                "u_expanded_deg_s": u_expanded,
                "verdict": decide(error, u_expanded, tolerance, basis.decision),
                "undecidable": is_undecidable(u_expanded, tolerance, basis.decision),
            }
        )
    return {"points": points, "verdict": _verdict_of(points)}


def _verdict_of(points: Sequence[Mapping[str, Any]]) -> str | None:
    return worst(point["verdict"] for point in points) if points else None


def _or_none(value: float) -> float | None:
    return value if math.isfinite(value) else None
