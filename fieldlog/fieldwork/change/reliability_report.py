"""What repeated tests say: the figures of ``fieldlog reliability``, with what should be looked at again."""

from __future__ import annotations

import math
from dataclasses import asdict
from itertools import pairwise
from typing import Any

from fieldlog.errors import InputError
from fieldlog.fieldwork.change.reliability_file import ScoreTable

__all__ = ["reliability_of"]

_GROWS_AT_P = 0.05
_LISTED = 10  # remarks of one kind; all are in the JSON


def reliability_of(table: ScoreTable, name: str) -> dict[str, Any]:
    """Return the reliability of a table of tests as ``fieldlog reliability --json`` prints it.

    Complete cases are used. Where tests are missing, ``typical_error_every_test`` gives the error over all
    tests beside it; entry errors and mixed units are looked for among all tests. Raises InputError, naming
    the file ``name``, for fewer than two athletes who have every visit.
    """
    from fieldlog.analysis import reliability

    complete = table.complete()
    if len(complete.athletes) < 2:
        raise InputError(
            f"{name}: {len(complete.athletes)} of {len(table.athletes)} athletes have every visit, "
            "at least two are needed",
            "add athletes, or leave out a visit that many missed",
        )
    scores = [[float(value) for value in row if value is not None] for row in complete.scores]
    columns = [[row[visit] for row in scores] for visit in range(len(table.visits))]
    every = [[math.nan if value is None else value for value in row] for row in table.scores]
    error, dof = reliability.typical_error_of(scores)
    agreement = None
    if len(columns) == 2:
        limits = asdict(reliability.limits_of_agreement(*columns))
        agreement = {key: limits[key] for key in ("bias", "sd", "low", "high")}
    grows = reliability.error_grows_with_size(scores)
    report: dict[str, Any] = {
        "n": len(scores),
        "visits": len(columns),
        "icc": reliability.icc(scores),
        "typical_error": error,
        "typical_error_dof": dof,
        "typical_error_cv_pct": reliability.typical_error_cv_pct(scores),
        "mdc90": reliability.minimal_detectable_change(error, 0.90),
        "mdc95": reliability.minimal_detectable_change(error, 0.95),
        "swc": reliability.smallest_worthwhile_change(scores, typical_error=error),
        "mean_change": sum(columns[-1]) / len(scores) - sum(columns[0]) / len(scores),
        "limits_of_agreement": agreement,
        "robust_typical_error": reliability.robust_typical_error(scores),
        "typical_error_every_test": _every_test(table) if len(scores) < len(table.athletes) else None,
        "from_visit_to_visit": [
            {"first": first_name, "second": second_name, **asdict(reliability.mean_change(first, second))}
            for (first_name, first), (second_name, second) in pairwise(
                zip(table.visits, columns, strict=True)
            )
        ],
        "error_grows_with_size": {"correlation": grows[0], "p": grows[1]} if grows else None,
        "doubtful": [
            {
                "athlete": table.athletes[score.athlete],
                "visit": table.visits[score.visit],
                "value": score.value,
                "expected": score.expected,
            }
            for score in reliability.doubtful_scores(every)
        ],
        "mixed_units": [
            {"visit": table.visits[mix.visit], "ratio": mix.ratio, "units": mix.units}
            for mix in reliability.mixed_units(every)
        ],
        "not_above_zero": [
            {"athlete": athlete, "visit": visit, "value": value}
            for athlete, row in zip(table.athletes, table.scores, strict=True)
            for visit, value in zip(table.visits, row, strict=True)
            if value is not None and value <= 0.0
        ],
        "left_out": sorted(set(table.athletes) - set(complete.athletes)),
    }
    return {**report, "remarks": _remarks(report, len(table.athletes))}


def _every_test(table: ScoreTable) -> dict[str, Any] | None:
    """Typical error over every test of athletes with at least two: athletes and visits fitted together."""
    from fieldlog.analysis.reliability import typical_error_of_tests

    tests = [
        (athlete, visit, value)
        for athlete, row in zip(table.athletes, table.scores, strict=True)
        for visit, value in zip(table.visits, row, strict=True)
        if value is not None
    ]
    athletes, visits, values = zip(*tests, strict=True)
    found = typical_error_of_tests(athletes, visits, values)
    return None if found is None else {"value": found[0], "dof": found[1], "tests": len(tests)}


def _remarks(report: dict[str, Any], athletes: int) -> list[str]:
    remarks = []
    if report["n"] < athletes:
        every = report["typical_error_every_test"]
        beside = f"; over every test the typical error is {every['value']:.4g}" if every else ""
        remarks.append(f"complete cases: {report['n']} of {athletes} athletes have every visit{beside}")
    remarks.extend(
        f"looks like an entry error: {doubtful['athlete']}, {doubtful['visit']}: {doubtful['value']:g}, "
        f"about {doubtful['expected']:.3g} expected"
        for doubtful in report["doubtful"]
    )
    remarks.extend(
        f"{mix['visit']} stands to the other visits as {mix['units']} do (ratio {mix['ratio']:.3g}): one unit?"
        for mix in report["mixed_units"]
    )
    grows = report["error_grows_with_size"]
    if grows and grows["p"] < _GROWS_AT_P and grows["correlation"] > 0.0:
        remarks.append("the error grows with the score: the coefficient of variation describes it better")
    first = report["from_visit_to_visit"][0]
    if first["low"] > 0.0 or first["high"] < 0.0:
        remarks.append(
            f"the squad changed from {first['first']} to {first['second']} by {first['change']:+.3g} "
            f"({first['low']:+.3g} to {first['high']:+.3g}): familiarisation? leave a first visit out"
        )
    remarks.extend(
        f"not above zero: {score['athlete']}, {score['visit']}: {score['value']:g}; a slip of sign, if this is "
        "torque, work or power"
        for score in report["not_above_zero"][:_LISTED]
    )
    if report["typical_error_cv_pct"] is None:
        remarks.append("no coefficient of variation: a score is not above zero")
    if report["icc"]["icc1"]["value"] is None and report["typical_error"] == 0.0:
        remarks.append("all scores are equal: there is nothing to tell apart")
    elif report["swc"] is None:
        remarks.append("no smallest worthwhile change: the spread between athletes is all error")
    if report["n"] < 10:
        remarks.append(f"{report['n']} athletes: the error itself is known poorly")
    return remarks
