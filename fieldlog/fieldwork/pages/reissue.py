"""Sheets that were made before something changed: named, so that they are made again and the old ones taken back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fieldlog.fieldwork.books import at_site, site_of
from fieldlog.fieldwork.pages.sheet_ledger import subject_of_issued, what_changed
from fieldlog.fieldwork.pages.sheet_sources import SheetSubject, sources_of
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.issued_sheet import IssuedSheet
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["StaleSheet", "sheets_to_reissue"]


@dataclass(frozen=True)
class StaleSheet:
    """A sheet whose latest revision no longer says what the records say, and in what they differ."""

    store: Store
    sheet: IssuedSheet
    subject: SheetSubject
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
    for store in workspace.sites.values():
        latest: dict[str, IssuedSheet] = {}
        for kept in at_site(store, IssuedSheet).all():
            sheet = kept.record
            if sheet.number not in latest or latest[sheet.number].revision < sheet.revision:
                latest[sheet.number] = sheet
        for sheet in latest.values():
            if not any(s.table == EffortSet.table and s.document in wanted for s in sheet.sources):
                continue
            subject = subject_of_issued(store, sheet)
            if subject is None:
                continue
            now = sources_of(workspace, subject).listed()
            if now != sheet.sources:
                changes = what_changed(workspace, sheet.sources, now)
                found.append(StaleSheet(store, sheet, subject, site_of(store).name, changes))
    return sorted(found, key=lambda stale: (stale.site_name, stale.subject.visit.date, stale.sheet.number))
