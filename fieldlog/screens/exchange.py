"""Exchange: what is not yet shared, syncing with a depot, and conflicts waiting for a person."""

from __future__ import annotations

import threading
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.worker import get_current_worker

from fieldlog.errors import FieldlogError
from fieldlog.exchange.conflicts import OpenConflict, open_conflicts
from fieldlog.exchange.depot import open_depot, whole_address
from fieldlog.exchange.likeness import Likeness, decide_kinship, likenesses
from fieldlog.exchange.outcome import SyncReport
from fieldlog.exchange.standing import Standing, standing
from fieldlog.screens.exchange_view import (
    CONFLICT_COLUMNS,
    DEPOT_COLUMNS,
    STORE_COLUMNS,
    conflict_rows,
    depot_rows,
    report_lines,
    standing_words,
    store_rows,
)
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine

__all__ = ["ExchangeRoom"]


class _EndedError(Exception):
    """A person ended the sync."""


class ExchangeRoom(Room):
    """What waits here, the depots, the conflicts, and the last sync."""

    about = (
        "A depot is a stick, a shared folder or the team base. Enter on one exchanges with it, X with a new one; "
        "S ends a sync, what was exchanged by then stands and the next one goes on from there. Nothing is merged by "
        "itself: enter on a conflict shows both versions field by field. Tab goes from list to list."
    )
    CSS = """
    ExchangeRoom #stores { height: auto; max-height: 5; }
    ExchangeRoom #depots { height: auto; max-height: 4; min-height: 1; }
    ExchangeRoom #conflicts { height: 1fr; min-height: 2; }
    #report { height: auto; max-height: 6; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("open", word="sync, or show", text="Sync with the depot under the cursor; show the conflict."),
        key("sync", word="sync with another"),
        key("halt"),
        key("filter"),
    ]

    def __init__(self, *, everything: bool = False) -> None:
        super().__init__()
        self.everything = everything
        self.standing: Standing | None = None
        self.conflicts: list[OpenConflict] = []
        self.alike: list[Likeness] = []
        self.report: SyncReport | None = None
        self._end = threading.Event()
        self.syncing = False

    def body(self) -> ComposeResult:
        """Stores, depots, conflicts, the last sync."""
        yield PaneTitle("here", id="here_title")
        yield Listing(*STORE_COLUMNS, id="stores", heading=False)
        yield PaneTitle("depots", id="depots_title")
        yield Listing(*DEPOT_COLUMNS, id="depots", heading=False, empty="no depot yet; X names one")
        yield PaneTitle("conflicts", id="conflicts_title")
        yield Listing(*CONFLICT_COLUMNS, id="conflicts", heading=False, empty="no conflict")
        yield PaneTitle("last sync", id="report_title")
        yield TextLines("  none since fieldlog was opened", id="report")

    def begin(self) -> None:
        """Begin on the depots."""
        self.query_one("#depots", Listing).focus()

    def refresh_room(self) -> None:
        """Read what waits, in a thread: looking for conflicts opens every site."""
        self.query_one("#title", TitleLine).show("exchange", "" if self.standing else "looking …")
        self.run_worker(self._read, thread=True, exclusive=True, group="standing")

    def _read(self) -> None:
        app = self.fieldlog
        try:
            found = standing(app.workspace)
            conflicts, alike = open_conflicts(app.workspace), likenesses(app.workspace)
        except (FieldlogError, OSError) as error:
            app.call_from_thread(self.say, str(error), "bad")
            return
        app.call_from_thread(self._found, found, conflicts, alike)

    def _found(self, found: Standing, conflicts: list[OpenConflict], alike: list[Likeness]) -> None:
        self.standing, self.conflicts, self.alike = found, conflicts, alike
        self.query_one("#title", TitleLine).show("exchange", standing_words(found))
        self.query_one("#stores", Listing).show_rows(store_rows(found))
        self.query_one("#depots", Listing).show_rows(depot_rows(found))
        self.query_one("#conflicts", Listing).show_rows(conflict_rows(conflicts, alike))
        self.query_one("#conflicts_title", PaneTitle).show("conflicts", f"{len(conflicts)} open")
        if self.report is not None:
            self.query_one("#report", TextLines).show_lines(*report_lines(self.report))

    # what a row does

    def action_open(self) -> None:
        """Sync with the depot, or show the conflict under the cursor."""
        listing = self._list_in_focus()
        chosen = listing.row_key if listing is not None else None
        if listing is None or chosen is None:
            self.action_sync()
        elif listing.id == "depots":
            with self.telling():
                self.start_sync(chosen)
        elif listing.id == "conflicts":
            kind, _, place = chosen.partition("/")
            if kind == "conflict":
                self._show_conflict(self.conflicts[int(place)])
            else:
                self._ask_kinship(self.alike[int(place)])
        else:
            self.say("enter on a depot syncs; tab goes to the next list", "quiet")

    def _show_conflict(self, conflict: OpenConflict) -> None:
        from fieldlog.screens.conflict_room import ConflictRoom

        self.app.push_screen(ConflictRoom(conflict))

    def _ask_kinship(self, pair: Likeness) -> None:
        one, other = (f"{a.code} ({a.squad or 'no squad'}, id {a.id[:8]})" for a in (pair.first, pair.second))
        self.ask(
            f"{one} and {other}: {', '.join(pair.reasons)}. One person? y or n; esc leaves it open:",
            lambda answer: self._decide(pair, answer),
        )

    def _decide(self, pair: Likeness, answer: str) -> None:
        word = answer.strip().casefold()
        if word not in {"y", "yes", "n", "no"}:
            self.say("neither y nor n; left open")
            return
        same, app = word.startswith("y"), self.fieldlog
        kept = decide_kinship(app.workspace, pair.first.id, pair.second.id, same=same, by=app.by)
        app.note_saved("whether they are one person", (app.workspace.team, kept.record.table, kept.record.id))
        self.refresh_room()
        self.say(f"saved: {'one person' if same else 'two people'}; u takes it back", "accent")

    # syncing

    def action_sync(self) -> None:
        """Ask for a depot's address and sync with it."""
        self.ask("depot (a folder, or an address such as postgresql://…):", self.start_sync)

    def start_sync(self, address: str) -> None:
        """Sync with a depot, in a thread."""
        if self.syncing:
            self.say("a sync is running; S ends it")
            return
        address = whole_address(address)
        self.syncing = True
        self._end.clear()
        self.say(f"syncing with {address} … S ends it")
        self.run_worker(lambda: self._sync(address), thread=True, group="sync", exit_on_error=False)

    def _sync(self, address: str) -> None:
        from fieldlog.exchange.sync import sync

        app, worker = self.fieldlog, get_current_worker()
        shown = ("", -1)

        def progress(what: str, done: int, of: int) -> None:
            nonlocal shown
            if self._end.is_set() or worker.is_cancelled:
                raise _EndedError
            now = (what, 100 * done // max(of, 1))
            if now != shown:
                shown = now
                app.call_from_thread(self.say, f"{what}: {done + 1} of {of} · S ends it")

        report, words, role = None, "", ""
        try:
            depot = open_depot(address, workspace=app.workspace.path)
            try:
                report = sync(app.workspace, depot, progress=progress)
            finally:
                depot.close()
        except _EndedError:
            words = "ended; what was exchanged stands, the next sync goes on from there"
        except (FieldlogError, OSError) as error:
            words, role = str(error), "bad"
        if not worker.is_cancelled:
            app.call_from_thread(self._synced, report, words, role)

    def _synced(self, report: SyncReport | None, words: str, role: str) -> None:
        self.syncing = False
        if report is not None:
            self.report = report
            count = len(report.conflicts)
            words = f"synced; {count} new to decide" if count else "synced; no new conflict"
            role = "warn" if count else "good"
        self.say(words, role)
        self.refresh_room()

    def action_halt(self) -> None:
        """End a sync that runs."""
        if self.syncing:
            self._end.set()
            self.say("ending the sync …")
        else:
            self.say("no sync is running", "quiet")

    def leave(self) -> None:
        """Go back; a sync that runs is ended first."""
        if self.syncing:
            self.action_halt()
            return
        super().leave()
