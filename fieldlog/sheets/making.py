"""From a subject to a finished sheet: content, number, PDF with its mark, Markdown and CSV."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, assert_never

from fieldlog.errors import NotFoundError
from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.books import at_site, of_team
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.pages.sheet_ledger import Issue, Standing, draw_up, standing_of
from fieldlog.fieldwork.pages.sheet_sources import SourceShelf, person_names
from fieldlog.fieldwork.pages.subjects import SeasonSubject, SheetKind, SheetSubject, Subject
from fieldlog.fieldwork.rig_life.rigs import rig_named
from fieldlog.records.athlete import Athlete
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.visit import Visit
from fieldlog.sheets.content import Sheet, Stamp, figures_digest
from fieldlog.sheets.marker import mark_pdf
from fieldlog.sheets.render import render_pdf, with_changes
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["Made", "make_athlete_sheets", "make_sheet", "season_subject", "sheet_standing", "subject_of"]


@dataclass(frozen=True)
class Made:
    """A sheet ready to be written: nothing is on disk and nothing in the ledger yet."""

    subject: Subject
    issue: Issue
    sheet: Sheet
    stamp: Stamp
    pdf: bytes


def subject_of(
    workspace: Workspace,
    store: Store,
    visit: Visit,
    kind: SheetKind,
    *,
    athlete: str | None = None,
    rig: str | None = None,
    named: bool = False,
) -> SheetSubject:
    """Find what a sheet is about from a code or id of the athlete and a name or id of the rig.

    Raises NotFoundError where the athlete has no set at the visit, or the visit has no rig.
    """
    if kind == "athlete":
        assert athlete is not None
        found = athlete_named(workspace, athlete).record
        if not at_site(store, EffortSet).find(visit_id=visit.id, athlete_id=found.id):
            raise NotFoundError(
                f"{found.code} has no set on {visit.date.isoformat()} at this site",
                "name another day with --visit",
            )
        return SheetSubject(kind, store, visit, athlete_id=found.id, named=named)
    if kind == "rig":
        return SheetSubject(kind, store, visit, rig_id=_rig_id(workspace, store, visit, rig))
    return SheetSubject(kind, store, visit, named=named)


def season_subject(
    workspace: Workspace,
    squad: str,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
    *,
    named: bool = False,
) -> SeasonSubject:
    """Find what a season sheet is about; without days a year up to the squad's latest day with results.

    Raises NotFoundError where there is no such squad or nothing to tell the last day by.
    """
    from fieldlog.fieldwork.squad.season_report import season_days

    days = season_days(Comparer(workspace), squad, first_day, last_day)
    return SeasonSubject(workspace.team, squad, *days, named=named)


def make_sheet(workspace: Workspace, subject: Subject, *, paper: str = "a4") -> Made:
    """Assemble, number and draw a sheet. The same records give the same bytes."""
    # Nothing later than the day it speaks of. Content and sources ask the same book: what covers a result is
    # worked out once.
    comparer = Comparer(workspace, upto=subject.day)
    shelf = SourceShelf(workspace, comparer)
    return _finished(workspace, subject, _content(workspace, subject, comparer), paper, shelf)


def make_athlete_sheets(
    workspace: Workspace, store: Store, visit: Visit, *, paper: str = "a4", named: bool = False
) -> Iterator[tuple[int, int, Made]]:
    """Make the page of every athlete of a visit, one after the other: (how many so far, of how many, sheet).

    The caller may stop after any of them. Raises NotFoundError where nobody has a set.
    """
    from fieldlog.sheets.athlete_page import athlete_sheet

    tested = {kept.record.athlete_id for kept in at_site(store, EffortSet).find(visit_id=visit.id)}
    if not tested:
        raise NotFoundError(
            f"nobody has a set on {visit.date.isoformat()} at this site", "name a day with --visit"
        )
    comparer = Comparer(workspace, upto=visit.date)
    shelf = SourceShelf(workspace, comparer)
    in_order = sorted(tested, key=lambda athlete_id: (comparer.trials.book.code(athlete_id), athlete_id))
    for count, athlete_id in enumerate(in_order, start=1):
        subject = SheetSubject("athlete", store, visit, athlete_id=athlete_id, named=named)
        sheet = athlete_sheet(workspace, subject, comparer)
        yield count, len(in_order), _finished(workspace, subject, sheet, paper, shelf)


def _finished(workspace: Workspace, subject: Subject, sheet: Sheet, paper: str, shelf: SourceShelf) -> Made:
    issue = draw_up(workspace, subject, figures_digest(sheet), shelf)
    record = issue.record
    stamp = Stamp(record.number, record.revision, record.date, record.digest, issue.changes)
    pdf = mark_pdf(
        render_pdf(sheet, stamp, paper=paper),
        {
            **subject.marker,
            "number": record.number,
            "revision": record.revision,
            "date": record.date.isoformat(),
            "digest": record.digest,
        },
    )
    return Made(subject, issue, with_changes(sheet, stamp), stamp, pdf)


def sheet_standing(workspace: Workspace, marker: dict[str, Any]) -> Standing:
    """Tell whether a printed sheet still holds, from what ``marker.read_marker`` read in its PDF."""

    def printed(subject: Subject) -> str:
        return figures_digest(_content(workspace, subject, Comparer(workspace, upto=subject.day)))

    return standing_of(workspace, marker, printed)


def _content(workspace: Workspace, subject: Subject, comparer: Comparer) -> Sheet:
    # Each page is loaded when it is made: one sheet is all that most calls want.
    names = _names_by_code(workspace) if subject.named else {}
    match subject.kind:
        case "season":
            from fieldlog.fieldwork.squad.season_report import season_report
            from fieldlog.sheets.season_page import season_sheet

            return season_sheet(
                season_report(comparer, subject.squad, subject.first_day, subject.last_day), names
            )
        case "coach":
            from fieldlog.fieldwork.pages.coach_page import coach_page
            from fieldlog.sheets.coach_page import coach_sheet

            return coach_sheet(coach_page(workspace, subject.store, subject.visit, comparer), names)
        case "athlete":
            from fieldlog.sheets.athlete_page import athlete_sheet

            return athlete_sheet(workspace, subject, comparer)
        case "rig":
            from fieldlog.sheets.rig_page import rig_sheet

            return rig_sheet(workspace, subject)
        case "visit":
            from fieldlog.sheets.visit_page import visit_sheet

            return visit_sheet(workspace, subject)
        case _:
            assert_never(subject.kind)


def _names_by_code(workspace: Workspace) -> dict[str, str]:
    athletes = {kept.record.id: kept.record.code for kept in of_team(workspace, Athlete).all()}
    codes = Counter(athletes.values())
    return {
        athletes[athlete_id]: name
        for athlete_id, name in person_names(workspace, athletes).items()
        # A code given twice cannot tell whose name it is.
        if codes[athletes[athlete_id]] == 1
    }


def _rig_id(workspace: Workspace, store: Store, visit: Visit, rig: str | None) -> str:
    if rig is not None:
        return rig_named(workspace, rig).record.id
    if visit.rig_id is not None:
        return visit.rig_id
    used = {check.record.rig_id for check in at_site(store, RigCheck).find(visit_id=visit.id)}
    used |= {kept.record.rig_id for kept in at_site(store, EffortSet).find(visit_id=visit.id)}
    if len(used) == 1:
        return used.pop()
    day = visit.date.isoformat()
    if not used:
        raise NotFoundError(f"no rig was checked or used on {day} at this site", "name a day with --visit")
    raise NotFoundError(f"{len(used)} rigs were used on {day}", "name one with --rig")
