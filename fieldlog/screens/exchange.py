"""Exchange: what is not yet shared, syncing with a depot, and conflicts waiting for a person."""

from __future__ import annotations

import threading
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.worker import get_current_worker

from fieldlog.errors import FieldlogError
from fieldlog.exchange.conflicts import OpenConflict, open_conflicts
from fieldlog.exchange.depot import whole_address
from fieldlog.exchange.laptops import KnownLaptop, admit, known_laptops
from fieldlog.exchange.likeness import Likeness, decide_kinship, likenesses
from fieldlog.exchange.locked_depot import reach_depot
from fieldlog.exchange.outcome import SyncReport
from fieldlog.exchange.standing import Standing, standing
from fieldlog.fieldwork.books import site_of
from fieldlog.screens.exchange_view import (
    CONFLICT_COLUMNS,
    DEPOT_COLUMNS,
    STORE_COLUMNS,
    conflict_rows,
    depot_rows,
    laptop_rows,
    report_lines,
    standing_words,
    store_rows,
    to_decide_words,
)
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine

__all__ = ["ExchangeRoom"]

FIRST_PAINT_S = 1.0


class _EndedError(Exception):
    """A person ended the sync."""


class ExchangeRoom(Room):
    """What waits here, the depots, the conflicts, and the last sync."""

    about = (
        "A depot is a stick, a shared folder or the team base. Enter on one exchanges with it, X with a new one; "
        "S ends a sync, what was exchanged by then stands and the next one goes on from there. Nothing is merged by "
        "itself: enter on a conflict shows both versions field by field. A laptop the team has not admitted waits "
        "below; a admits it. Others' recordings stay in the depot unless V asks for them. Tab goes from list to list."
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
        key("recordings"),
        key(
            "add", "admit", word="admit", text="Admit the laptop that waits, so that its files are taken in."
        ),
        key("halt", show=False),
        key("filter"),
    ]

    def __init__(self, *, everything: bool = False) -> None:
        super().__init__()
        self.everything = everything
        self.standing: Standing | None = None
        self.conflicts: list[OpenConflict] = []
        self.alike: list[Likeness] = []
        self.waiting: list[KnownLaptop] = []
        self.with_recordings = False
        self.report: SyncReport | None = None
        self._painted = threading.Event()
        self._end = threading.Event()
        self.syncing = False

    def body(self) -> ComposeResult:
        """Stores, depots, conflicts, the last sync."""
        yield PaneTitle("here", id="here_title")
        yield Listing(*STORE_COLUMNS, id="stores", heading=False)
        yield PaneTitle("depots", id="depots_title")
        yield Listing(*DEPOT_COLUMNS, id="depots", heading=False, empty="no depot yet; X names one")
        yield PaneTitle("to decide", id="conflicts_title")
        yield Listing(*CONFLICT_COLUMNS, id="conflicts", heading=False, empty="…")
        yield PaneTitle("last sync", id="report_title")
        yield TextLines("  none since fieldlog was opened", id="report")

    def begin(self) -> None:
        """Begin on the depots."""
        self.query_one("#depots", Listing).focus()

    def refresh_room(self) -> None:
        """Read what waits, in a thread and after the first paint: looking for conflicts opens every site."""
        self.query_one("#title", TitleLine).show("exchange", "" if self.standing else "looking …")
        self._tell_recordings()
        self._painted.clear()
        self.call_after_refresh(self._painted.set)
        self.read_behind(self._read, "standing", first=self.standing is None)

    def _read(self) -> None:
        app, worker = self.fieldlog, get_current_worker()
        self._painted.wait(FIRST_PAINT_S)
        try:
            found = standing(app.workspace)
            if worker.is_cancelled:
                return
            self.from_thread(self._show_standing, found)
            conflicts, alike = open_conflicts(app.workspace), likenesses(app.workspace)
            waiting = [
                laptop for laptop in known_laptops(app.workspace) if not laptop.admitted and not laptop.this
            ]
        except (FieldlogError, OSError) as error:
            self.from_thread(self.reading_done, str(error))
            return
        if not worker.is_cancelled:
            self.from_thread(self._found, conflicts, alike, waiting)

    def _show_standing(self, found: Standing) -> None:
        self.standing = found
        self.query_one("#title", TitleLine).show("exchange", standing_words(found))
        self.query_one("#stores", Listing).show_rows(store_rows(found))
        self.query_one("#depots", Listing).show_rows(depot_rows(found))

    def _found(
        self, conflicts: list[OpenConflict], alike: list[Likeness], waiting: list[KnownLaptop]
    ) -> None:
        self.conflicts, self.alike, self.waiting = conflicts, alike, waiting
        listing = self.query_one("#conflicts", Listing)
        listing.empty = "no conflict, and no laptop waits"
        listing.show_rows([*conflict_rows(conflicts, alike), *laptop_rows(waiting)])
        self.query_one("#conflicts_title", PaneTitle).show("to decide", to_decide_words(conflicts, waiting))
        self.reading_done()
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
            elif kind == "laptop":
                self._ask_admission(self.waiting[int(place)])
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

    # laptops

    def action_admit(self) -> None:
        """Ask whether the laptop that waits belongs to the team."""
        kind, _, place = (self.query_one("#conflicts", Listing).row_key or "").partition("/")
        if kind == "laptop":
            self._ask_admission(self.waiting[int(place)])
        elif self.waiting:
            self._ask_admission(self.waiting[0])
        else:
            self.say("no laptop waits; one that is not admitted shows here after a sync", "quiet")

    def _ask_admission(self, laptop: KnownLaptop) -> None:
        self.ask(
            f"{laptop.name}, fingerprint {laptop.fingerprint}: does its owner read out the same? y admits it, "
            "n or esc leaves it out:",
            lambda answer: self._admit(laptop, answer),
        )

    def _admit(self, laptop: KnownLaptop, answer: str) -> None:
        if answer.strip().casefold() not in {"y", "yes"}:
            self.say(f"{laptop.name} is not admitted", "quiet")
            return
        app = self.fieldlog
        kept = admit(app.workspace, [laptop.fingerprint], by=app.by)
        team = app.workspace.team
        app.note_saved(
            f"{laptop.name} admitted", *((team, each.record.table, each.record.id) for each in kept)
        )
        self.refresh_room()
        self.say(
            f"saved: {laptop.name} is admitted; the next sync takes its files in, u takes it back", "good"
        )

    # syncing

    def action_recordings(self) -> None:
        """Bring others' recordings with the next syncs, or leave them in the depot."""
        self.with_recordings = not self.with_recordings
        self._tell_recordings()
        self.say(
            "the next sync brings every recording to this laptop"
            if self.with_recordings
            else "others' recordings stay in the depot; yours are brought there",
            "quiet",
        )

    def _tell_recordings(self) -> None:
        words = "recordings come too" if self.with_recordings else "recordings stay there"
        self.query_one("#depots_title", PaneTitle).show(note=words)

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
        # A site that was never exchanged is known to the sync by its id alone.
        names = {store.id: site_of(store).name for store in app.workspace.sites.values()}
        shown = ("", -1)

        def progress(what: str, done: int, of: int) -> None:
            nonlocal shown
            if self._end.is_set() or worker.is_cancelled:
                raise _EndedError
            now = (what, 100 * done // max(of, 1))
            if now != shown:
                shown = now
                *words, last = what.split(" ")
                named = " ".join([*words, names.get(last, last)])
                self.from_thread(self.say, f"{named}: {done + 1} of {of} · S ends it")

        report, words, role = None, "", ""
        try:
            depot = reach_depot(address, app.workspace.path)
            try:
                report = sync(app.workspace, depot, with_traces=self.with_recordings, progress=progress)
            finally:
                depot.close()
        except _EndedError:
            words = "ended; what was exchanged stands, the next sync goes on from there"
        except (FieldlogError, OSError) as error:
            words, role = str(error), "bad"
        if not worker.is_cancelled:
            self.from_thread(self._synced, report, words, role)

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
