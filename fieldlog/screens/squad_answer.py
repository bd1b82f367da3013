"""What the squad room shows of one question, read in one go."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.change.side_difference import SideDifference
from fieldlog.fieldwork.results.measure_list import MEASURES
from fieldlog.fieldwork.squad.season_history import SquadDay, latest_squad_day
from fieldlog.fieldwork.squad.squad_questions import SquadFilter, SquadQuestion, questions
from fieldlog.fieldwork.squad.squad_view import SquadView, squad_view

__all__ = ["Answer", "answer"]

SIDES = MEASURES["side_difference_pct"]


@dataclass(frozen=True)
class Answer:
    """What was read for one question: the squad, side differences by athlete, the squad's last day."""

    questions: list[SquadQuestion]
    question: SquadQuestion | None
    view: SquadView | None
    sides: dict[str, SideDifference]
    last_day: SquadDay | None


def answer(comparer: Comparer, wanted: SquadQuestion | None, asked: SquadFilter) -> Answer:
    """Read what is wanted, or the first question anybody has a figure for."""
    known = questions(comparer, asked)
    question = wanted if wanted in known else (known[0] if known else None)
    if question is None:
        return Answer(known, None, None, {}, None)
    return Answer(
        known,
        question,
        squad_view(comparer, question, asked),
        _side_differences(comparer, question, asked, known),
        latest_squad_day(comparer, question, asked),
    )


def _side_differences(
    comparer: Comparer, question: SquadQuestion, asked: SquadFilter, known: list[SquadQuestion]
) -> dict[str, SideDifference]:
    of_sides = replace(question, measure=SIDES)
    if of_sides not in known:
        return {}
    rows = squad_view(comparer, of_sides, asked).rows
    return {row.athlete_id: row.sides for row in rows if row.sides is not None}
