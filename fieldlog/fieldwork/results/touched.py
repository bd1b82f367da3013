"""The results that a failed check touches: how far each is moved, how much that matters, what was decided."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from fieldlog.count_words import counted
from fieldlog.fieldwork.books import everywhere, of_team, site_of
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.results.impact import ErrorChange, Impact, error_change, impact_of, unknown_impact
from fieldlog.fieldwork.results.results import DirectionResult, ResultBook
from fieldlog.fieldwork.rig_checks.check_basis import (
    DEFAULT_UNCERTAINTIES,
    RECENT_CHECKS,
    Repeatability,
    pool_repeats,
    repeat_groups,
)
from fieldlog.fieldwork.rig_checks.checks import checks_of_rig
from fieldlog.fieldwork.rig_life.rigs import events_of
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.rig import ADJUSTING_EVENTS, Rig
from fieldlog.records.rig_check import GOOD_VERDICTS, RigCheck
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["TouchedResult", "TouchedResults", "touch_words"]

_SIZES = ("large", "matters", "unknown", "small")


@dataclass(frozen=True)
class TouchedResult:
    """A result under a failed check. ``opening`` is the last good check before it, None where there is none."""

    store: Store
    site_name: str
    visit: Visit
    code: str
    direction_name: str
    result: DirectionResult
    opening: RigCheck | None
    closing: RigCheck
    impact: Impact

    @property
    def key(self) -> str:
        """Set and direction."""
        return f"{self.result.record.id}/{self.result.direction}"

    @property
    def decided(self) -> str:
        """What was decided and by whom, or an empty text."""
        decision = self.result.cover.decision
        return "" if decision is None else f"{decision.word} by {decision.by}"


class TouchedResults:
    """Finds the suspect results of a rig over all sites; the rig's checks and events are read once."""

    def __init__(self, workspace: Workspace, rig_id: str, book: ResultBook | None = None) -> None:
        self.workspace = workspace
        self.rig_id = rig_id
        self.book = book or ResultBook(workspace)

    def all(self) -> list[TouchedResult]:
        """Every suspect result of the rig, the latest failed check first, then in the order taken."""
        if all(check.verdict in GOOD_VERDICTS for check in self._checks):
            return []
        visits = {kept.record.id: kept.record for _, kept in everywhere(self.workspace, Visit)}
        found = [
            self._touched(store, visits[kept.record.visit_id], result)
            for store, kept in everywhere(self.workspace, EffortSet, rig_id=self.rig_id)
            if kept.record.visit_id in visits and kept.record.standing in ("counted", "familiarisation")
            for result in self.book.of_set(kept)
            if result.cover.word == "suspect"
        ]
        return sorted(
            found,
            key=lambda each: (-each.closing.at.timestamp(), each.result.record.at, each.result.direction),
        )

    def of_check(self, closing_id: str) -> list[TouchedResult]:
        """Those that one failed check touches."""
        return [each for each in self.all() if each.closing.id == closing_id]

    def change_between(
        self, opening: RigCheck, closing: RigCheck, direction: str, torque_nm: float
    ) -> ErrorChange | None:
        """Change of the rig's error at a torque between two of its checks (see ``impact.error_change``)."""
        return error_change(
            opening.judged,
            closing.judged,
            direction=direction,
            torque_nm=torque_nm,
            resolution_nm=self._step_nm(closing),
            repeatability=self._repeatability(closing),
        )

    def changes_at_loads(self, opening: RigCheck, closing: RigCheck, direction: str) -> list[ErrorChange]:
        """The changes at every load of the opening check that the closing check shares, in one direction."""
        references = sorted(
            {
                point["reference_nm"]
                for point in opening.judged["torque"]["points"]
                if point["direction"] == direction
            }
        )
        found = [self.change_between(opening, closing, direction, reference) for reference in references]
        return [change for change in found if change is not None and not change.beyond_checked_range]

    def _touched(self, store: Store, visit: Visit, result: DirectionResult) -> TouchedResult:
        closing = self._by_id[result.cover.closing_id or ""]
        opening = self._last_good_before(result.record.at)
        return TouchedResult(
            store=store,
            site_name=site_of(store).name,
            visit=visit,
            code=self.book.code(result.record.athlete_id),
            direction_name=self.book.protocol(result.record.protocol_id).direction_name(result.direction),
            result=result,
            opening=opening,
            closing=closing,
            impact=self._impact(result, opening, closing),
        )

    def _impact(self, result: DirectionResult, opening: RigCheck | None, closing: RigCheck) -> Impact:
        torque = result.recorded_peak_nm
        if torque is None:
            return unknown_impact("no torque was measured")
        if opening is None:
            return unknown_impact("no good check before it, so the change is not known")
        change = self.change_between(opening, closing, result.direction, torque)
        if change is None:
            return unknown_impact("the two checks share no mass in this direction")
        errors = self._comparer.errors_nm(result, torque)
        error_nm, detectable_nm = errors or (None, None)
        return impact_of(change, typical_error_nm=error_nm, detectable_change_nm=detectable_nm)

    def _last_good_before(self, at: dt.datetime) -> RigCheck | None:
        """The last good check before a result, unless the rig was adjusted or serviced between."""
        before = [check for check in self._checks if check.at <= at and check.verdict in GOOD_VERDICTS]
        if not before:
            return None
        adjusted = any(
            event.kind in ADJUSTING_EVENTS and before[-1].at < event.at <= at
            for event in events_of(self.workspace, self.rig_id)
        )
        return None if adjusted else before[-1]

    @cached_property
    def _comparer(self) -> Comparer:
        return Comparer(self.workspace, self.book)

    @cached_property
    def _checks(self) -> Sequence[RigCheck]:
        return checks_of_rig(self.workspace, self.rig_id)

    @cached_property
    def _by_id(self) -> dict[str, RigCheck]:
        return {check.id: check for check in self._checks}

    def _repeatability(self, closing: RigCheck) -> Repeatability:
        upto = [check for check in self._checks if check.at <= closing.at]
        return pool_repeats(
            group for check in upto[-RECENT_CHECKS - 1 :] for group in repeat_groups(check.entry)
        )

    def _step_nm(self, closing: RigCheck) -> float:
        stated = closing.entry.uncertainty.resolution_nm
        if stated is not None:
            return stated
        kept = of_team(self.workspace, Rig).get(self.rig_id)
        known = kept.record.display_step_nm if kept else None
        return DEFAULT_UNCERTAINTIES["resolution_nm"] if known is None else known


def touch_words(touched: Sequence[TouchedResult]) -> str:
    """Return how many results a failed check touches, how far they are moved and how much that matters."""
    if not touched:
        return "no result is touched"
    sizes: Counter[str] = Counter(each.impact.word for each in touched)
    by_size = ", ".join(f"{sizes[word]} {word}" for word in _SIZES if sizes[word])
    shares = [
        100.0 * change.change_nm / change.torque_nm
        for each in touched
        if (change := each.impact.change) is not None and change.torque_nm
    ]
    ends = [f"{share:+.1f}".replace("-", "−") for share in (min(shares), max(shares))] if shares else []
    span = f", rig changed by {' to '.join(dict.fromkeys(ends))} %" if ends else ""
    return f"{counted(len(touched), 'result')} suspect{span}: {by_size}"
