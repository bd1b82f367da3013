"""What a sheet is made from: the records behind it in the revisions they have, and one digest over them."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import orjson

from fieldlog.exchange.likeness import same_person
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.books import at_site, everywhere, of_team
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.pages.subjects import SheetKind, SheetSubject, Subject
from fieldlog.fieldwork.results.measure_list import MEASURES, PEAK
from fieldlog.fieldwork.results.results import DirectionResult, ResultBook
from fieldlog.fieldwork.rig_checks.check_basis import RECENT_CHECKS
from fieldlog.fieldwork.rig_checks.check_remarks import standards_used
from fieldlog.records.athlete import Athlete
from fieldlog.records.athlete_day import AthleteDay
from fieldlog.records.base import Record
from fieldlog.records.batch import Batch
from fieldlog.records.clearance import Clearance
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.issued_sheet import Source
from fieldlog.records.protocol import Protocol
from fieldlog.records.review import Review
from fieldlog.records.rig import Rig, RigEvent
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.setup import Setup
from fieldlog.records.site import Site
from fieldlog.records.standard import ReferenceStandard
from fieldlog.records.stop_entry import StopEntry
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["SheetKind", "SheetSubject", "SourceShelf", "Sources", "person_names", "sources_of"]

# Ids made at random: the same work entered twice must give the same digest, so they are left out of it.
RANDOM_FIELDS = ("id", "batch_id", "setup_id")


@dataclass
class Sources:
    """The records behind a sheet while they are gathered; each counts once."""

    digests: dict[tuple[str, str, str], str] = field(default_factory=dict)
    sources: dict[tuple[str, str, str], Source] = field(default_factory=dict)
    days: set[dt.date] = field(default_factory=set)

    def add(self, store: Store, kept: Kept[Any]) -> None:
        """Count a record as it is kept in a store."""
        record = kept.record
        known = self.sources.get((store.id, type(record).table, record.id))
        if known is not None and known.revision == kept.revision.id:
            return
        self._add(store.id, type(record).table, record.id, kept.revision.id, record.to_body())
        day = getattr(record, "at", None) or getattr(record, "date", None)
        if isinstance(day, dt.datetime):
            day = day.date()
        if day is not None:
            self.days.add(day)

    def add_shipped(self, record: Protocol) -> None:
        """Count a record of the shipped catalogue, which has a version and no revision."""
        self._add("shipped", record.table, record.id, f"v{record.version}", record.to_body())

    def add_person(self, athlete_id: str, name: str) -> None:
        """Count the name that is printed. Only its hash is kept, so that it can be erased."""
        digest = hashlib.sha256(name.encode(errors="surrogatepass")).hexdigest()
        self._add("team", "persons", athlete_id, digest[:16], {"digest": digest})

    def add_protocol(self, workspace: Workspace, protocol_id: str) -> None:
        """Count a protocol: the team's own as it is kept, else the shipped one."""
        kept = of_team(workspace, Protocol).get(protocol_id)
        if kept is not None:
            self.add(workspace.team, kept)
        else:
            self.add_shipped(catalogue.protocol(workspace, protocol_id))

    def add_checks_behind(self, result: DirectionResult, shelf: SourceShelf) -> None:
        """Count the checks that cover a result."""
        for check_id in (result.cover.opening_id, result.cover.closing_id):
            if check_id in shelf.checks:
                self.add(*shelf.checks[check_id])

    def add_reviews(self, shelf: SourceShelf) -> None:
        """Count what was signed and decided about the records counted so far."""
        reviewed = {source.document for source in self.sources.values()}
        for store, review in shelf.reviews:
            if review.record.subject_id in reviewed:
                self.add(store, review)

    def listed(self) -> tuple[Source, ...]:
        """All sources in a fixed order."""
        return tuple(self.sources[key] for key in sorted(self.sources))

    def digest(self, subject: Subject, printed: str) -> str:
        """SHA-256 over what the sheet is about, the content of every source and the figures as printed."""
        about = [*subject.about, sorted(self.digests.values()), printed]
        return hashlib.sha256(orjson.dumps(about)).hexdigest()

    def _add(self, store: str, table: str, document: str, revision: str, body: dict[str, Any]) -> None:
        key = (store, table, document)
        self.sources[key] = Source(store=store, table=table, document=document, revision=revision)
        plain = {name: value for name, value in body.items() if name not in RANDOM_FIELDS}
        content = orjson.dumps([table, plain], option=orjson.OPT_SORT_KEYS)
        self.digests[key] = hashlib.sha256(content).hexdigest()


def sources_of(workspace: Workspace, subject: SheetSubject, shelf: SourceShelf | None = None) -> Sources:
    """Gather everything the sheet of ``subject`` is made from; one ``shelf`` may serve many sheets."""
    gathering = _Gathering(workspace, subject, shelf or SourceShelf(workspace))
    gathering.add_place()
    if subject.kind == "rig":
        gathering.add_rig()
    else:
        gathering.add_results()
    if subject.kind == "visit":
        gathering.add_day()
    gathering.sources.add_reviews(gathering.shelf)
    return gathering.sources


def person_names(workspace: Workspace, athlete_ids: Iterable[str]) -> dict[str, str]:
    """Names by athlete id, of those whose persons file is on this laptop and gives one."""
    wanted = set(athlete_ids)
    latest: dict[str, tuple[str, str]] = {}
    for body in workspace.persons.all():
        athlete_id, name, at = body.get("athlete_id"), body.get("name"), body.get("at")
        if athlete_id in wanted and isinstance(name, str) and name.strip():
            # The last one said; where two were said at once, the choice must not depend on the disk's order.
            said = (at if isinstance(at, str) else "", name.strip())
            latest[str(athlete_id)] = max(latest.get(str(athlete_id), said), said)
    return {athlete_id: name for athlete_id, (_, name) in latest.items()}


class SourceShelf:
    """What the sheets of one visit share and need to read only once: checks, events, covers."""

    def __init__(self, workspace: Workspace, comparer: Comparer | None = None) -> None:
        self.workspace = workspace
        self._comparer = comparer or Comparer(workspace)
        self.book = self._comparer.trials.book
        self.stores = list(workspace.sites.values())

    def comparer(self, day: dt.date) -> Comparer:
        """What a page of that day compares by, and so what its changes rest on."""
        return self._comparer.upto(day)

    @cached_property
    def checks(self) -> dict[str, tuple[Store, Kept[RigCheck]]]:
        """Every rig check at all sites by id."""
        return {
            kept.record.id: (store, kept) for store in self.stores for kept in at_site(store, RigCheck).all()
        }

    @cached_property
    def events(self) -> list[tuple[Store, Kept[RigEvent]]]:
        """Every event at a rig, at all sites."""
        return [(store, kept) for store in self.stores for kept in at_site(store, RigEvent).all()]

    @cached_property
    def reviews(self) -> list[tuple[Store, Kept[Review]]]:
        """Every review at all sites."""
        return [(store, kept) for store in self.stores for kept in at_site(store, Review).all()]


class _Gathering:
    """One walk through the stores for one sheet."""

    def __init__(self, workspace: Workspace, subject: SheetSubject, shelf: SourceShelf) -> None:
        self.workspace = workspace
        self.subject = subject
        self.shelf = shelf
        self.sources = Sources()

    def add_place(self) -> None:
        store = self.subject.store
        for kept in at_site(store, Site).all():
            self.sources.add(store, kept)
        visit = at_site(store, Visit).get(self.subject.visit.id)
        if visit is not None:
            self.sources.add(store, visit)

    def add_results(self) -> None:
        store, visit, only = self.subject.store, self.subject.visit, self.subject.athlete_id
        book = self.shelf.book
        people: set[str] = set()
        of_athlete: dict[str, str] = {}
        if only is None:
            for batch in at_site(store, Batch).find(visit_id=visit.id):
                self.sources.add(store, batch)
                people.update(entry.athlete_id for entry in batch.record.entries)
        else:
            of_athlete = {"athlete_id": only}
        protocols: set[str] = set()
        for kept in at_site(store, EffortSet).find(visit_id=visit.id, **of_athlete):
            self.sources.add(store, kept)
            people.add(kept.record.athlete_id)
            protocols.add(kept.record.protocol_id)
            self._add_covers(book.of_set(kept))
        for protocol_id in sorted(protocols):
            self.sources.add_protocol(self.workspace, protocol_id)
        self._add_earlier(book)
        self._add_people(people)

    def add_rig(self) -> None:
        store, team = self.subject.store, self.workspace.team
        rig = of_team(self.workspace, Rig).get(self.subject.rig_id or "")
        if rig is not None:
            self.sources.add(team, rig)
        checks = at_site(store, RigCheck).find(visit_id=self.subject.visit.id, rig_id=self.subject.rig_id)
        for check in checks:
            self.sources.add(store, check)
        entries = [check.record.entry for check in checks]
        self._add_earlier_checks()
        self._add_events_of_day()
        standards = {kept.record.id: kept for kept in of_team(self.workspace, ReferenceStandard).all()}
        known = [kept.record for kept in standards.values()]
        for standard_id in sorted({used.id for entry in entries for used in standards_used(entry, known)}):
            self.sources.add(team, standards[standard_id])

    def _add_earlier_checks(self) -> None:
        """The checks whose repeated points speak of the rig's repeatability in the uncertainty that is printed."""
        earlier = [
            (store, kept)
            for store, kept in self.shelf.checks.values()
            if kept.record.rig_id == self.subject.rig_id and kept.record.at.date() < self.subject.visit.date
        ]
        for store, kept in sorted(earlier, key=lambda pair: pair[1].record.at)[-RECENT_CHECKS:]:
            self.sources.add(store, kept)

    def add_day(self) -> None:
        store = self.subject.store
        kinds: tuple[type[Record], ...] = (RigCheck, Setup, Clearance, StopEntry, AthleteDay)
        rigs: set[str] = set()
        for kind in kinds:
            for kept in at_site(store, kind).find(visit_id=self.subject.visit.id):
                self.sources.add(store, kept)
                rigs.add(getattr(kept.record, "rig_id", None) or "")
        for rig_id in sorted(rigs - {""}):
            rig = of_team(self.workspace, Rig).get(rig_id)
            if rig is not None:
                self.sources.add(self.workspace.team, rig)
        self._add_events_of_day()

    def _add_covers(self, results: Iterable[DirectionResult]) -> None:
        for result in results:
            self.sources.add_checks_behind(result, self.shelf)
            for store, event in self.shelf.events:
                about = event.record
                if about.rig_id == result.record.rig_id and about.at.date() == result.record.at.date():
                    self.sources.add(store, event)

    def _add_earlier(self, book: ResultBook) -> None:
        """The results of earlier visits that this sheet compares with."""
        if self.subject.kind == "coach":
            comparer = self.shelf.comparer(self.subject.visit.date)
            for now in book.of_visit(self.subject.store, self.subject.visit.id):
                score = comparer.trials.score(MEASURES[PEAK], comparer.trials.trial(now))
                before = comparer.before(score) if score else None
                for trial in before.trials if before else ():
                    self._add_set_of(trial.result)
                    self._add_covers([trial.result])
        elif self.subject.kind == "athlete":
            visits = {kept.record.id: kept.record for _, kept in everywhere(self.workspace, Visit)}
            for known_as in same_person(self.workspace.team, self.subject.athlete_id or ""):
                for store, kept in everywhere(self.workspace, EffortSet, athlete_id=known_as):
                    earlier = visits.get(kept.record.visit_id)
                    if earlier and earlier.date < self.subject.visit.date:
                        self.sources.add(store, kept)
                        self._add_covers(book.of_set(kept))

    def _add_set_of(self, result: DirectionResult) -> None:
        for store in self.shelf.stores:
            if store.document(EffortSet.table, result.record.id):
                self.sources.add(store, result.kept)

    def _add_people(self, people: Iterable[str]) -> None:
        repo = of_team(self.workspace, Athlete)
        for athlete_id in sorted(people):
            athlete = repo.get(athlete_id)
            if athlete is not None:
                self.sources.add(self.workspace.team, athlete)
        if self.subject.named:
            for athlete_id, name in sorted(person_names(self.workspace, people).items()):
                self.sources.add_person(athlete_id, name)

    def _add_events_of_day(self) -> None:
        for event in at_site(self.subject.store, RigEvent).all():
            of_rig = self.subject.rig_id in (None, event.record.rig_id)
            if event.record.at.date() == self.subject.visit.date and of_rig:
                self.sources.add(self.subject.store, event)
