"""The ledger of issued sheets: number, revision, date, and whether a sheet still holds.

A sheet's number follows from what it is about, its revision from how often its sources changed, its date
from the sources themselves. Nothing of it comes from the clock, so the same sources give the same sheet.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Literal

from fieldlog.errors import FieldlogError, NotFoundError, StoreError
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.pages.season_sources import season_sources
from fieldlog.fieldwork.pages.sheet_sources import Sources, SourceShelf, sources_of
from fieldlog.fieldwork.pages.source_changes import what_changed
from fieldlog.fieldwork.pages.subjects import SeasonSubject, SheetKind, SheetSubject, Subject
from fieldlog.records.base import derived_id
from fieldlog.records.issued_season import IssuedSeason
from fieldlog.records.issued_sheet import IssuedSheet
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Repo
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = [
    "Issue",
    "Issued",
    "Standing",
    "draw_up",
    "enter",
    "gather",
    "issued_sheets",
    "season_of_issued",
    "standing_of",
    "subject_of_issued",
]

Issued = IssuedSheet | IssuedSeason


@dataclass(frozen=True)
class Issue:
    """A sheet as it is to be printed: its ledger entry and what changed since the revision before."""

    record: Issued
    changes: tuple[str, ...]


@dataclass(frozen=True)
class Standing:
    """Whether a sheet holds; ``changes`` is what changed since it was made."""

    word: Literal["current", "superseded", "unknown"]
    text: str
    record: Issued | None = None
    changes: tuple[str, ...] = ()


def draw_up(workspace: Workspace, subject: Subject, printed: str, shelf: SourceShelf | None = None) -> Issue:
    """Give a sheet its number, revision and date; nothing is written yet.

    ``printed`` stands for the figures on the page (a digest of them): a comparison also rests on what the team
    has learned elsewhere since, which no single source shows. Where the ledger holds a sheet of the same
    sources and figures, it is that one.
    """
    sources = gather(workspace, subject, shelf)
    digest = sources.digest(subject, printed)
    earlier = _of_number(subject)
    identity = derived_id("sheet", subject.number, digest)
    record = next((sheet for sheet in earlier if sheet.id == identity), None)
    before = [sheet for sheet in earlier if record is None or sheet.revision < record.revision]
    previous = before[-1] if before else None
    if record is None:
        record = _new(
            subject,
            id=identity,
            number=subject.number,
            revision=previous.revision + 1 if previous else 1,
            date=_date(workspace, subject, sources, previous),
            digest=digest,
            sources=sources.listed(),
        )
    return Issue(record, what_changed(workspace, previous.sources, record.sources) if previous else ())


def gather(workspace: Workspace, subject: Subject, shelf: SourceShelf | None = None) -> Sources:
    """Everything a sheet of a visit or of a season is made from."""
    if isinstance(subject, SeasonSubject):
        return season_sources(workspace, subject, shelf or SourceShelf(workspace))
    return sources_of(workspace, subject, shelf)


def enter(subject: Subject, issue: Issue, *, by: str) -> str:
    """Enter a sheet in the ledger of its site, a season in the team's; return why it could not be, or nothing.

    The number is the same without the entry, so a page may be printed from a disk that takes no writing;
    ``standing_of`` knows such a sheet by its digest as long as its sources are as they were.
    """
    try:
        repo = Repo(subject.store, type(issue.record))
        if repo.get(issue.record.id) is None:
            repo.save(issue.record, by=by, why="; ".join(issue.changes)[:1000])
    except StoreError as error:
        return str(error)
    return ""


def issued_sheets(store: Store, visit_id: str) -> list[IssuedSheet]:
    """The sheets made of a visit, by number and revision."""
    sheets = [kept.record for kept in at_site(store, IssuedSheet).find(visit_id=visit_id)]
    return sorted(sheets, key=lambda sheet: (sheet.number, sheet.revision))


def subject_of_issued(store: Store, sheet: IssuedSheet) -> SheetSubject | None:
    """What an issued sheet is about, so that it can be made again; None where its visit is gone."""
    visit = at_site(store, Visit).get(sheet.visit_id)
    if visit is None:
        return None
    subject = SheetSubject(sheet.kind, store, visit.record, sheet.athlete_id, sheet.rig_id)
    # Only the number tells whether names were printed.
    return subject if subject.number == sheet.number else replace(subject, named=True)


def season_of_issued(store: Store, sheet: IssuedSeason) -> SeasonSubject:
    """What an issued season sheet is about, so that it can be made again."""
    subject = SeasonSubject(store, sheet.squad, sheet.first_day, sheet.last_day)
    return subject if subject.number == sheet.number else replace(subject, named=True)


def standing_of(
    workspace: Workspace, marker: dict[str, Any], printed_of: Callable[[Subject], str]
) -> Standing:
    """Tell whether the sheet a marker speaks of still holds in this workspace.

    ``printed_of`` gives the figures the page would hold today, as ``draw_up`` takes them.
    """
    subject = _subject(workspace, marker)
    if subject is None:
        return Standing("unknown", "this workspace has no such visit")
    kept = _ledger(subject).get(derived_id("sheet", subject.number, marker["digest"]))
    record = kept.record if kept else None
    try:
        now = gather(workspace, subject)
        printed = printed_of(subject)
    except NotFoundError as error:
        # A squad may have lost its last athlete since.
        return Standing("superseded", str(error), record) if record else Standing("unknown", str(error))
    if now.digest(subject, printed) == marker["digest"]:
        text = "current" if record else "current, though not in this workspace's ledger"
        return Standing("current", text, record)
    if record is None:
        return Standing("unknown", "this workspace never issued a sheet with this digest")
    changes = what_changed(workspace, record.sources, now.listed())
    return Standing("superseded", "what it was made from has changed", record, changes)


def _new(subject: Subject, **fields: Any) -> Issued:
    if isinstance(subject, SeasonSubject):
        about = {"squad": subject.squad, "first_day": subject.first_day, "last_day": subject.last_day}
        return IssuedSeason(**about, **fields)
    return IssuedSheet(
        kind=subject.kind,
        visit_id=subject.visit.id,
        athlete_id=subject.athlete_id,
        rig_id=subject.rig_id,
        **fields,
    )


def _ledger(subject: Subject) -> Repo[Any]:
    return Repo(subject.store, IssuedSeason if isinstance(subject, SeasonSubject) else IssuedSheet)


def _of_number(subject: Subject) -> list[Issued]:
    sheets = [kept.record for kept in _ledger(subject).find(number=subject.number)]
    return sorted(sheets, key=lambda sheet: (sheet.revision, sheet.id))


def _date(workspace: Workspace, subject: Subject, sources: Sources, previous: Issued | None) -> dt.date:
    """Latest day among the sources; in a reissue also the day on which a changed source was written.

    A season may be asked for up to a day that is still to come; that day is no date of its sheet.
    """
    days = {subject.first_day if isinstance(subject, SeasonSubject) else subject.day, *sources.days}
    if previous is not None:
        known = {source.revision for source in previous.sources}
        for source in sources.listed():
            if source.revision in known:
                continue
            for store in (workspace.team, *workspace.sites.values()):
                revision = store.revision(source.revision)
                if revision is not None:
                    days.add(revision.at.date())
    return max(days)


def _subject(workspace: Workspace, marker: dict[str, Any]) -> Subject | None:
    if marker["kind"] == "season":
        first_day, last_day = (dt.date.fromisoformat(marker[key]) for key in ("first_day", "last_day"))
        return SeasonSubject(workspace.team, marker["squad"], first_day, last_day, named=marker["named"])
    kind: SheetKind = marker["kind"]
    for store in workspace.sites.values():
        try:
            visit = at_site(store, Visit).get(marker["visit"])
        except FieldlogError:
            continue
        if visit is not None:
            return SheetSubject(kind, store, visit.record, marker["athlete"], marker["rig"], marker["named"])
    return None
