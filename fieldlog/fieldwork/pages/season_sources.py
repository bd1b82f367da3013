"""What a season sheet is made from: the squad's people, their tests at every place, the checks behind them."""

from __future__ import annotations

import datetime as dt
from functools import cached_property
from typing import Any

from fieldlog.errors import NotFoundError
from fieldlog.fieldwork.books import at_site, of_team
from fieldlog.fieldwork.change.trial_book import TrialBook
from fieldlog.fieldwork.pages.sheet_sources import Sources, SourceShelf, person_names
from fieldlog.fieldwork.pages.subjects import SeasonSubject
from fieldlog.records.athlete import Athlete
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.kinship import Kinship
from fieldlog.records.planned_retest import PlannedRetest
from fieldlog.records.rig import RigEvent
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["season_sources"]


def season_sources(workspace: Workspace, subject: SeasonSubject, shelf: SourceShelf) -> Sources:
    """Gather everything the sheet of a squad's season is made from.

    Raises NotFoundError where the squad has no athlete any more.
    """
    gathering = _Gathering(workspace, subject, shelf)
    gathering.add_people()
    gathering.add_tests()
    gathering.add_checks_of_the_season()
    gathering.add_protocols()
    gathering.sources.add_reviews(shelf)
    return gathering.sources


class _Gathering:
    """One walk through the stores for one season."""

    def __init__(self, workspace: Workspace, subject: SeasonSubject, shelf: SourceShelf) -> None:
        self.workspace, self.subject, self.shelf = workspace, subject, shelf
        self.sources = Sources()
        self.ids: set[str] = set()
        self.rigs: set[str] = set()
        self.protocols: set[str] = set()

    def add_people(self) -> None:
        workspace, squad = self.workspace, self.subject.squad
        people = of_team(workspace, Athlete).find(squad=squad)
        if not people:
            raise NotFoundError(f"squad {squad!r} has no athlete", "see the squad list for the names")
        self.ids = {kept.record.id for kept in people}
        kinships = of_team(workspace, Kinship).all()
        joined = [kept for kept in kinships if self.ids & set(kept.record.athletes)]
        planned = [
            kept
            for kept in of_team(workspace, PlannedRetest).all()
            if kept.record.squad == squad or kept.record.athlete_id in self.ids
        ]
        found: tuple[Kept[Any], ...] = (*people, *joined, *planned)
        for kept in found:
            self.sources.add(workspace.team, kept)
        if self.subject.named:
            for athlete_id, name in sorted(person_names(workspace, self.ids).items()):
                self.sources.add_person(athlete_id, name)

    def add_tests(self) -> None:
        trials = TrialBook(self.workspace, self.shelf.book)
        persons = {trials.person(athlete_id) for athlete_id in self.ids}
        for store in self.workspace.sites.values():
            visits = {
                kept.record.id: kept
                for kept in at_site(store, Visit).all()
                if self._in_season(kept.record.date)
            }
            for kept in at_site(store, EffortSet).all():
                visit = visits.get(kept.record.visit_id)
                if visit is not None and trials.person(kept.record.athlete_id) in persons:
                    self.sources.add(store, visit)
                    self._add_set(store, kept)

    def _add_set(self, store: Store, kept: Kept[EffortSet]) -> None:
        record = kept.record
        self.sources.add(store, kept)
        self.rigs.add(record.rig_id)
        self.protocols.add(record.protocol_id)
        for result in self.shelf.book.of_set(kept):
            self.sources.add_checks_behind(result, self.shelf)
        for event in self._events.get((record.rig_id, record.at.date()), ()):
            self.sources.add(*event)

    @cached_property
    def _events(self) -> dict[tuple[str, dt.date], list[tuple[Store, Kept[RigEvent]]]]:
        found: dict[tuple[str, dt.date], list[tuple[Store, Kept[RigEvent]]]] = {}
        for store, event in self.shelf.events:
            found.setdefault((event.record.rig_id, event.record.at.date()), []).append((store, event))
        return found

    def add_checks_of_the_season(self) -> None:
        """Their verdicts are counted on the page, also on days on which the squad was not tested."""
        for store, check in self.shelf.checks.values():
            if check.record.rig_id in self.rigs and self._in_season(check.record.at.date()):
                self.sources.add(store, check)

    def add_protocols(self) -> None:
        for protocol_id in sorted(self.protocols):
            self.sources.add_protocol(self.workspace, protocol_id)

    def _in_season(self, day: dt.date) -> bool:
        return self.subject.first_day <= day <= self.subject.last_day
