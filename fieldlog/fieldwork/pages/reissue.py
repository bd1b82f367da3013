"""Sheets that were made before something changed: named, so that they are made again and the old ones taken back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from fieldlog.fieldwork.books import at_site, of_team, site_of
from fieldlog.fieldwork.pages.sheet_ledger import (
    Issued,
    gather,
    issued_sheets,
    season_of_issued,
    subject_of_issued,
)
from fieldlog.fieldwork.pages.sheet_sources import SourceShelf
from fieldlog.fieldwork.pages.source_changes import differing, what_changed
from fieldlog.fieldwork.pages.subjects import Subject
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.issued_season import IssuedSeason
from fieldlog.records.issued_sheet import IssuedSheet
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["StaleSheet", "sheets_to_reissue", "stale_of_visit"]

S = TypeVar("S", IssuedSheet, IssuedSeason)


@dataclass(frozen=True)
class StaleSheet:
    """A sheet whose latest revision no longer says what the records say, and in what they differ."""

    store: Store
    sheet: Issued
    subject: Subject
    site_name: str
    changes: tuple[str, ...]

    @property
    def name(self) -> str:
        """The sheet as a person names it."""
        return f"{self.sheet.kind} page {self.sheet.number} revision {self.sheet.revision}"

    def made_words(self, where: str) -> str:
        """What is said once it was made again: the old one has to come back."""
        return f"made anew; take back {self.sheet.number} revision {self.sheet.revision}: {where}"


def sheets_to_reissue(workspace: Workspace, set_ids: Iterable[str]) -> list[StaleSheet]:
    """Return the sheets made from these sets, at any site, that need to be made again.

    Only the latest revision of a sheet is looked at. A sheet is named where a record it was made from says
    something else now, or where one came in or went out: a failed check, a decision, a changed set.
    """
    wanted = set(set_ids)
    made_from_them = [
        (store, sheet)
        for store, sheet in _latest(workspace)
        if any(s.table == EffortSet.table and s.document in wanted for s in sheet.sources)
    ]
    return _stale(workspace, made_from_them)


def stale_of_visit(workspace: Workspace, store: Store, visit_id: str) -> list[StaleSheet]:
    """Return the sheets of a visit that need to be made again."""
    return _stale(workspace, [(store, sheet) for sheet in _newest(issued_sheets(store, visit_id))])


def _stale(workspace: Workspace, sheets: Iterable[tuple[Store, Issued]]) -> list[StaleSheet]:
    shelf = SourceShelf(workspace)
    found = []
    for store, sheet in sheets:
        subject: Subject | None
        if isinstance(sheet, IssuedSeason):
            subject, place = season_of_issued(store, sheet), "all places"
        else:
            subject, place = subject_of_issued(store, sheet), site_of(store).name
        if subject is None:
            continue
        now = gather(workspace, subject, shelf).listed()
        if differing(workspace, sheet.sources, now):
            changes = what_changed(workspace, sheet.sources, now)
            found.append(StaleSheet(store, sheet, subject, place, changes))
    return sorted(found, key=lambda stale: (stale.site_name, stale.subject.day, stale.sheet.number))


def _latest(workspace: Workspace) -> Iterator[tuple[Store, Issued]]:
    """The latest revision of every sheet, with the store of its ledger."""
    for store in workspace.sites.values():
        for sheet in _newest([kept.record for kept in at_site(store, IssuedSheet).all()]):
            yield store, sheet
    for season in _newest([kept.record for kept in of_team(workspace, IssuedSeason).all()]):
        yield workspace.team, season


def _newest(sheets: Iterable[S]) -> list[S]:
    latest: dict[str, S] = {}
    for sheet in sheets:
        if sheet.number not in latest or latest[sheet.number].revision < sheet.revision:
            latest[sheet.number] = sheet
    return list(latest.values())
