"""Making a page from the screens: everything heavy is loaded here, and only when it is called."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.pages.subjects import SeasonSubject, SheetKind, Subject
from fieldlog.records.visit import Visit
from fieldlog.screens.room import Room
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

if TYPE_CHECKING:
    from fieldlog.fieldwork.pages.reissue import StaleSheet
    from fieldlog.sheets.handing_out import HandedOut

__all__ = [
    "OUT_FOLDER",
    "make_again",
    "make_behind",
    "make_page",
    "make_season",
    "make_stale_again",
]

OUT_FOLDER = "out"


def make_page(workspace: Workspace, store: Store, visit: Visit, kind: SheetKind, *, by: str) -> HandedOut:
    """Make a page, enter it in the ledger and write it into the workspace's out folder."""
    from fieldlog.sheets.making import subject_of

    return make_again(workspace, subject_of(workspace, store, visit, kind), by=by)


def make_season(
    workspace: Workspace, squad: str, first_day: dt.date | None, last_day: dt.date | None, *, by: str
) -> HandedOut:
    """Make a squad's season page, enter it in the ledger and write it into the out folder."""
    from fieldlog.sheets.making import season_subject

    return make_again(workspace, season_subject(workspace, squad, first_day, last_day), by=by)


def make_again(workspace: Workspace, subject: Subject, *, by: str) -> HandedOut:
    """Make the page of a subject as the records are now, in place of the one made before."""
    from fieldlog.sheets.handing_out import hand_out
    from fieldlog.sheets.making import make_sheet

    made = make_sheet(workspace, subject)
    folder = workspace.path / OUT_FOLDER
    folder.mkdir(exist_ok=True)
    return hand_out(made, {folder / f"{_file_name(subject)}.pdf": made.pdf}, by=by)


def make_behind(room: Room, name: str, make: Callable[[], HandedOut], said: Callable[[str], str]) -> None:
    """Make a page in a thread and say where it is; ``said`` gives the words around the path."""
    room.say(f"making {name} …", "quiet")

    def work() -> None:
        app = room.fieldlog
        try:
            handed = make()
        except (FieldlogError, OSError) as error:
            app.call_from_thread(tell, f"not made: {error}", "bad")
            return
        app.call_from_thread(tell, said(handed.words), "warn" if handed.why_not else "good")

    def tell(words: str, role: str) -> None:
        # Whoever has gone on meanwhile is told where they are.
        now = room.app.screen
        if now is room:
            room.refresh_room()
        if isinstance(now, Room):
            now.say(words, role)

    room.run_worker(work, thread=True, exclusive=True, group="sheet")


def make_stale_again(room: Room, stale: StaleSheet) -> None:
    """Make a sheet that no longer holds again, and say which one has to come back."""
    app = room.fieldlog
    make_behind(
        room,
        f"{stale.name} again",
        lambda: make_again(app.workspace, stale.subject, by=app.by),
        stale.made_words,
    )


def _file_name(subject: Subject) -> str:
    tail = subject.number.rpartition("-")[2]
    if isinstance(subject, SeasonSubject):
        return f"season-{subject.last_day.isoformat()}-{tail}"
    about = "" if subject.athlete_id is None else f"-{tail}"
    return f"{subject.kind}-{subject.store.name}-{subject.visit.date.isoformat()}{about}"
