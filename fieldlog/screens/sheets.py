"""Making a page from the screens: everything heavy is loaded here, and only when it is called."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Literal

from fieldlog.fieldwork.pages.subjects import SeasonSubject, Subject
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["OUT_FOLDER", "PageKind", "make_again", "make_page", "make_season"]

PageKind = Literal["coach", "rig", "visit"]

OUT_FOLDER = "out"


def make_page(workspace: Workspace, store: Store, visit: Visit, kind: PageKind, *, by: str) -> Path:
    """Make a page, write it into the workspace's out folder and enter it in the ledger; return its path."""
    from fieldlog.sheets.making import subject_of

    return make_again(workspace, subject_of(workspace, store, visit, kind), by=by)


def make_season(
    workspace: Workspace, squad: str, first_day: dt.date | None, last_day: dt.date | None, *, by: str
) -> Path:
    """Make a squad's season page, write it into the out folder and enter it in the ledger; return its path."""
    from fieldlog.sheets.making import season_subject

    return make_again(workspace, season_subject(workspace, squad, first_day, last_day), by=by)


def make_again(workspace: Workspace, subject: Subject, *, by: str) -> Path:
    """Make the page of a subject as the records are now, in place of the one made before; return its path."""
    from fieldlog.fieldwork.pages.sheet_ledger import enter
    from fieldlog.sheets.exports import write_whole
    from fieldlog.sheets.making import make_sheet

    made = make_sheet(workspace, subject)
    folder = workspace.path / OUT_FOLDER
    folder.mkdir(exist_ok=True)
    name = f"{_file_name(subject)}.pdf"
    write_whole({folder / name: made.pdf})
    enter(made.subject, made.issue, by=by)
    return folder / name


def _file_name(subject: Subject) -> str:
    tail = subject.number.rpartition("-")[2]
    if isinstance(subject, SeasonSubject):
        return f"season-{subject.last_day.isoformat()}-{tail}"
    about = "" if subject.athlete_id is None else f"-{tail}"
    return f"{subject.kind}-{subject.store.name}-{subject.visit.date.isoformat()}{about}"
