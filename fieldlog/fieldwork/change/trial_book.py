"""All trials of a workspace, and the scores they make: each looked up once."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from functools import cached_property

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.books import at_site, everywhere, of_team
from fieldlog.fieldwork.change.trials import Line, Score, Trial
from fieldlog.fieldwork.results.direction_ratio import direction_ratio_pct
from fieldlog.fieldwork.results.holds import direction_figures
from fieldlog.fieldwork.results.measure_list import Measure, value_of
from fieldlog.fieldwork.results.results import DirectionResult, ResultBook
from fieldlog.fieldwork.setup.setups import plan_of
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.kinship import Kinship
from fieldlog.records.protocol import Direction, Side
from fieldlog.records.setup import Setup
from fieldlog.records.setup_plan import SetupPlan
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.workspace import Workspace

__all__ = ["TrialBook"]


class TrialBook:
    """Reads trials of a workspace; what many of them share is looked up once.

    With ``upto`` no visit after that day is seen: what was said of a day stays so when tests follow.
    ``watch`` is called again and again while much is read, with how many people are done; it may raise to stop it.
    """

    def __init__(
        self, workspace: Workspace, book: ResultBook | None = None, *, upto: dt.date | None = None
    ) -> None:
        self.workspace = workspace
        self.book = book or ResultBook(workspace)
        self.upto = upto
        self.watch: Callable[[int], None] | None = None
        self._people: dict[str, list[Kept[EffortSet]]] = {}
        self._trials: dict[str, list[Trial]] = {}
        self._setups: dict[str, tuple[Setup | None, SetupPlan | None]] = {}
        self._plans: dict[tuple[str, int], SetupPlan | None] = {}

    @cached_property
    def visits(self) -> dict[str, Visit]:
        """All visits by id, up to the last day seen."""
        return {
            kept.record.id: kept.record
            for _, kept in everywhere(self.workspace, Visit)
            if self.upto is None or kept.record.date <= self.upto
        }

    @cached_property
    def sets(self) -> dict[str, list[Kept[EffortSet]]]:
        """The sets of each person in order of time, under every id the person has."""
        found: defaultdict[str, list[Kept[EffortSet]]] = defaultdict(list)
        for kept in self._every_set():
            if kept.record.visit_id in self.visits:
                found[self.person(kept.record.athlete_id)].append(kept)
        for person in found:
            found[person].sort(key=lambda kept: (kept.record.at, kept.record.number))
        return dict(found)

    def _every_set(self) -> Iterator[Kept[EffortSet]]:
        """One set after the other, so that the reading can be watched and stopped."""
        for store in self.workspace.sites.values():
            repo = at_site(store, EffortSet)
            for revision in store.documents(EffortSet.table):
                if self.watch:
                    self.watch(0)
                try:
                    kept = repo.get(revision.document)
                except FieldlogError:
                    continue  # listed by the audit
                if kept is not None:
                    yield kept

    def person(self, athlete_id: str) -> str:
        """The id that stands for all ids of one person."""
        return self._persons.get(athlete_id, athlete_id)

    def trials(self, athlete_id: str) -> list[Trial]:
        """Every counted, cleared trial of a person in order of time, over all sites."""
        return [trial for kept in self._counted(athlete_id) for trial in self._of_set(kept)]

    def _counted(self, athlete_id: str) -> list[Kept[EffortSet]]:
        """The counted, cleared sets of a person in order of time."""
        person = self.person(athlete_id)
        if person not in self._people:
            if self.watch:
                self.watch(len(self._people))
            self._people[person] = [
                kept
                for kept in self.sets.get(person, ())
                if kept.record.standing == "counted" and not kept.record.without_clearance
            ]
        return self._people[person]

    def _of_set(self, kept: Kept[EffortSet]) -> list[Trial]:
        key = kept.revision.id
        if key not in self._trials:
            self._trials[key] = [self.trial(result) for result in self.book.of_set(kept)]
        return self._trials[key]

    def _beside(self, athlete_id: str, line: Line) -> Iterator[Trial]:
        """The trials of a person that share protocol, mode and speed with a row, sides and directions apart."""
        for kept in self._counted(athlete_id):
            record = kept.record
            if (record.protocol_id, record.mode, record.speed_deg_s) == (
                line.protocol_id,
                line.mode,
                line.speed_deg_s,
            ):
                yield from self._of_set(kept)

    def trial(self, result: DirectionResult) -> Trial:
        """A result with its conditions."""
        record = result.record
        visit = self.visits[record.visit_id]
        return Trial(
            result=result,
            visit=visit,
            protocol=self.book.protocol(record.protocol_id),
            first_visit=self._first_day(record) == visit.date,
            hours_since_hard_session=self._hard_sessions.get((record.visit_id, record.athlete_id)),
            dialled_in=self._dialled_in,
        )

    def scores(self, athlete_id: str, measure: Measure, line: Line) -> list[Score]:
        """A person's scores of a measure in one row, one a visit (the last counted set there), by time."""
        if measure.of == "sides":
            return self._side_differences(athlete_id, measure, line)
        if measure.of == "set":
            return self._ratios(athlete_id, measure, line)
        of_line = [trial for trial in self._beside(athlete_id, line) if trial.line == line]
        scores = [
            Score(measure, line, value, (trial,))
            for trial in of_line
            if (value := value_of(measure, trial.result)) is not None
        ]
        return _one_a_visit(scores)

    def score(self, measure: Measure, trial: Trial) -> Score | None:
        """The score of a measure at the visit of a trial."""
        found = self.scores(trial.record.athlete_id, measure, trial.line)
        return next((score for score in found if score.trial.visit.id == trial.visit.id), None)

    def lines(self, athlete_ids: Iterable[str] | None = None) -> list[Line]:
        """Every row there are trials in, of some athletes or of all, in a fixed order."""
        people = self.sets if athlete_ids is None else list(athlete_ids)
        found = {
            line
            for athlete_id in people
            for kept in self._counted(athlete_id)
            for line in self._lines_of(kept.record)
        }
        return sorted(
            found, key=lambda line: (line.protocol_id, line.mode, line.speed_deg_s, line.side, line.direction)
        )

    def _lines_of(self, record: EffortSet) -> Iterator[Line]:
        efforts = self.book.protocol(record.protocol_id).efforts
        for direction in efforts:
            figures = direction_figures(record, direction, efforts)
            if figures and figures["movements"]:
                yield Line(record.protocol_id, record.side, record.mode, record.speed_deg_s, direction)

    def _ratios(self, athlete_id: str, measure: Measure, line: Line) -> list[Score]:
        by_set: dict[str, dict[Direction, Trial]] = {}
        for trial in self._beside(athlete_id, line):
            if _same_but_direction(trial.line, line):
                by_set.setdefault(trial.record.id, {})[trial.result.direction] = trial
        scores = []
        for both in by_set.values():
            if len(both) < 2:
                continue
            peaks = {direction: trial.result.peak_torque_nm for direction, trial in both.items()}
            value = direction_ratio_pct(both["up"].protocol, peaks)
            if value is not None:
                scores.append(Score(measure, line, value, (both["up"], both["down"])))
        return _one_a_visit(scores)

    def _side_differences(self, athlete_id: str, measure: Measure, line: Line) -> list[Score]:
        from fieldlog.analysis.ratios import bilateral_difference_pct

        by_visit: dict[str, dict[Side, Trial]] = {}
        for trial in self._beside(athlete_id, line):
            if _same_but_side(trial.line, line):
                by_visit.setdefault(trial.visit.id, {})[trial.record.side] = trial
        scores = []
        for sides in by_visit.values():
            if not {"left", "right"} <= sides.keys():
                continue
            left, right = sides["left"].result.peak_torque_nm, sides["right"].result.peak_torque_nm
            if not left or not right or min(left, right) <= 0.0:
                continue
            value = bilateral_difference_pct(left, right)
            scores.append(Score(measure, line, value, (sides["left"], sides["right"])))
        return scores

    def _first_day(self, record: EffortSet) -> dt.date | None:
        key = (self.person(record.athlete_id), record.protocol_id)
        return self._first_days.get(key)

    @cached_property
    def _first_days(self) -> dict[tuple[str, str], dt.date]:
        """First day of each person under each protocol, whatever became of the sets."""
        found: dict[tuple[str, str], dt.date] = {}
        for person, sets in self.sets.items():
            for kept in sets:
                key = (person, kept.record.protocol_id)
                day = self.visits[kept.record.visit_id].date
                found[key] = min(day, found.get(key, day))
        return found

    @cached_property
    def _persons(self) -> dict[str, str]:
        of: dict[str, str] = {}

        def root(athlete_id: str) -> str:
            while of.get(athlete_id, athlete_id) != athlete_id:
                athlete_id = of[athlete_id]
            return athlete_id

        for kept in of_team(self.workspace, Kinship).all():
            if kept.record.same:
                first, second = sorted(root(athlete_id) for athlete_id in kept.record.athletes)
                of[second] = first
        return {athlete_id: root(athlete_id) for athlete_id in of}

    def _dialled_in(self, setup_id: str) -> tuple[Setup | None, SetupPlan | None]:
        if setup_id not in self._setups:
            setup = self._setup(setup_id) if setup_id else None
            self._setups[setup_id] = setup, self._plan(setup)
        return self._setups[setup_id]

    def _setup(self, setup_id: str) -> Setup | None:
        for store in self.workspace.sites.values():
            try:
                kept = at_site(store, Setup).get(setup_id)
            except FieldlogError:
                continue  # listed by the audit
            if kept is not None:
                return kept.record
        return None

    def _plan(self, setup: Setup | None) -> SetupPlan | None:
        if setup is None:
            return None
        key = (setup.plan_id, setup.plan_version)
        if key not in self._plans:
            self._plans[key] = plan_of(self.workspace, setup)
        return self._plans[key]

    @cached_property
    def _hard_sessions(self) -> dict[tuple[str, str], float]:
        """Hours since the last hard session by visit and athlete, as answered at the clearance."""
        said: dict[tuple[str, str], tuple[str, float]] = {}
        for body in self.workspace.persons.all():
            answers = body.get("answers")
            if body.get("kind") != "clearance_answers" or not isinstance(answers, dict):
                continue
            hours, at = answers.get("last_hard_session_h"), body.get("at")
            if isinstance(hours, int | float) and not isinstance(hours, bool) and isinstance(at, str):
                key = (str(body.get("visit_id")), str(body.get("athlete_id")))
                said[key] = max(said.get(key, (at, float(hours))), (at, float(hours)))
        return {key: hours for key, (_, hours) in said.items()}


def _one_a_visit(scores: list[Score]) -> list[Score]:
    return list({score.trial.visit.id: score for score in scores}.values())


def _same_but_direction(one: Line, other: Line) -> bool:
    return (one.protocol_id, one.side, one.mode, one.speed_deg_s) == (
        other.protocol_id,
        other.side,
        other.mode,
        other.speed_deg_s,
    )


def _same_but_side(one: Line, other: Line) -> bool:
    return (one.protocol_id, one.mode, one.speed_deg_s, one.direction) == (
        other.protocol_id,
        other.mode,
        other.speed_deg_s,
        other.direction,
    )
