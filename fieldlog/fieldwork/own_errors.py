"""The team's own error bank: typical errors from its repeated tests, leaning on published ones until there are enough."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Literal

from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.comparability import ranges_agree, refusal
from fieldlog.fieldwork.measure_list import Measure
from fieldlog.fieldwork.published_errors import PublishedError, Wanted, published_error, typed_errors
from fieldlog.fieldwork.trials import Line, Score, TrialBook, WeightWay, weight_way
from fieldlog.records.protocol import Direction, Mode, Side
from fieldlog.records.repeat_span import RepeatSpan
from fieldlog.records.typed_error import TypedError

__all__ = ["REPEAT_DAYS", "ErrorBank", "ErrorInUse", "ErrorKey", "OwnError", "key_of", "repetition_class"]

REPEAT_DAYS = 14
"""Tests of an athlete this many days apart or fewer count as repeated without treatment, unless the team
says otherwise with a span (common practice)."""

FEWEST_FOR_DOUBT = 5
Tester = Literal["same", "changed"]
_CLASSES = ((2, "1–2"), (3, "3"), (5, "4–5"), (8, "6–8"), (14, "9–14"))


@dataclass(frozen=True)
class ErrorKey:
    """What repeated tests must share to speak of one error. ``measure`` holds whether best or mean is meant."""

    measure: str
    plan_id: str
    direction: Direction | None
    speed_deg_s: float
    side: Side
    mode: Mode
    repetitions: str
    weight: WeightWay
    rig_id: str
    tester: Tester = "same"


@dataclass(frozen=True)
class OwnError:
    """A typical error from the team's repeated tests: SD of logarithms, or in the measure's own unit.

    ``pairs`` counts tests repeated once more, ``left_out`` those not used because one was a first visit.
    """

    value: float
    dof: int
    pairs: int
    athletes: int
    left_out: int = 0


@dataclass(frozen=True)
class ErrorInUse:
    """The typical error a change is judged by, on the measure's own scale, and what it rests on."""

    value: float
    dof: float
    scale: Literal["log", "plain"]
    pairs: int
    own_pct: float
    source: str

    @property
    def percent(self) -> float | None:
        """As a coefficient of variation in percent; None for measures judged as they are."""
        return 100.0 * math.expm1(self.value) if self.scale == "log" else None

    def interval(self, value: float, confidence: float = 0.95) -> tuple[float, float]:
        """Bounds of a single figure: t at the error's degrees of freedom times the typical error."""
        from fieldlog.analysis.calibration import coverage_factor

        reach = coverage_factor(self.dof, confidence) * self.value
        if self.scale == "log":
            return value * math.exp(-reach), value * math.exp(reach)
        return value - reach, value + reach

    @property
    def words(self) -> str:
        """What it is and rests on, in a sentence."""
        size = f"{self.percent:.1f} %" if self.percent is not None else f"{self.value:.1f}"
        return f"typical error {size}: {self.rests_on}"

    @property
    def rests_on(self) -> str:
        """What the error rests on, in a few words."""
        pairs = f"{self.pairs} own pair{'' if self.pairs == 1 else 's'}"
        if self.own_pct >= 100.0:
            return pairs
        if self.pairs == 0:
            return f"{self.source}; no own repeated tests yet"
        return f"{pairs}, shrunk towards {self.source}"


def repetition_class(repetitions: int) -> str:
    """Class of a number of repetitions, within which a best is a best of about as many."""
    return next((name for most, name in _CLASSES if repetitions <= most), "15 or more")


def key_of(score: Score, tester: Tester = "same") -> ErrorKey:
    """What the error of a score depends on."""
    trial, measure = score.trial, score.measure
    return ErrorKey(
        measure=measure.key,
        plan_id=trial.protocol.plan_id,
        direction=None if measure.of == "set" else score.line.direction,
        speed_deg_s=score.line.speed_deg_s,
        side="both" if measure.of == "sides" else score.line.side,
        mode=score.line.mode,
        repetitions=repetition_class(trial.repetitions),
        weight=weight_way(trial.record),
        rig_id=trial.record.rig_id,
        tester=tester,
    )


class ErrorBank:
    """Typical errors of a workspace. First visits are familiarisation and left out unless asked for."""

    def __init__(self, trials: TrialBook, *, with_first_visits: bool = False) -> None:
        self.trials = trials
        self.with_first_visits = with_first_visits
        self._own: dict[ErrorKey, OwnError | None] = {}
        self._runs: dict[tuple[Measure, str], list[list[Score]]] = {}

    def in_use(self, score: Score, tester: Tester = "same") -> ErrorInUse | None:
        """The error a score is judged by: own tests shrunk towards a published value.

        The rule is ``analysis.error_bank.shrink_error``: from 30 degrees of freedom on own tests stand alone.
        None for a changed tester about whom nothing is known.
        """
        from fieldlog.analysis.error_bank import shrink_error

        own = self.own(score, tester)
        published = self.published(score, tester)
        scale, pairs = score.measure.scale, own.pairs if own else 0
        if published is None:
            if own is None:
                return None
            return ErrorInUse(own.value, own.dof, scale, pairs, 100.0, "")
        value = _on_scale(published, score)
        if own is None:
            return ErrorInUse(value, published.dof, scale, pairs, 0.0, published.source)
        shrunk = shrink_error(own.value, own.dof, value, published_dof=published.dof)
        return ErrorInUse(shrunk.value, shrunk.dof, scale, pairs, shrunk.own_pct, published.source)

    def own(self, score: Score, tester: Tester = "same") -> OwnError | None:
        """The error from the team's own repeated tests alone; None where there are none."""
        key = key_of(score, tester)
        if key not in self._own:
            self._own[key] = self._estimate(key, score.measure)
        return self._own[key]

    def published(self, score: Score, tester: Tester = "same") -> PublishedError | None:
        """The typed-in or shipped error for a score."""
        protocol, line = score.trial.protocol, score.line
        return published_error(
            self._typed,
            Wanted(
                family=score.measure.family,
                region=protocol.region,
                plan_id=protocol.plan_id,
                direction=line.direction,
                speed_deg_s=line.speed_deg_s,
                mode=line.mode,
                tester=tester,
            ),
        )

    def doubtful(self, score: Score, tester: Tester = "same") -> list[tuple[Score, float]]:
        """Repeated tests that look like entry errors, each with the value expected; none under five runs.

        They stay in the error until somebody corrects or leaves out the set.
        """
        from fieldlog.analysis.doubtful import doubtful_scores

        runs = self.repeats(score, tester)
        if len(runs) < FEWEST_FOR_DOUBT:
            return []
        longest = max(len(run) for run in runs)
        table = [[test.value for test in run] + [math.nan] * (longest - len(run)) for run in runs]
        return [(runs[each.athlete][each.visit], each.expected) for each in doubtful_scores(table)]

    def repeats(self, score: Score, tester: Tester = "same") -> list[list[Score]]:
        """The team's repeated tests behind the error of a score: one list a run of tests of one athlete."""
        return self._used(key_of(score, tester), score.measure)[0]

    def _estimate(self, key: ErrorKey, measure: Measure) -> OwnError | None:
        from fieldlog.analysis.repeats import typical_error_of_tests

        runs, left_out = self._used(key, measure)
        shared = Counter(score.trial.visit.id for run in runs for score in run)
        athletes, visits, values = [], [], []
        for number, run in enumerate(runs):
            for place, score in enumerate(run):
                visit_id = score.trial.visit.id
                athletes.append(str(number))
                # What a day did to everybody is no error of the test; of a day with one athlete it is not known.
                visits.append(visit_id if shared[visit_id] > 1 else f"alone {place}")
                values.append(measure.judged(score.value))
        found = typical_error_of_tests(athletes, visits, values)
        if found is None:
            return None
        people = {self.trials.person(run[0].trial.record.athlete_id) for run in runs}
        return OwnError(
            *found, pairs=sum(len(run) - 1 for run in runs), athletes=len(people), left_out=left_out
        )

    def _used(self, key: ErrorKey, measure: Measure) -> tuple[list[list[Score]], int]:
        """The runs of a key without first visits, and how many pairs those would have made."""
        runs = _split(self._chains(measure, key.plan_id), key)
        familiar = [
            [score for score in run if self.with_first_visits or not score.trial.first_visit] for run in runs
        ]
        used = [run for run in familiar if len(run) >= 2]
        return used, sum(len(run) - 1 for run in runs) - sum(len(run) - 1 for run in used)

    def _chains(self, measure: Measure, plan_id: str) -> list[list[Score]]:
        """Tests of each athlete repeated without treatment, in each row under a plan, by time."""
        if (measure, plan_id) not in self._runs:
            chains: list[list[Score]] = []
            for athlete_id, lines in self._repeated_lines.items():
                for line in lines:
                    # A ratio stands in the rows of both directions, a side difference in those of both sides.
                    twice = (measure.of == "set" and line.direction == "down") or (
                        measure.of == "sides" and line.side != "right"
                    )
                    if twice or self.trials.book.protocol(line.protocol_id).plan_id != plan_id:
                        continue
                    chains += self._chained(self.trials.scores(athlete_id, measure, line))
            self._runs[measure, plan_id] = chains
        return self._runs[measure, plan_id]

    def _chained(self, scores: Sequence[Score]) -> list[list[Score]]:
        chains: list[list[Score]] = []
        for score in scores:
            if chains and self._untreated(chains[-1][-1], score):
                chains[-1].append(score)
            else:
                chains.append([score])
        return [chain for chain in chains if len(chain) >= 2]

    def _untreated(self, before: Score, after: Score) -> bool:
        record = before.trial.record
        return self._without_treatment(record.athlete_id, before.trial.visit.date, after.trial.visit.date)

    def _without_treatment(self, athlete_id: str, first: dt.date, second: dt.date) -> bool:
        """Whether two days of an athlete count as repeated without treatment."""
        if second <= first:
            return False
        athlete = self.trials.book.athletes.get(athlete_id)
        squad = athlete.squad if athlete else ""
        spans = [
            span
            for span in self._spans
            if (span.athlete_id in (None, athlete_id)) and (not span.squad or span.squad == squad)
        ]
        # A treatment between two tests parts them whatever else is said.
        if any(
            span.kind == "treatment" and span.first_day < second and span.last_day > first for span in spans
        ):
            return False
        if (second - first).days <= REPEAT_DAYS:
            return True
        return any(
            span.kind == "repeat" and span.first_day <= first and span.last_day >= second for span in spans
        )

    @cached_property
    def _repeated_lines(self) -> dict[str, list[Line]]:
        """Rows of the athletes who have two visits without treatment between; nobody else is read in full."""
        found = {}
        for person, sets in self.trials.sets.items():
            days = sorted({self.trials.visits[kept.record.visit_id].date for kept in sets})
            if any(self._without_treatment(person, a, b) for a, b in pairwise(days)):
                lines = dict.fromkeys(trial.line for trial in self.trials.trials(person))
                found[person] = list(lines)
        return found

    @cached_property
    def _spans(self) -> list[RepeatSpan]:
        return [kept.record for kept in of_team(self.trials.workspace, RepeatSpan).all()]

    @cached_property
    def _typed(self) -> list[TypedError]:
        return [kept.record for kept in typed_errors(self.trials.workspace)]


def _split(chains: Sequence[Sequence[Score]], key: ErrorKey) -> list[list[Score]]:
    """The runs of a key within the chains: comparable tests by one tester, or pairs by two."""
    runs: list[list[Score]] = []
    for chain in chains:
        run: list[Score] = []
        for score in chain:
            if replace(key_of(score), tester=key.tester) != key:
                run = []
            elif run and _belongs(run, score, key.tester):
                run.append(score)
            else:
                run = [score]
                runs.append(run)
    return [run for run in runs if len(run) >= 2]


def _belongs(run: Sequence[Score], score: Score, tester: str) -> bool:
    first = run[0]
    same = score.trial.record.by == first.trial.record.by
    if tester == "changed":
        if same or len(run) > 1:
            return False
    elif not same:
        return False
    if score.measure.family == "work" and not ranges_agree(score.trial, first.trial):
        return False
    return not refusal(score, first)


def _on_scale(published: PublishedError, score: Score) -> float:
    """A published error on the scale the measure is judged on, at the score's size."""
    if score.measure.scale == "log":
        share = published.value / 100.0 if published.unit == "pct" else published.value / score.value
        return math.log1p(share)
    return published.value if published.unit == "points" else published.value / 100.0 * abs(score.value)
