"""One measure over a squad: each athlete's latest figure with its interval and change, and what the squad says."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.change.judged_change import Change, chance_words
from fieldlog.fieldwork.change.repeated_tests import key_of
from fieldlog.fieldwork.change.side_difference import SideDifference, side_difference
from fieldlog.fieldwork.change.trials import Score
from fieldlog.fieldwork.change.worthwhile import Worthwhile, group_name
from fieldlog.fieldwork.recording.plausible_ranges import implausible_text
from fieldlog.fieldwork.results.results import quality_word
from fieldlog.fieldwork.squad.squad_questions import EVERYBODY, SquadFilter, SquadQuestion
from fieldlog.fieldwork.squad.squad_thresholds import flag_of, thresholds
from fieldlog.records.athlete import Athlete
from fieldlog.records.protocol import Side

if TYPE_CHECKING:
    from fieldlog.analysis.squad import Interval

__all__ = [
    "NamedIcc",
    "SideSummary",
    "SquadRow",
    "SquadView",
    "measure_words",
    "protocol_words",
    "question_words",
    "squad_view",
]

FEWEST_FOR_ICC = 5
ICC_FORM = "ICC(2,1)"


@dataclass(frozen=True)
class SquadRow:
    """One athlete and side. ``low`` to ``high`` is the figure's own 95 % interval from its typical error.

    ``usable`` is False where the rig leaves the figure open: it is shown and kept out of everything the
    squad says. ``z`` and ``percentile`` are None under twenty people; ``flag`` is the team's own threshold,
    ``implausible`` a published value with its source that points at a slip. A side difference carries
    ``sides``: whether it is beyond error, with its own detectable difference.
    """

    athlete_id: str
    code: str
    side: Side
    position: str
    group: str
    date: dt.date
    value: float
    low: float | None
    high: float | None
    cover: str
    usable: bool
    quality: str
    first_visit: bool
    change: Change
    worthwhile: Worthwhile
    z: float | None = None
    percentile: float | None = None
    flag: str = ""
    implausible: str = ""
    error: str = ""
    sides: SideDifference | None = None


@dataclass(frozen=True)
class SideSummary:
    """The people of one side: how many, and their mean with its 95 % t interval (None under two)."""

    people: int
    mean: Interval | None


@dataclass(frozen=True)
class NamedIcc:
    """The one coefficient that is shown, with its name, limits and what it rests on."""

    form: str
    value: float | None
    low: float | None
    high: float | None
    people: int


@dataclass(frozen=True)
class SquadView:
    """What the Squad room shows of one question. Rows are in order of code, never of strength."""

    question: SquadQuestion
    heading: str
    unit: str
    rows: tuple[SquadRow, ...]
    sides: Mapping[Side, SideSummary]
    icc: NamedIcc | None
    errors: tuple[str, ...]
    chance: str
    small_squad: str = ""
    remarks: tuple[str, ...] = ()


def squad_view(comparer: Comparer, question: SquadQuestion, asked: SquadFilter = EVERYBODY) -> SquadView:
    """Put a measure over the squad together; empty rows where nobody has a figure.

    Where the days end with ``asked.until``, errors and changes rest on no later test either.
    """
    if asked.until is not None:
        comparer = comparer.upto(asked.until)
    scores = _latest_scores(comparer, question, asked)
    known = [kept.record for kept in thresholds(comparer.workspace)]
    rows: list[SquadRow] = []
    errors: dict[str, None] = {}
    for athlete, score in scores:
        error = comparer.bank.in_use(score)
        if error is not None:
            errors.setdefault(error.words, None)
        low, high = error.interval(score.value) if error else (None, None)
        rows.append(
            SquadRow(
                athlete_id=athlete.id,
                code=athlete.code,
                side=score.line.side,
                position=athlete.position,
                group=group_name(athlete),
                date=score.trial.visit.date,
                value=score.value,
                low=low,
                high=high,
                cover=score.cover,
                usable=score.usable,
                quality=quality_word(score.trial.record.measures),
                first_visit=score.trial.first_visit,
                change=comparer.latest(score),
                worthwhile=comparer.worthwhile.of(score),
                flag=flag_of(score, known),
                implausible=implausible_text(score, athlete),
                error=error.words if error else "",
                sides=side_difference(comparer, *(trial.result for trial in score.trials))
                if question.measure.of == "sides"
                else None,
            )
        )
    sides = {
        side: [row for row in rows if row.side == side] for side in dict.fromkeys(row.side for row in rows)
    }
    placed = _placed(rows, sides)
    return SquadView(
        question=question,
        heading=question_words(comparer, question),
        unit=question.measure.unit,
        rows=tuple(placed),
        sides={side: _summary(of) for side, of in sides.items()},
        icc=_icc(comparer, [score for _, score in scores]),
        errors=tuple(errors),
        chance=chance_words(row.change for row in placed),
        small_squad=_small_squad(sides),
        remarks=(
            *dict.fromkeys(row.worthwhile.why for row in placed if row.worthwhile.why),
            *_not_counted(placed),
            *_doubtful(comparer, [score for _, score in scores]),
        ),
    )


def question_words(comparer: Comparer, question: SquadQuestion) -> str:
    """Return a question in words: protocol, measure, direction, speed."""
    return f"{protocol_words(comparer, question)}: {measure_words(comparer, question)}"


def protocol_words(comparer: Comparer, question: SquadQuestion) -> str:
    """Return the name of a question's protocol."""
    return comparer.trials.book.protocol(question.protocol_id).name


def measure_words(comparer: Comparer, question: SquadQuestion) -> str:
    """Return a question's measure, direction and speed in words."""
    protocol, measure = comparer.trials.book.protocol(question.protocol_id), question.measure
    direction = "" if measure.of == "set" else f", {protocol.direction_name(question.direction)}"
    name = f"{protocol.ratio_name} ratio" if measure.of == "set" else measure.name
    return f"{name}{direction}, {question.speed_deg_s:g}°/s"


def _latest_scores(
    comparer: Comparer, question: SquadQuestion, asked: SquadFilter
) -> list[tuple[Athlete, Score]]:
    """The latest score of each person and side; a person entered twice stands once."""
    found: dict[tuple[str, Side], tuple[Athlete, Score]] = {}
    measure = question.measure
    athletes = sorted(comparer.trials.book.athletes.values(), key=lambda athlete: (athlete.code, athlete.id))
    for athlete in athletes:
        if not asked.keeps(athlete):
            continue
        person = comparer.trials.person(athlete.id)
        for side in question.sides:
            if not asked.keeps_side(side, measure) or (person, side) in found:
                continue
            scores = comparer.trials.scores(person, measure, question.line(side))
            kept = [score for score in scores if asked.keeps_day(score.trial.visit.date)]
            if kept:
                found[person, side] = (athlete, kept[-1])
    return list(found.values())


def _placed(rows: Sequence[SquadRow], sides: Mapping[Side, Sequence[SquadRow]]) -> list[SquadRow]:
    from fieldlog.analysis.squad import places

    found = {}
    for side, of in sides.items():
        usable = [row for row in of if row.usable]
        for row, place in zip(usable, places([row.value for row in usable]), strict=True):
            found[row.athlete_id, side] = replace(row, z=place.z, percentile=place.percentile)
    return [found.get((row.athlete_id, row.side), row) for row in rows]


def _summary(rows: Sequence[SquadRow]) -> SideSummary:
    from fieldlog.analysis.squad import mean_interval

    values = [row.value for row in rows if row.usable]
    return SideSummary(len(values), mean_interval(values) if len(values) >= 2 else None)


def _small_squad(sides: Mapping[Side, Sequence[SquadRow]]) -> str:
    from fieldlog.analysis.squad import SMALLEST_SQUAD

    largest = max((sum(row.usable for row in of) for of in sides.values()), default=0)
    if largest >= SMALLEST_SQUAD:
        return ""
    return f"{largest} people: z-scores and percentiles from {SMALLEST_SQUAD} on"


def _not_counted(rows: Sequence[SquadRow]) -> tuple[str, ...]:
    waiting = sum(not row.usable for row in rows)
    return (
        (f"{waiting} of {len(rows)} figures are not in the mean: the rig leaves them open",)
        if waiting
        else ()
    )


def _doubtful(comparer: Comparer, scores: Sequence[Score]) -> dict[str, None]:
    """Repeated tests behind the errors that look like entry errors, in a sentence each."""
    found: dict[str, None] = {}
    for score in {key_of(score): score for score in scores}.values():
        for test, expected in comparer.bank.doubtful(score):
            code = comparer.trials.book.code(test.trial.record.athlete_id)
            found[
                f"looks like an entry error: {code}, {test.trial.visit.date}: {test.value:.3g} {test.measure.unit}, "
                f"about {expected:.3g} expected"
            ] = None
    return found


def _icc(comparer: Comparer, scores: Sequence[Score]) -> NamedIcc | None:
    """Agreement of two repeated tests, from the error's own pairs; None under five athletes."""
    best: list[list[float]] = []
    for score in {key_of(score): score for score in scores}.values():
        table = [[test.value for test in run[:2]] for run in comparer.bank.repeats(score)]
        best = max(best, table, key=len)
    if len(best) < FEWEST_FOR_ICC:
        return None
    from fieldlog.analysis.reliability import icc

    form = icc(best)["icc2"]
    return NamedIcc(ICC_FORM, form["value"], form["low"], form["high"], len(best))
