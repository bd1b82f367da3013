"""Sheets that were made before something changed: named, so that they are made again and the old ones taken back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from fieldlog.fieldwork.books import at_site, of_team, site_of
from fieldlog.fieldwork.pages.sheet_ledger import (
    Issued,
    gather,
    season_of_issued,
    subject_of_issued,
    what_changed,
)
from fieldlog.fieldwork.pages.subjects import Subject
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.issued_season import IssuedSeason
from fieldlog.records.issued_sheet import IssuedSheet
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["StaleSheet", "sheets_to_reissue"]

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


def sheets_to_reissue(workspace: Workspace, set_ids: Iterable[str]) -> list[StaleSheet]:
    """Return the sheets made from these sets, at any site, that need to be made again.

    Only the latest revision of a sheet is looked at. A sheet is named where a record it was made from has
    another revision now, or where one came in or went out: a failed check, a decision, a changed set.
    """
    wanted = set(set_ids)
    found = []
    for store, sheet, site_name in _latest(workspace):
        if not any(s.table == EffortSet.table and s.document in wanted for s in sheet.sources):
            continue
        subject: Subject | None = (
            season_of_issued(store, sheet)
            if isinstance(sheet, IssuedSeason)
            else subject_of_issued(store, sheet)
        )
        if subject is None:
            continue
        now = gather(workspace, subject).listed()
        if now != sheet.sources:
            changes = what_changed(workspace, sheet.sources, now)
            found.append(StaleSheet(store, sheet, subject, site_name, changes))
    return sorted(found, key=lambda stale: (stale.site_name, stale.subject.day, stale.sheet.number))


def _latest(workspace: Workspace) -> Iterator[tuple[Store, Issued, str]]:
    """The latest revision of every sheet, with the store of its ledger and the name of the place."""
    for store in workspace.sites.values():
        sheets = [kept.record for kept in at_site(store, IssuedSheet).all()]
        for sheet in _newest(sheets):
            yield store, sheet, site_of(store).name
    for season in _newest([kept.record for kept in of_team(workspace, IssuedSeason).all()]):
        yield workspace.team, season, "all places"


def _newest(sheets: Iterable[S]) -> list[S]:
    latest: dict[str, S] = {}
    for sheet in sheets:
        if sheet.number not in latest or latest[sheet.number].revision < sheet.revision:
            latest[sheet.number] = sheet
    return list(latest.values())
