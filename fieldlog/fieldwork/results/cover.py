"""Cover: what the rig's checks before and after say of one result. The one place that decides it."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import pairwise
from operator import attrgetter
from typing import Any, Protocol, TypeVar

from fieldlog.fieldwork.results.cover_decision import Decision
from fieldlog.records.rig import ADJUSTING_EVENTS, EVENT_WORDS, EventKind
from fieldlog.records.rig_check import GOOD_VERDICTS

__all__ = [
    "BEYOND_CHECKED_RANGE",
    "COVER_WORDS",
    "REACH_OVER_LARGEST",
    "CheckFact",
    "Cover",
    "EventFact",
    "checked_range_nm",
    "cover_of",
    "decided",
    "fact_of",
    "interpolated_nm",
    "not_for_use_since",
]

COVER_WORDS = ("confirmed", "provisional", "suspect", "unverified")
BEYOND_CHECKED_RANGE = "beyond the checked range"

_WHEN = attrgetter("at")
REACH_OVER_LARGEST = 1.2
"""A result may lie this far above the largest checked reference."""


@dataclass(frozen=True)
class CheckFact:
    """What cover needs to know of a check of the rig. References are by direction, ``up`` and ``down``."""

    id: str
    at: datetime
    site: str
    stage: str
    state: str
    verdict: str
    largest_reference_nm: Mapping[str, float] = field(default_factory=dict)
    smallest_reference_nm: Mapping[str, float] = field(default_factory=dict)
    uncertainty_nm: Mapping[str, Sequence[tuple[float, float]]] = field(default_factory=dict)
    """Per direction: (reference, standard uncertainty) of each checked torque, by reference."""

    @property
    def good(self) -> bool:
        """Pass or conditional pass."""
        return self.verdict in GOOD_VERDICTS


class Judged(Protocol):
    """A check of which time and verdict are known."""

    @property
    def at(self) -> datetime: ...
    @property
    def verdict(self) -> str: ...


AnyJudged = TypeVar("AnyJudged", bound=Judged)


@dataclass(frozen=True)
class EventFact:
    """Something that happened to the rig: moved, knocked, unit changed, power lost, adjusted, serviced."""

    at: datetime
    kind: EventKind


@dataclass(frozen=True)
class Cover:
    """The word, what must be said beside it, and the checks it rests on.

    ``standard_uncertainty_nm`` is the rig's at the torque of the result, from the opening check, widened
    where a suspect result was released or corrected.
    """

    word: str
    remark: str = ""
    opening_id: str | None = None
    closing_id: str | None = None
    beyond_checked_range: bool = False
    standard_uncertainty_nm: float | None = None
    decision: Decision | None = None

    @property
    def shown(self) -> str:
        """The word as it is printed: with what was decided and by whom, where something was."""
        if self.decision is None:
            return self.word
        return f"{self.word}, {self.decision.words}"

    @property
    def usable(self) -> bool:
        """Whether the result may be compared and averaged: covered, or released or corrected by name."""
        if self.decision is not None:
            return self.decision.word in ("released", "corrected")
        return self.word in ("confirmed", "provisional")


def decided(cover: Cover, decision: Decision) -> Cover:
    """Return the cover of a suspect result after a decision: the word stays, name and change stand beside it."""
    u = cover.standard_uncertainty_nm
    if decision.standard_uncertainty_nm:
        u = math.hypot(u or 0.0, decision.standard_uncertainty_nm)
    said = f"{decision.words}, {decision.change_words}"
    if decision.word == "corrected":
        said += f", torques multiplied by {decision.factor:.4f}"
    if decision.remark:
        said += f" ({decision.remark})"
    return replace(
        cover,
        remark="; ".join(part for part in (said, cover.remark) if part),
        standard_uncertainty_nm=u,
        decision=decision,
    )


def fact_of(
    check_id: str, *, at: datetime, site: str, stage: str, state: str, judged: Mapping[str, Any]
) -> CheckFact:
    """Return the facts of a check from its verdict as ``check_judge.judge`` gave it."""
    points: dict[str, dict[float, float]] = {}
    for point in judged["torque"]["points"]:
        at_reference = points.setdefault(point["direction"], {})
        u = point["u_expanded_nm"] / point["coverage_factor"]
        at_reference[point["reference_nm"]] = max(u, at_reference.get(point["reference_nm"], 0.0))
    return CheckFact(
        id=check_id,
        at=at,
        site=site,
        stage=stage,
        state=state,
        verdict=judged["verdict"],
        largest_reference_nm={direction: max(of) for direction, of in points.items()},
        smallest_reference_nm={direction: min(of) for direction, of in points.items()},
        uncertainty_nm={direction: tuple(sorted(of.items())) for direction, of in points.items()},
    )


def cover_of(
    at: datetime,
    direction: str,
    torque_nm: float | None,
    checks: Iterable[CheckFact],
    events: Iterable[EventFact] = (),
) -> Cover:
    """Return the cover of a result taken ``at`` a time, in a direction, with this torque in N·m.

    ``checks`` and ``events`` are those of the rig the result was taken on, at all sites, in any order;
    every time carries its offset.

    - ``provisional``: the latest check before, on the same day, is good and nothing happened between;
    - ``confirmed``: besides, the next as-found check, with no adjustment or service between, is good;
    - ``suspect``: that next check is not good. One conditional fail may be repeated, untouched and on the
      same day: then the repeat counts;
    - ``unverified``: otherwise.

    As-left checks open, never close. A closing check at the very time of the result counts as after it.
    """
    happened = sorted(events, key=_WHEN)
    in_order = sorted(checks, key=_WHEN)
    first, last = bisect_left(in_order, at, key=_WHEN), bisect_right(in_order, at, key=_WHEN)
    at_once = in_order[first:last]
    before = [*in_order[:first], *(check for check in at_once if check.stage != "closing")]
    after = [*(check for check in at_once if check.stage == "closing"), *in_order[last:]]
    opening = _opening(at, before, happened)
    closing = _closing(at, after, happened)
    remarks: list[str] = []
    if closing is not None and closing.stage == "opening":
        remarks.append("no closing check; closed by the next opening check")
    beyond = _beyond_checked_range(direction, torque_nm, opening)
    if beyond:
        remarks.append(BEYOND_CHECKED_RANGE)
    if closing is not None and not closing.good:
        word = "suspect"
    elif opening is None:
        word = "unverified"
        remarks.insert(0, _why_unverified(at, before, happened))
    else:
        word = "provisional" if closing is None else "confirmed"
    return Cover(
        word=word,
        remark="; ".join(remarks),
        opening_id=opening.id if opening else None,
        closing_id=closing.id if closing else None,
        beyond_checked_range=beyond,
        standard_uncertainty_nm=_uncertainty_nm(direction, torque_nm, opening),
    )


def checked_range_nm(check: CheckFact, direction: str) -> tuple[float, float] | None:
    """Torques in N·m that a check speaks for in a direction: smallest reference to 1.2 × the largest.

    None where the direction was not checked.
    """
    smallest = check.smallest_reference_nm.get(direction)
    largest = check.largest_reference_nm.get(direction)
    return None if smallest is None or largest is None else (smallest, REACH_OVER_LARGEST * largest)


def interpolated_nm(torque_nm: float, points: Sequence[tuple[float, float]]) -> float:
    """Return a figure in N·m at a torque from ``points`` of (reference torque, figure), by reference.

    Linear between the references; below the smallest as there, above the largest in proportion.
    """
    if torque_nm <= points[0][0]:
        return points[0][1]
    for (low, at_low), (high, at_high) in pairwise(points):
        if torque_nm <= high:
            return at_low + (at_high - at_low) * (torque_nm - low) / (high - low)
    largest, at_largest = points[-1]
    return at_largest * torque_nm / largest


def not_for_use_since(checks: Iterable[AnyJudged]) -> AnyJudged | None:
    """Return the failed check that took the rig out of use, or None where its latest check is good.

    A failed check (conditional ones included) makes a rig "not for use" until a check passes, as-left ones
    included.
    """
    failed: AnyJudged | None = None
    for check in sorted(checks, key=_WHEN):
        failed = None if check.verdict in GOOD_VERDICTS else failed or check
    return failed


def _opening(at: datetime, before: Sequence[CheckFact], events: Sequence[EventFact]) -> CheckFact | None:
    if not before:
        return None
    latest = before[-1]
    if not latest.good or not _same_day(latest.at, at):
        return None
    if any(latest.at < event.at <= at for event in events):
        return None
    return latest


def _closing(at: datetime, after: Sequence[CheckFact], events: Sequence[EventFact]) -> CheckFact | None:
    closing = next((check for check in after if check.state == "as-found"), None)
    if closing is None:
        return None
    if any(event.kind in ADJUSTING_EVENTS and at <= event.at < closing.at for event in events):
        return None
    if closing.verdict == "conditional fail":
        position = after.index(closing)
        following = after[position + 1] if position + 1 < len(after) else None
        if (
            following is not None
            and following.state == "as-found"
            and following.site == closing.site
            and _same_day(following.at, closing.at)
            and not any(closing.at <= event.at <= following.at for event in events)
        ):
            return following
    return closing


def _why_unverified(at: datetime, before: Sequence[CheckFact], events: Sequence[EventFact]) -> str:
    same_day = [check for check in before if _same_day(check.at, at)]
    if not same_day:
        return "no check before it on that day"
    latest = same_day[-1]
    if not latest.good:
        return f"the check before it was a {latest.verdict}"
    between = next(event for event in events if latest.at < event.at <= at)
    return f"rig {EVENT_WORDS[between.kind]} since the check before it"


def _beyond_checked_range(direction: str, torque_nm: float | None, opening: CheckFact | None) -> bool:
    if torque_nm is None or opening is None:
        return False
    covered = checked_range_nm(opening, direction)
    return covered is None or not covered[0] <= abs(torque_nm) <= covered[1]


def _uncertainty_nm(direction: str, torque_nm: float | None, opening: CheckFact | None) -> float | None:
    points = opening.uncertainty_nm.get(direction, ()) if opening else ()
    return None if torque_nm is None or not points else interpolated_nm(abs(torque_nm), points)


def _same_day(first: datetime, second: datetime) -> bool:
    return first.astimezone(second.tzinfo).date() == second.date()
