"""What repeated tests say: the figures of ``fieldlog reliability``, with what should be looked at again."""

from __future__ import annotations

from dataclasses import asdict
from itertools import pairwise
from typing import Any

from fieldlog.errors import InputError
from fieldlog.fieldwork.reliability_file import ScoreTable

__all__ = ["reliability_of"]

_GROWS_AT_P = 0.05


def reliability_of(table: ScoreTable, name: str) -> dict[str, Any]:
    """Return the reliability of a table of tests as ``fieldlog reliability --json`` prints it.

    Complete cases are used. Raises InputError, naming the file ``name``, for fewer than two athletes who
    have every visit.
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
        "from_visit_to_visit": [
            {"first": first_name, "second": second_name, **asdict(reliability.mean_change(first, second))}
            for (first_name, first), (second_name, second) in pairwise(
                zip(table.visits, columns, strict=True)
            )
        ],
        "error_grows_with_size": {"correlation": grows[0], "p": grows[1]} if grows else None,
        "doubtful": [
            {
                "athlete": complete.athletes[score.athlete],
                "visit": table.visits[score.visit],
                "value": score.value,
                "expected": score.expected,
            }
            for score in reliability.doubtful_scores(scores)
        ],
        "left_out": sorted(set(table.athletes) - set(complete.athletes)),
    }
    return {**report, "remarks": _remarks(report, len(table.athletes))}


def _remarks(report: dict[str, Any], athletes: int) -> list[str]:
    remarks = []
    if report["n"] < athletes:
        remarks.append(f"complete cases: {report['n']} of {athletes} athletes have every visit")
    remarks.extend(
        f"looks like an entry error: {doubtful['athlete']}, {doubtful['visit']}: {doubtful['value']:g}, "
        f"about {doubtful['expected']:.3g} expected"
        for doubtful in report["doubtful"]
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
    if report["typical_error_cv_pct"] is None:
        remarks.append("no coefficient of variation: a score is not above zero")
    if report["swc"] is None:
        remarks.append("no smallest worthwhile change: the spread between athletes is all error")
    if report["n"] < 10:
        remarks.append(f"{report['n']} athletes: the error itself is known poorly")
    return remarks
