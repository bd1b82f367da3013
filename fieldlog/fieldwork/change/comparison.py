"""Change since an earlier visit, against the error of the test and of the rig."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from fieldlog.exchange.likeness import same_person
from fieldlog.fieldwork.books import everywhere
from fieldlog.fieldwork.change.common_range import common_work
from fieldlog.fieldwork.change.comparability import marks, refusal
from fieldlog.fieldwork.change.own_errors import ErrorBank, ErrorInUse
from fieldlog.fieldwork.change.published_errors import Wanted, published_error
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
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.workspace import Workspace

__all__ = [
    "CONFIDENCE",
    "FIRST_VISIT",
    "WITHIN_ERROR",
    "Change",
    "Comparer",
    "TypicalError",
    "chance_words",
    "comparison_key",
    "last_results",
    "typical_error",
]

CONFIDENCE = 0.95
FIRST_VISIT = "first visit, no comparison"
UNCLEAR = "unclear"
WITHIN_ERROR = "within error"


@dataclass(frozen=True)
class TypicalError:
    """A typical error in percent of the measure, and where it comes from."""

    value_pct: float
    source: str


@dataclass(frozen=True)
class Change:
    """A change since an earlier visit, beside the change that error alone can make.

    ``word`` is "higher, beyond error", "lower, beyond error", "within error", "unclear" (beyond the error of
    one tester, but the tester changed and nothing is known of that), "first visit, no comparison", or
    "no comparison: " with the reason. ``change_pct`` and its bounds are in ``unit``: percent of the earlier
    value for torque, work and power, the measure's own unit for ratios, side differences and angles.
    ``detectable_pct`` is what error alone makes in 19 of 20 cases, in the direction of the change.
    ``beyond_worthwhile`` says that the whole interval lies beyond the smallest worthwhile change on one side;
    None where that change is not known. ``marks`` says what else may explain the change.
    """

    word: str
    change_pct: float | None = None
    detectable_pct: float | None = None
    since: str = ""
    unit: str = "%"
    low_pct: float | None = None
    high_pct: float | None = None
    worthwhile_pct: float | None = None
    beyond_worthwhile: bool | None = None
    worthwhile_remark: str = ""
    chance_higher: float | None = None
    chance_trivial: float | None = None
    chance_lower: float | None = None
    error: str = ""
    rig: str = ""
    rig_explains_pct: float | None = None
    marks: tuple[str, ...] = ()
    main: bool = True

    @property
    def real(self) -> bool:
        """Whether the change is larger than what error alone makes in 19 of 20 cases."""
        return self.word.endswith("beyond error")

    @property
    def judged(self) -> bool:
        """Whether there was anything to compare."""
        return self.change_pct is not None

    @property
    def marked(self) -> bool:
        """Whether a page marks it: a real change of one of the protocol's two main measures."""
        return self.real and self.main


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
        judged = _judged(now, before, of_tester, share, worthwhile.value)
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


def typical_error(region: str) -> TypicalError:
    """The shipped typical error of peak torque for a body region, with its source."""
    found = published_error((), Wanted("peak torque", region))
    assert found is not None
    return TypicalError(found.value, found.source)


def last_results(
    book: ResultBook, visit: Visit, athlete_id: str
) -> dict[tuple[str, str, str, float, str], tuple[Visit, DirectionResult]]:
    """The athlete's latest earlier result for each protocol, side, mode, speed and direction, over all sites.

    An athlete who was entered twice is one person.
    """
    visits = {kept.record.id: kept.record for _, kept in everywhere(book.workspace, Visit)}
    latest: dict[tuple[str, str, str, float, str], tuple[Visit, DirectionResult]] = {}
    for kept in _sets_of(book.workspace, athlete_id):
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


def _sets_of(workspace: Workspace, athlete_id: str) -> Iterator[Kept[EffortSet]]:
    for known_as in same_person(workspace.team, athlete_id):
        for _, kept in everywhere(workspace, EffortSet, athlete_id=known_as):
            yield kept


def comparison_key(result: DirectionResult) -> tuple[str, str, str, float, str]:
    """What two results must share to be compared at all."""
    record = result.record
    return (record.protocol_id, record.side, record.mode, record.speed_deg_s, result.direction)


def chance_words(changes: Iterable[Change]) -> str:
    """How many marks chance alone would make among these changes, in a sentence; empty where none was judged."""
    from fieldlog.analysis.error_bank import expected_chance_marks

    main = [change for change in changes if change.main and change.judged]
    if not main:
        return ""
    marked = sum(change.marked for change in main)
    expected = expected_chance_marks(len(main), CONFIDENCE)
    return (
        f"{len(main)} change{'s' if len(main) > 1 else ''} judged, {marked} marked; if nobody had changed, "
        f"chance alone would mark about {expected:.1f}"
    )


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


def _judged(
    now: Score, before: Score, error: ErrorInUse, share: RigShare, worthwhile: float | None
) -> dict[str, Any]:
    from fieldlog.analysis.change import judge_change

    logarithmic = now.measure.scale == "log"
    # Relative uncertainties of the rig are those of a logarithm; a ratio needs them in its own points.
    size = 1.0 if logarithmic else abs(before.value)
    change = now.measure.judged(now.value) - before.measure.judged(before.value)
    verdict = judge_change(
        change,
        error.value,
        worthwhile,
        te_dof=error.dof,
        u_rig_first=share.u_first * size,
        u_rig_second=share.u_second * size,
        confidence=CONFIDENCE,
    )
    shown = _percent if logarithmic else float
    word = f"{'higher' if change > 0 else 'lower'}, beyond error" if verdict.real else WITHIN_ERROR
    known = worthwhile is not None
    return {
        "word": word,
        "change_pct": shown(change),
        "detectable_pct": abs(shown(math.copysign(verdict.mdc, change))),
        "low_pct": shown(verdict.low),
        "high_pct": shown(verdict.high),
        "worthwhile_pct": shown(worthwhile) if worthwhile is not None else None,
        "beyond_worthwhile": verdict.beyond_swc if known else None,
        "chance_higher": verdict.chance_higher if known else None,
        "chance_trivial": verdict.chance_trivial if known else None,
        "chance_lower": verdict.chance_lower if known else None,
    }


def _percent(logarithm: float) -> float:
    return 100.0 * math.expm1(logarithm)
