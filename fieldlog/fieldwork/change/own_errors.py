"""The team's own error bank: typical errors from its repeated tests, leaning on published ones until there are enough."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from fieldlog.count_words import counted
from fieldlog.fieldwork.change.published_errors import PublishedError, Wanted, published_error, typed_errors
from fieldlog.fieldwork.change.repeated_tests import ErrorKey, RepeatedTests, Tester, key_of
from fieldlog.fieldwork.change.trial_book import TrialBook
from fieldlog.fieldwork.change.trials import Score
from fieldlog.fieldwork.results.measure_list import Measure
from fieldlog.records.typed_error import TypedError

__all__ = ["ErrorBank", "ErrorInUse", "OwnError"]

FEWEST_FOR_DOUBT = 5


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
        pairs = counted(self.pairs, "own pair")
        if self.own_pct >= 100.0:
            return pairs
        if self.pairs == 0:
            return f"{self.source}; no own repeated tests yet"
        return f"{pairs}, shrunk towards {self.source}"


class ErrorBank:
    """Typical errors of a workspace. First visits are familiarisation and left out unless asked for."""

    def __init__(self, trials: TrialBook, *, with_first_visits: bool = False) -> None:
        self.trials = trials
        self.with_first_visits = with_first_visits
        self._own: dict[ErrorKey, OwnError | None] = {}
        self._repeated = RepeatedTests(trials)

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
        runs, left_out = self._used(key, measure)
        if not runs:
            return None
        # Loads the numerical library, which a page without repeated tests need not wait for.
        from fieldlog.analysis.repeats import typical_error_of_tests

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
        runs = self._repeated.runs(key, measure)
        familiar = [
            [score for score in run if self.with_first_visits or not score.trial.first_visit] for run in runs
        ]
        used = [run for run in familiar if len(run) >= 2]
        return used, sum(len(run) - 1 for run in runs) - sum(len(run) - 1 for run in used)

    @cached_property
    def _typed(self) -> list[TypedError]:
        return [kept.record for kept in typed_errors(self.trials.workspace)]


def _on_scale(published: PublishedError, score: Score) -> float:
    """A published error on the scale the measure is judged on, at the score's size."""
    if score.measure.scale == "log":
        share = published.value / 100.0 if published.unit == "pct" else published.value / score.value
        return math.log1p(share)
    return published.value if published.unit == "points" else published.value / 100.0 * abs(score.value)
