"""What can be asked of a squad's tests, and of whom."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any

from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.change.trials import Line
from fieldlog.fieldwork.change.worthwhile import age_band
from fieldlog.fieldwork.results.measure_list import MEASURES, Measure, main_directions, main_speed_deg_s
from fieldlog.records.athlete import Athlete
from fieldlog.records.protocol import Direction, Mode, Side

__all__ = ["EVERYBODY", "SquadFilter", "SquadQuestion", "filter_choices", "questions"]


@dataclass(frozen=True)
class SquadQuestion:
    """What is looked at: a measure under a protocol at one speed, mode and direction."""

    measure: Measure
    protocol_id: str
    mode: Mode
    speed_deg_s: float
    direction: Direction

    @property
    def sides(self) -> tuple[Side, ...]:
        """The sides whose rows answer it; a side difference stands in the row of the right one."""
        return ("right",) if self.measure.of == "sides" else ("left", "right", "both")

    def line(self, side: Side) -> Line:
        """The row of one side."""
        return Line(self.protocol_id, side, self.mode, self.speed_deg_s, self.direction)


@dataclass(frozen=True)
class SquadFilter:
    """Whom it is about; None keeps everybody. Days bound the figures that count as latest."""

    squad: str | None = None
    position: str | None = None
    sex: str | None = None
    age_band: str | None = None
    side: Side | None = None
    since: dt.date | None = None
    until: dt.date | None = None

    def with_choice(self, field: str, value: str | None) -> SquadFilter:
        """The filter with one field of ``filter_choices`` set, or dropped."""
        changed: dict[str, Any] = {field: value}
        return replace(self, **changed)

    def keeps_side(self, side: Side, measure: Measure) -> bool:
        """Whether a side is among those asked for; a side difference is about both."""
        return self.side in (None, side) or measure.of == "sides"

    def keeps_day(self, day: dt.date) -> bool:
        """Whether a day lies within the bounds."""
        return (self.since or day) <= day <= (self.until or day)

    def keeps(self, athlete: Athlete) -> bool:
        """Whether an athlete is among those asked for."""
        asked = (self.squad, self.position, self.sex, self.age_band)
        own = (athlete.squad, athlete.position, athlete.sex, age_band(athlete))
        return all(wanted is None or wanted == has for wanted, has in zip(asked, own, strict=True))


EVERYBODY = SquadFilter()


def filter_choices(comparer: Comparer) -> list[tuple[str, str]]:
    """What a filter can keep: field and value, as the team's athletes have them."""
    people = list(comparer.trials.book.athletes.values())
    values: dict[str, set[str]] = {
        "squad": {athlete.squad for athlete in people},
        "position": {athlete.position for athlete in people},
        "sex": {athlete.sex or "" for athlete in people},
        "age_band": {age_band(athlete) for athlete in people},
        "side": {"left", "right"},
    }
    return [(field, value) for field, known in values.items() for value in sorted(known) if value]


def questions(comparer: Comparer, asked: SquadFilter = EVERYBODY) -> list[SquadQuestion]:
    """What can be asked of the squad's tests, main measures first: everything somebody has a figure for."""
    people = [athlete.id for athlete in comparer.trials.book.athletes.values() if asked.keeps(athlete)]
    found: dict[SquadQuestion, tuple[bool, str, float, str, int]] = {}
    for line in comparer.trials.lines(people):
        protocol = comparer.trials.book.protocol(line.protocol_id)
        for place, measure in enumerate(MEASURES.values()):
            if measure.of == "set" and (protocol.ratio_numerator is None or line.direction == "down"):
                continue
            if measure.of == "sides" and line.side == "both":
                continue
            main = (
                place == 0
                and line.direction in main_directions(protocol)
                and line.speed_deg_s == main_speed_deg_s(protocol)
            )
            question = SquadQuestion(measure, line.protocol_id, line.mode, line.speed_deg_s, line.direction)
            order = (not main, line.protocol_id, line.speed_deg_s, line.direction, place)
            found.setdefault(question, order)
    return sorted(found, key=lambda question: found[question])
