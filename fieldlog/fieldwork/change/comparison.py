"""Change since an earlier visit, against the error of the test and of the rig."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace

from fieldlog.fieldwork.change.common_range import common_work
from fieldlog.fieldwork.change.comparability import marks, refusal
from fieldlog.fieldwork.change.judged_change import (
    CONFIDENCE,
    FIRST_VISIT,
    UNCLEAR,
    WITHIN_ERROR,
    Change,
    judge,
)
from fieldlog.fieldwork.change.own_errors import ErrorBank
from fieldlog.fieldwork.change.rig_share import NO_SHARE, RigShare, RigShares, joined
from fieldlog.fieldwork.change.trial_book import TrialBook
from fieldlog.fieldwork.change.trials import Score, line_of
from fieldlog.fieldwork.change.worthwhile import WorthwhileChanges
from fieldlog.fieldwork.results.measure_list import (
    MEASURES,
    PEAK,
    Measure,
    main_directions,
    main_speed_deg_s,
    value_of,
)
from fieldlog.fieldwork.results.results import DirectionResult, ResultBook
from fieldlog.store.workspace import Workspace

__all__ = ["Comparer"]


class Comparer:
    """Compares scores of a workspace; errors, setups and checks are looked up once.

    With ``upto`` it rests on tests up to that day only: what a sheet says does not move with later tests.
    """

    def __init__(
        self, workspace: Workspace, book: ResultBook | None = None, *, upto: dt.date | None = None
    ) -> None:
        self.workspace = workspace
        self.trials = TrialBook(workspace, book, upto=upto)
        self.bank = ErrorBank(self.trials)
        self.worthwhile = WorthwhileChanges(self.trials, self.bank)
        self.rigs = RigShares(workspace)
        self._upto: dict[dt.date, Comparer] = {}

    def upto(self, day: dt.date) -> Comparer:
        """The comparer that sees no test after a day; covers, checks and protocols are shared with this one."""
        if self.trials.upto is not None and self.trials.upto <= day:
            return self
        if day not in self._upto:
            known = Comparer(self.workspace, self.trials.book, upto=day)
            known.rigs = self.rigs
            self._upto[day] = known
        return self._upto[day]

    def results(
        self, now: DirectionResult, before: DirectionResult, measure: Measure = MEASURES[PEAK]
    ) -> Change:
        """Change of a measure of one direction between two results."""
        scores = []
        for result in (now, before):
            value = value_of(measure, result)
            if value is None:
                return Change("no comparison: no value", unit=measure.change_unit)
            scores.append(Score(measure, line_of(result), value, (self.trials.trial(result),)))
        return self.scores(*scores)

    def scores(self, now: Score, before: Score) -> Change:
        """Change between two scores of an athlete (see ``change.judge_change``).

        Typical error and rig are combined; the quantile is Student's t at the error's own degrees of freedom.
        Refused, with the reason in the word, where the two may not be compared.
        """
        since = before.trial.visit.date.isoformat()
        plain = Change("", since=since, unit=now.measure.change_unit, main=_is_main(now))
        reason = refusal(now, before)
        if reason:
            return replace(plain, word=f"no comparison: {reason}")
        if now.measure.family == "work":
            works = common_work(self.workspace, now.trial, before.trial)
            if isinstance(works, str):
                return replace(plain, word=f"no comparison: {works}")
            now, before = replace(now, value=works[0]), replace(before, value=works[1])
        same_tester = now.trial.record.by == before.trial.record.by
        error = self.bank.in_use(now, "same" if same_tester else "changed")
        of_tester = error or self.bank.in_use(now)
        if of_tester is None:
            return replace(plain, word="no comparison: no typical error is known for this measure")
        shares = [self.rigs.between(a, b) for a, b in zip(now.trials, before.trials, strict=True)]
        share = _share_in(now.measure, shares)
        worthwhile = self.worthwhile.of(now)
        judged = judge(now, before, of_tester, share, worthwhile.value)
        found = list(marks(now, before))
        if not same_tester:
            known = (
                "judged by the error between testers" if error else "the error between testers is not known"
            )
            found.insert(0, f"another tester ({known})")
        if error is None and judged["word"] != WITHIN_ERROR:
            judged["word"] = UNCLEAR
        return replace(
            plain,
            **judged,
            worthwhile_remark=worthwhile.why,
            error=of_tester.words,
            rig=share.words,
            rig_explains_pct=share.explains_pct,
            marks=tuple(found),
        )

    def errors_nm(
        self, result: DirectionResult, torque_nm: float | None = None
    ) -> tuple[float, float] | None:
        """Typical error and detectable change (95 %, t) of a peak torque in N·m; None without a value.

        ``torque_nm`` stands for the result's own peak, where that is held back or corrected.
        """
        from fieldlog.analysis.calibration import coverage_factor

        measure = MEASURES[PEAK]
        value = value_of(measure, result) if torque_nm is None else torque_nm
        if value is None or value <= 0.0:
            return None
        error = self.bank.in_use(Score(measure, line_of(result), value, (self.trials.trial(result),)))
        if error is None:
            return None
        reach = coverage_factor(error.dof, CONFIDENCE) * math.sqrt(2.0) * error.value
        return value * math.expm1(error.value), value * math.expm1(reach)

    def before(self, now: Score) -> Score | None:
        """The score of the athlete's latest earlier visit that has one: what a page compares with."""
        before = [
            score
            for score in self.trials.scores(now.trial.record.athlete_id, now.measure, now.line)
            if score.trial.visit.date < now.trial.visit.date
        ]
        return before[-1] if before else None

    def latest(self, now: Score) -> Change:
        """Change of a score since the athlete's latest earlier visit that has one."""
        before = self.before(now)
        if before is None:
            return Change(FIRST_VISIT, unit=now.measure.change_unit, main=_is_main(now))
        return self.scores(now, before)


def _is_main(score: Score) -> bool:
    protocol = score.trial.protocol
    return (
        score.measure.key == PEAK
        and score.line.direction in main_directions(protocol)
        and score.line.speed_deg_s == main_speed_deg_s(protocol)
    )


def _share_in(measure: Measure, shares: Sequence[RigShare]) -> RigShare:
    """The rig's part in a measure: none in angles, and none between sides, where it cancels."""
    if measure.of == "sides" or measure.family == "angle":
        return NO_SHARE
    return joined(shares)
