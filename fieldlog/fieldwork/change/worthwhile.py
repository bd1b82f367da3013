"""The smallest worthwhile change of a measure: within one sex and age group of a squad."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import variance

from fieldlog.fieldwork.change.own_errors import ErrorBank
from fieldlog.fieldwork.change.trial_book import TrialBook
from fieldlog.fieldwork.change.trials import Score
from fieldlog.records.athlete import Athlete

__all__ = ["FEWEST_FOR_SPREAD", "Worthwhile", "WorthwhileChanges", "age_band", "group_name"]

FEWEST_FOR_SPREAD = 4
"""Fewer people have no spread worth the name (common practice)."""
FACTOR = 0.2


@dataclass(frozen=True)
class Worthwhile:
    """The smallest worthwhile change on the measure's own scale, None where there is none; ``why`` says so."""

    value: float | None
    group: str
    people: int
    why: str = ""


def age_band(athlete: Athlete) -> str:
    """Under 18 or adult, as the athlete is kept."""
    return "under 18" if athlete.minor else "adult"


def group_name(athlete: Athlete) -> str:
    """Sex and age group in words."""
    return f"{athlete.sex or 'sex not given'}, {age_band(athlete)}"


class WorthwhileChanges:
    """0.2 × the pure spread between the athletes of a squad, sex and age group (Hopkins 2004, after Cohen)."""

    def __init__(self, trials: TrialBook, bank: ErrorBank) -> None:
        self.trials = trials
        self.bank = bank
        self._known: dict[tuple[object, ...], Worthwhile] = {}

    def of(self, score: Score) -> Worthwhile:
        """The smallest worthwhile change for a score.

        The latest score of everybody in the group up to that day counts. The typical error is taken out of
        the spread; where nothing is left there is no such change.
        """
        athlete = self.trials.book.athletes.get(score.trial.record.athlete_id)
        if athlete is None or athlete.sex is None:
            return Worthwhile(None, "", 0, "sex or athlete not on record")
        key = (score.measure, score.line, score.trial.visit.date, athlete.squad, athlete.sex, athlete.minor)
        if key not in self._known:
            self._known[key] = self._of_group(score, athlete)
        return self._known[key]

    def _of_group(self, score: Score, athlete: Athlete) -> Worthwhile:
        from fieldlog.analysis.change import worthwhile_of_variance

        group, latest = group_name(athlete), []
        alike = [
            other
            for other in self.trials.book.athletes.values()
            if (other.squad, other.sex, other.minor) == (athlete.squad, athlete.sex, athlete.minor)
        ]
        for person in dict.fromkeys(self.trials.person(other.id) for other in alike):
            scores = self.trials.scores(person, score.measure, score.line)
            known = [
                each for each in scores if each.usable and each.trial.visit.date <= score.trial.visit.date
            ]
            if known:
                latest.append(score.measure.judged(known[-1].value))
        people = len(latest)
        if people < FEWEST_FOR_SPREAD:
            return Worthwhile(None, group, people, f"only {people} in the group ({group})")
        error = self.bank.in_use(score)
        value = worthwhile_of_variance(variance(latest), FACTOR, error.value if error else None)
        why = "" if value is not None else f"the spread of the group ({group}) is all error"
        return Worthwhile(value, group, people, why)
