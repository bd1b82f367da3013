"""Making a page from the screens: everything heavy is loaded here, and only when it is called."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from fieldlog.records.visit import Visit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["OUT_FOLDER", "PageKind", "make_page"]

PageKind = Literal["coach", "rig", "visit"]

OUT_FOLDER = "out"


def make_page(workspace: Workspace, store: Store, visit: Visit, kind: PageKind, *, by: str) -> Path:
    """Make a page, write it into the workspace's out folder and enter it in the ledger; return its path."""
    from fieldlog.fieldwork.sheet_ledger import enter
    from fieldlog.sheets.exports import write_whole
    from fieldlog.sheets.making import make_sheet, subject_of

    made = make_sheet(workspace, subject_of(workspace, store, visit, kind))
    folder = workspace.path / OUT_FOLDER
    folder.mkdir(exist_ok=True)
    path = folder / f"{kind}-{store.name}-{visit.date.isoformat()}.pdf"
    write_whole({path: made.pdf})
    enter(made.subject, made.issue, by=by)
    return path
