"""Comparison with the last visit, against the error of the test and of the rig."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from fieldlog.fieldwork.books import everywhere
from fieldlog.fieldwork.results import DirectionResult, ResultBook
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.visit import Visit

__all__ = ["Change", "TypicalError", "compare", "last_results", "typical_error"]


@dataclass(frozen=True)
class TypicalError:
    """A typical error in percent of the measure, and where it comes from."""

    value_pct: float
    source: str


@dataclass(frozen=True)
class Change:
    """A change since the last visit in percent of the earlier value, beside the change that error alone can make.

    ``word`` is "higher, beyond error", "lower, beyond error", "within error", "first visit, no comparison",
    or "no comparison: " with the reason.
    """

    word: str
    change_pct: float | None = None
    detectable_pct: float | None = None
    since: str = ""

    @property
    def real(self) -> bool:
        """Whether the change is larger than what error alone makes in 19 of 20 cases."""
        return self.word.endswith("beyond error")


@lru_cache(maxsize=1)
def _shipped_errors() -> dict[str, TypicalError]:
    text = files("fieldlog.catalogue").joinpath("typical_errors.json").read_text(encoding="utf-8")
    return {
        region: TypicalError(entry["value"], entry["source"])
        for region, entry in json.loads(text)["peak_torque_pct"].items()
    }


def typical_error(region: str) -> TypicalError:
    """The shipped typical error of peak torque for a body region, with its source."""
    errors = _shipped_errors()
    return errors.get(region, errors["other"])


def last_results(
    book: ResultBook, visit: Visit, athlete_id: str
) -> dict[tuple[str, str, str, float, str], tuple[Visit, DirectionResult]]:
    """The athlete's latest earlier result for each protocol, side, mode, speed and direction, over all sites."""
    visits = {kept.record.id: kept.record for _, kept in everywhere(book.workspace, Visit)}
    latest: dict[tuple[str, str, str, float, str], tuple[Visit, DirectionResult]] = {}
    for _, kept in everywhere(book.workspace, EffortSet, athlete_id=athlete_id):
        record = kept.record
        earlier = visits.get(record.visit_id)
        if earlier is None or earlier.date >= visit.date or record.standing != "counted":
            continue
        if record.without_clearance:
            continue
        for result in book.of_set(kept):
            key = comparison_key(result)
            if key not in latest or latest[key][0].date < earlier.date:
                latest[key] = (earlier, result)
    return latest


def comparison_key(result: DirectionResult) -> tuple[str, str, str, float, str]:
    """What two results must share to be compared at all."""
    record = result.record
    return (record.protocol_id, record.side, record.mode, record.speed_deg_s, result.direction)


def compare(now: DirectionResult, before: DirectionResult, region: str, *, since: str) -> Change:
    """Change of best peak torque between two visits.

    Typical error and rig uncertainty of both visits are combined (see ``reliability.judge_change``).
    Refused, with the reason as its word, where cover, range, recipe or weight correction forbid it.
    """
    reason = _refusal(now, before)
    value_now, value_before = now.peak_torque_nm, before.peak_torque_nm
    if reason or value_now is None or value_before is None:
        return Change(f"no comparison: {reason or 'no value'}", since=since)
    from fieldlog.analysis.reliability import judge_change

    error_nm = typical_error(region).value_pct / 100 * (value_now + value_before) / 2
    verdict = judge_change(
        value_now - value_before,
        error_nm,
        0.0,
        u_rig_first=before.cover.standard_uncertainty_nm or 0.0,
        u_rig_second=now.cover.standard_uncertainty_nm or 0.0,
    )
    change_pct = 100 * (value_now - value_before) / value_before
    direction = "higher" if change_pct > 0 else "lower"
    word = f"{direction}, beyond error" if verdict.real else "within error"
    return Change(word, change_pct, 100 * verdict.mdc / value_before, since)


def _refusal(now: DirectionResult, before: DirectionResult) -> str:
    for result, which in ((now, "today"), (before, "last time")):
        if result.cover.word in ("suspect", "unverified"):
            return f"rig {result.cover.word} {which}"
        if result.cover.beyond_checked_range:
            return f"beyond the checked range {which}"
    recipes = [result.record.measures["recipe"] for result in (now, before)]
    if recipes[0]["gravity"] != recipes[1]["gravity"]:
        return "weight corrected at one visit only"
    if any(recipes[0].get(key) != recipes[1].get(key) for key in ("version", "cutoff_hz", "band_pct")):
        return "another recipe"
    return ""
