"""What the season's page says of a squad: who changed, what was tested, what is due; drawn by the sheets."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fieldlog.errors import InputError, NotFoundError
from fieldlog.fieldwork.books import everywhere
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.change.judged_change import Change, chance_words
from fieldlog.fieldwork.change.trials import Score
from fieldlog.fieldwork.results.measure_list import MEASURES, PEAK, main_directions, main_speed_deg_s
from fieldlog.fieldwork.results.results import quality_word
from fieldlog.fieldwork.squad.retests import DueRetest, retests_due
from fieldlog.fieldwork.squad.season_history import SquadDay, squad_history
from fieldlog.fieldwork.squad.squad_questions import SquadFilter, SquadQuestion
from fieldlog.records.protocol import Protocol, Side
from fieldlog.records.rig_check import RigCheck

__all__ = ["CAUTIONS", "SeasonLine", "SeasonMeasure", "SeasonReport", "season_days", "season_report"]

SEASON_DAYS = 365
COVERS_BY_CONCERN = ("suspect", "unverified", "provisional", "confirmed")
QUALITIES = ("good", "note", "warning", "stop")
ONE_TEST = "no comparison: one test in the season"
CAUTIONS = (
    "These are training figures, not a diagnosis. Pain, injury or doubt: ask medical staff before training on.",
    "A change within the error of the test is no change; a change beyond it does not say why.",
)


@dataclass(frozen=True)
class SeasonLine:
    """One athlete and side over the season: first and last figure, and the change between them.

    The first visit ever is familiarisation: it is left out where there are two others. ``cover`` and
    ``quality`` are the less certain of the two figures'.
    """

    code: str
    side: Side
    tests: int
    first_date: dt.date
    first: float
    last_date: dt.date
    last: float
    change: Change
    cover: str
    quality: str


@dataclass(frozen=True)
class SeasonMeasure:
    """One main measure of a protocol: a line an athlete and side, and the squad's days."""

    protocol: Protocol
    question: SquadQuestion
    name: str
    unit: str
    lines: tuple[SeasonLine, ...]
    days: tuple[SquadDay, ...]


@dataclass(frozen=True)
class SeasonReport:
    """Everything the season's page prints. Holds no health data.

    ``people`` and ``tested`` count persons, ``test_days`` days with a counted test, whatever covers it. ``not_tested`` are athletes of the squad without a counted test in the season; ``rig_checks`` counts
    verdicts, ``covers`` the figures' covers. ``names_nobody`` asks for a page without codes or order: a
    squad with minors is not set out in public.
    """

    squad: str
    first_day: dt.date
    last_day: dt.date
    people: int
    tested: int
    test_days: int
    measures: tuple[SeasonMeasure, ...]
    not_tested: tuple[str, ...]
    due: tuple[DueRetest, ...]
    rig_checks: Mapping[str, int]
    covers: Mapping[str, int]
    errors: tuple[str, ...]
    chance: str
    names_nobody: bool
    cautions: tuple[str, ...] = CAUTIONS


def season_report(comparer: Comparer, squad: str, first_day: dt.date, last_day: dt.date) -> SeasonReport:
    """Put a squad's season together from the main measures of every protocol it was tested under.

    Nothing rests on tests after the last day.
    Raises NotFoundError where the squad has no athlete, InputError where the days run backwards.
    """
    if last_day < first_day:
        raise InputError(f"the season ends on {last_day}, before it begins", "give the first day first")
    people = [athlete for athlete in comparer.trials.book.athletes.values() if athlete.squad == squad]
    if not people:
        raise NotFoundError(f"squad {squad!r} has no athlete", "see the squad list for the names")
    comparer = comparer.upto(last_day)
    asked = SquadFilter(squad=squad, since=first_day, until=last_day)
    in_season = {
        athlete.id: [
            trial for trial in comparer.trials.trials(athlete.id) if asked.keeps_day(trial.visit.date)
        ]
        for athlete in people
    }
    protocol_ids = sorted({trial.record.protocol_id for trials in in_season.values() for trial in trials})
    measures, errors = [], dict[str, None]()
    for protocol_id in protocol_ids:
        protocol = comparer.trials.book.protocol(protocol_id)
        for direction in main_directions(protocol):
            modes = [each.mode for each in protocol.sets if each.speed_deg_s == main_speed_deg_s(protocol)]
            question = SquadQuestion(
                MEASURES[PEAK], protocol_id, modes[0], main_speed_deg_s(protocol), direction
            )
            lines = _lines(comparer, question, asked, errors)
            if lines:
                measures.append(
                    SeasonMeasure(
                        protocol=protocol,
                        question=question,
                        name=protocol.direction_name(direction),
                        unit=question.measure.unit,
                        lines=tuple(lines),
                        days=squad_history(comparer, question, asked),
                    )
                )
    return SeasonReport(
        squad=squad,
        first_day=first_day,
        last_day=last_day,
        people=len({comparer.trials.person(athlete_id) for athlete_id in in_season}),
        tested=len({comparer.trials.person(athlete_id) for athlete_id, of in in_season.items() if of}),
        test_days=len({trial.visit.date for of in in_season.values() for trial in of}),
        measures=tuple(measures),
        not_tested=tuple(sorted(athlete.code for athlete in people if not in_season[athlete.id])),
        due=tuple(_due(comparer, squad, {athlete.id for athlete in people}, last_day)),
        rig_checks=_checks(
            comparer, {trial.record.rig_id for of in in_season.values() for trial in of}, asked
        ),
        covers=Counter(trial.result.cover.word for of in in_season.values() for trial in of),
        errors=tuple(errors),
        chance=chance_words(line.change for measure in measures for line in measure.lines),
        names_nobody=any(athlete.minor for athlete in people),
    )


def season_days(
    comparer: Comparer, squad: str, first_day: dt.date | None = None, last_day: dt.date | None = None
) -> tuple[dt.date, dt.date]:
    """The days of a season, where not given: a year up to the squad's latest day with a counted test.

    Raises NotFoundError where the squad has no athlete, or no test to tell the last day by.
    """
    people = [athlete.id for athlete in comparer.trials.book.athletes.values() if athlete.squad == squad]
    if not people:
        raise NotFoundError(f"squad {squad!r} has no athlete", "see the squad list for the names")
    if last_day is None:
        days = [trial.visit.date for athlete_id in people for trial in comparer.trials.trials(athlete_id)]
        if not days:
            raise NotFoundError(f"squad {squad!r} has no counted test yet", "give the season's days")
        last_day = max(days)
    return first_day or last_day - dt.timedelta(days=SEASON_DAYS), last_day


def _lines(
    comparer: Comparer, question: SquadQuestion, asked: SquadFilter, errors: dict[str, None]
) -> list[SeasonLine]:
    found: dict[tuple[str, Side], SeasonLine] = {}
    athletes = sorted(comparer.trials.book.athletes.values(), key=lambda athlete: (athlete.code, athlete.id))
    for athlete in athletes:
        if not asked.keeps(athlete):
            continue
        person = comparer.trials.person(athlete.id)
        for side in question.sides:
            scores = [
                score
                for score in comparer.trials.scores(person, question.measure, question.line(side))
                if asked.keeps_day(score.trial.visit.date)
            ]
            if not scores or (person, side) in found:
                continue
            first, last = _ends(scores)
            error = comparer.bank.in_use(last)
            if error is not None:
                errors[error.words] = None
            found[person, side] = SeasonLine(
                code=athlete.code,
                side=side,
                tests=len(scores),
                first_date=first.trial.visit.date,
                first=first.value,
                last_date=last.trial.visit.date,
                last=last.value,
                change=comparer.scores(last, first) if last is not first else Change(ONE_TEST),
                cover=min((first.cover, last.cover), key=COVERS_BY_CONCERN.index),
                quality=max(
                    (quality_word(score.trial.record.measures) for score in (first, last)),
                    key=QUALITIES.index,
                ),
            )
    return list(found.values())


def _ends(scores: Sequence[Score]) -> tuple[Score, Score]:
    familiar = [score for score in scores if not score.trial.first_visit]
    kept = familiar if len(familiar) >= 2 else scores
    return kept[0], kept[-1]


def _due(comparer: Comparer, squad: str, people: set[str], day: dt.date) -> list[DueRetest]:
    return [
        due
        for due in retests_due(comparer.workspace, day, upto=day)
        if due.kept.record.squad == squad or due.kept.record.athlete_id in people
    ]


def _checks(comparer: Comparer, rigs: set[str], asked: SquadFilter) -> Mapping[str, int]:
    """Verdicts of the checks of the rigs the squad was tested on, within the season."""
    return Counter(
        kept.record.verdict
        for _, kept in everywhere(comparer.workspace, RigCheck)
        if kept.record.rig_id in rigs and asked.keeps_day(kept.record.at.date())
    )
