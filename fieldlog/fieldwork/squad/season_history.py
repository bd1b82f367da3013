"""How a measure went over a season: one athlete's visits, and a squad's."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.change.judged_change import Change
from fieldlog.fieldwork.change.trials import Line, Score
from fieldlog.fieldwork.results.measure_list import Measure
from fieldlog.fieldwork.results.results import quality_word
from fieldlog.fieldwork.squad.squad_questions import EVERYBODY, SquadFilter, SquadQuestion

if TYPE_CHECKING:
    from fieldlog.analysis.squad import Interval

__all__ = [
    "AthleteHistory",
    "HistoryPoint",
    "SquadDay",
    "athlete_history",
    "latest_squad_day",
    "squad_history",
]

FEWEST_FOR_MEAN_CHANGE = 3


@dataclass(frozen=True)
class HistoryPoint:
    """One visit: the figure with its own 95 % interval, and the change since the visit before."""

    date: dt.date
    value: float
    low: float | None
    high: float | None
    cover: str
    quality: str
    tester: str
    first_visit: bool
    change: Change


@dataclass(frozen=True)
class AthleteHistory:
    """An athlete's figures by time. ``overall`` compares the last with the first after familiarisation."""

    measure: Measure
    line: Line
    points: tuple[HistoryPoint, ...]
    overall: Change | None


@dataclass(frozen=True)
class SquadDay:
    """A squad on one day: how many, their mean, and the mean change of those who were there the time before.

    The change is in percent for measures judged on logarithms, else in their own unit, with its 95 % t
    interval; only changes that may be compared at all count.
    """

    date: dt.date
    people: int
    mean: Interval | None
    mean_change: Interval | None
    changes: int


def athlete_history(comparer: Comparer, athlete_id: str, measure: Measure, line: Line) -> AthleteHistory:
    """A person's scores of one row over all visits and sites."""
    scores = comparer.trials.scores(athlete_id, measure, line)
    points = tuple(
        HistoryPoint(
            date=score.trial.visit.date,
            value=score.value,
            low=error.interval(score.value)[0] if error else None,
            high=error.interval(score.value)[1] if error else None,
            cover=score.cover,
            quality=quality_word(score.trial.record.measures),
            tester=score.trial.record.by,
            first_visit=score.trial.first_visit,
            change=comparer.latest(score),
        )
        for score in scores
        for error in (comparer.bank.in_use(score),)
    )
    familiar = [score for score in scores if not score.trial.first_visit]
    overall = comparer.scores(familiar[-1], familiar[0]) if len(familiar) >= 2 else None
    return AthleteHistory(measure, line, points, overall)


def squad_history(
    comparer: Comparer, question: SquadQuestion, asked: SquadFilter = EVERYBODY
) -> tuple[SquadDay, ...]:
    """A squad's days in order; figures that the rig leaves open do not count.

    Both sides of an athlete are averaged, so that nobody counts twice. No test after ``asked.until`` counts.
    """
    comparer, by_day = _by_day(comparer, question, asked)
    return tuple(_squad_day(comparer, day, by_day[day]) for day in sorted(by_day))


def latest_squad_day(
    comparer: Comparer, question: SquadQuestion, asked: SquadFilter = EVERYBODY
) -> SquadDay | None:
    """The last of a squad's days alone, None where there is none; see ``squad_history``."""
    comparer, by_day = _by_day(comparer, question, asked)
    if not by_day:
        return None
    last = max(by_day)
    return _squad_day(comparer, last, by_day[last])


def _by_day(
    comparer: Comparer, question: SquadQuestion, asked: SquadFilter
) -> tuple[Comparer, dict[dt.date, dict[str, list[Score]]]]:
    """The scores of each person on each day, and the comparer that sees no later ones."""
    if asked.until is not None:
        comparer = comparer.upto(asked.until)
    by_day: dict[dt.date, dict[str, list[Score]]] = {}
    for athlete in comparer.trials.book.athletes.values():
        if not asked.keeps(athlete):
            continue
        person = comparer.trials.person(athlete.id)
        for side in question.sides:
            if not asked.keeps_side(side, question.measure):
                continue
            for score in comparer.trials.scores(person, question.measure, question.line(side)):
                date = score.trial.visit.date
                if asked.keeps_day(date) and score.usable:
                    of_person = by_day.setdefault(date, {}).setdefault(person, [])
                    if all(known.line != score.line for known in of_person):
                        of_person.append(score)
    return comparer, by_day


def _squad_day(comparer: Comparer, date: dt.date, people: dict[str, list[Score]]) -> SquadDay:
    from fieldlog.analysis.squad import mean_interval

    values = [math.fsum(score.value for score in scores) / len(scores) for scores in people.values()]
    changes = []
    for scores in people.values():
        of_person = [change for change in map(comparer.latest, scores) if change.change_pct is not None]
        if of_person:
            changes.append(math.fsum(_step(change) for change in of_person) / len(of_person))
    mean_change = mean_interval(changes) if len(changes) >= FEWEST_FOR_MEAN_CHANGE else None
    percent = any(score.measure.scale == "log" for scores in people.values() for score in scores)
    return SquadDay(
        date=date,
        people=len(values),
        mean=mean_interval(values) if len(values) >= 2 else None,
        mean_change=_in_percent(mean_change) if mean_change and percent else mean_change,
        changes=len(changes),
    )


def _step(change: Change) -> float:
    """A change on the scale on which changes add up."""
    assert change.change_pct is not None
    return math.log1p(change.change_pct / 100.0) if change.unit == "%" else change.change_pct


def _in_percent(interval: Interval) -> Interval:
    from fieldlog.analysis.squad import Interval

    numbers: Sequence[float] = (interval.mean, interval.low, interval.high, interval.sd)
    return Interval(*(100.0 * math.expm1(number) for number in numbers))
