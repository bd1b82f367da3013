"""Which of the team's tests count as repeated without treatment, and what they must share to give one error."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Literal

from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.change.comparability import ranges_agree, refusal
from fieldlog.fieldwork.change.trial_book import TrialBook
from fieldlog.fieldwork.change.trials import Line, Score, WeightWay, weight_way
from fieldlog.fieldwork.results.measure_list import Measure
from fieldlog.records.protocol import Direction, Mode, Side
from fieldlog.records.repeat_span import RepeatSpan

__all__ = ["REPEAT_DAYS", "ErrorKey", "RepeatedTests", "Tester", "key_of", "repetition_class"]

REPEAT_DAYS = 14
"""Tests of an athlete this many days apart or fewer count as repeated without treatment, unless the team
says otherwise with a span (common practice)."""

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


class RepeatedTests:
    """The repeated tests of a workspace, found once."""

    def __init__(self, trials: TrialBook) -> None:
        self.trials = trials
        self._runs: dict[tuple[Measure, str], list[list[Score]]] = {}

    def runs(self, key: ErrorKey, measure: Measure) -> list[list[Score]]:
        """The runs of tests of one athlete each that share a key: by one tester, or pairs by two."""
        return _split(self._chains(measure, key.plan_id), key)

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
                found[person] = self.trials.lines([person])
        return found

    @cached_property
    def _spans(self) -> list[RepeatSpan]:
        return [kept.record for kept in of_team(self.trials.workspace, RepeatSpan).all()]


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
