"""Recordings that arrive at the bench by themselves: which folder, what was taken in, what is on no set."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from textual.worker import Worker, get_current_worker

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.recording.arrivals import keep_watched_folder, watched_folder
from fieldlog.fieldwork.recording.recording_files import Sweep, complete_path
from fieldlog.fieldwork.results.keep_set import KeptSet
from fieldlog.records.protocol import Side
from fieldlog.screens.arrival_watcher import RoomWatcher
from fieldlog.screens.room import Room
from fieldlog.screens.seat_room import SeatRoom
from fieldlog.screens.table import Span
from fieldlog.screens.widgets.ask_line import AskLine

if TYPE_CHECKING:
    from fieldlog.fieldwork.batch.run_of_sets import RunRow
    from fieldlog.fieldwork.results.arrived import Arrived
    from fieldlog.fieldwork.results.imports import JudgedImport

__all__ = ["WATCH_GROUP", "ArrivalRoom"]

WATCH_GROUP = "watch"


class ArrivalRoom(SeatRoom):
    """A seat at which recordings arrive. Each is taken in as the set that is next, and said; u takes it back."""

    watch_words = ""
    _worker: Worker[None] | None = None

    # which folder

    def begin_watch(self) -> None:
        """Watch the folder that was named for this visit, if one was."""
        folder = watched_folder(self.fieldlog.workspace, self.store, self.visit)
        if self._worker is not None:
            self._worker.cancel()
        self.watch_words = f"watching {folder.name or folder}" if folder else ""
        if folder is not None:
            self.fieldlog.recordings_folder = folder
            self._worker = self.run_worker(
                partial(self._watch, folder), thread=True, group=WATCH_GROUP, exit_on_error=False
            )

    def action_watch(self) -> None:
        """Ask for the folder recordings arrive in."""
        folder = watched_folder(self.fieldlog.workspace, self.store, self.visit)
        self.ask(
            "folder in which recordings arrive (tab completes; empty: none is watched):",
            self._take_folder,
            f"{folder or self.fieldlog.recordings_folder}/",
            completer=complete_path,
        )

    def _take_folder(self, typed: str) -> None:
        folder = keep_watched_folder(self.fieldlog.workspace, self.store, self.visit, typed)
        self.say(f"watching {folder}" if folder else "no folder is watched", "quiet")
        self.begin_watch()
        self.refresh_room()

    # in the watching thread

    def _watch(self, folder: Path) -> None:
        from fieldlog.screens.folder_watch import watch_folder

        watcher = RoomWatcher(self, folder)
        watcher.offer()
        # What the first recording needs is loaded before it is there.
        import fieldlog.analysis.limb_sweep
        import fieldlog.fieldwork.recording.recording
        import fieldlog.screens.curve_data  # noqa: F401 (see above)

        watch_folder(folder, watcher)

    def take_in(self, path: Path) -> None:
        """Take a complete file in as the set it seems to be; runs in the watching thread.

        Raises InputError where it cannot be read; everything else is said on the screen.
        """
        from fieldlog.fieldwork.recording.recording_reader import read_bytes
        from fieldlog.fieldwork.results.arrived import (
            guess_set,
            last_maps,
            read_arrived,
            rows_now,
            take_arrived,
        )
        from fieldlog.fieldwork.results.sets import holder_of

        app, seat = self.fieldlog, self.seat
        data = read_bytes(path)
        holder = holder_of(app.workspace, data)
        if holder:
            self._tell(partial(self.say_arrival, f"{path.name} is already {holder}", "quiet"))
            return
        arrived = read_arrived(path, data, maps=last_maps(seat.store, seat.visit))
        grown = app.arrivals.set_grown_from(arrived)
        if grown is not None and not self._tell(partial(app.undo_if_last, grown)):
            why = "it was written on after it became a set; undo that set, then give it"
            self._tell(partial(self._lay_aside, arrived, why))
            return
        rows = rows_now(seat)
        guess = guess_set(seat, rows, arrived, weighed=self._weighed_sides())
        if guess.sweep:
            self._tell(partial(self._weigh_with, arrived))
            return
        if guess.row is None:
            self._tell(partial(self._lay_aside, arrived, guess.against))
            return
        side = guess.row.place[0]
        try:
            kept = take_arrived(
                seat,
                guess.row,
                arrived,
                body_mass_kg=self.entry.body_mass_kg,
                sweep=app.sweeps.get((seat.visit.id, seat.athlete_id, side)),
                at=app.clock(),
                by=app.by,
            )
        except FieldlogError as error:
            self._tell(partial(self._lay_aside, arrived, error.message))
            return
        self._tell(partial(self._taken_in, arrived, guess.row, kept))

    def _weighed_sides(self) -> list[Side]:
        own = (self.visit.id, self.athlete_id)
        return [row.place[0] for row in self.rows if (*own, row.place[0]) in self.fieldlog.sweeps]

    def _tell(self, what: partial[Any]) -> Any:
        return self.app.call_from_thread(what) if not get_current_worker().is_cancelled else None

    # on the screen

    def say_arrival(self, text: str, role: str = "") -> None:
        """Say it in whatever room is open: nothing that arrives goes by unseen."""
        room = self.app.screen
        (room if isinstance(room, Room) else self).say(text, role)

    def _taken_in(self, arrived: Arrived, row: RunRow, kept: KeptSet) -> None:
        from fieldlog.screens.set_room import SetRoom

        app, record = self.fieldlog, kept.kept.record
        app.arrivals.took(self.store, record.id, arrived)
        which = (
            f"set {record.number} of {self.athlete.code}{'' if record.side == 'both' else ', ' + record.side}"
        )
        app.note_saved(which, *((self.store, table, key) for table, key in kept.changed))
        without = "; recorded without clearance, on no page" if record.without_clearance else ""
        said = f"{arrived.path.name}: {which}, {row.planned.speed_deg_s:g}°/s{without}; u takes it back"
        last = self.last_import(row)
        self.look()
        shown = SetRoom(self.seat, row.planned, self.athlete.code, kept=kept.kept, last=last, said=said)
        top = app.screen
        if top is self and not self.query_one(AskLine).display:
            app.push_screen(shown)
        elif isinstance(top, SetRoom) and top.is_idle:
            app.switch_screen(shown)
        else:
            if top is self:
                self.refresh_room()
            self.say_arrival(said, "warn" if without else "accent")

    def _lay_aside(self, arrived: Arrived, why: str) -> None:
        self.fieldlog.arrivals.lay_aside(arrived, why)
        if self.app.screen is self and not self.query_one(AskLine).display:
            self.refresh_room()
        self.say_arrival(f"{arrived.path.name} is on no set: {why}", "warn")

    def _weigh_with(self, arrived: Arrived) -> None:
        side = next((row.place[0] for row in self.rows if row.state in ("next", "open")), self.row.place[0])
        self.fieldlog.sweeps[self.visit.id, self.athlete_id, side] = Sweep(arrived.path.name, arrived.data)
        if self.app.screen is self:
            self.refresh_room()
        self.say_arrival(
            f"{arrived.path.name}: a relaxed sweep, weighs the limb ({side}); w chooses another", "accent"
        )

    def offered(self, paths: Sequence[Path]) -> None:
        """Say what lay in the folder before."""
        if paths:
            names = paths[0].name if len(paths) == 1 else f"{len(paths)} recordings"
            self.say_arrival(f"{names} of today lay there before, on no set; i shows them", "warn")

    def gone(self, folder: Path, why: str) -> None:
        """Say that the folder cannot be seen."""
        self.watch_words = f"{folder.name} is not there"
        self.say_arrival(f"{folder}: {why}; fieldlog goes on when it is back", "bad")
        self._show_watch()

    def back(self, folder: Path) -> None:
        """Say that the folder is there again."""
        self.watch_words = f"watching {folder.name or folder}"
        self.say_arrival(f"{folder} is back", "good")
        self._show_watch()

    def _show_watch(self) -> None:
        if self.app.screen is self:
            self.refresh_room()

    # what is on no set

    def loose_words(self) -> Span | None:
        """What to do with the recording that is on no set, in one line."""
        loose = self.fieldlog.arrivals.at_hand
        if loose is None:
            return None
        return Span(
            f"  {loose.arrived.path.name} is on no set: enter gives it to this one, x leaves it", "accent"
        )

    def give(self, arrived: Arrived, row: RunRow) -> None:
        """Show what a recording would be as this set; enter there keeps it."""
        self.say(f"reading {arrived.path.name} …", "quiet")
        self.run_worker(partial(self._measure, arrived, row), thread=True, exclusive=True, group="read")

    def _measure(self, arrived: Arrived, row: RunRow) -> None:
        from fieldlog.fieldwork.results.arrived import judge_arrived

        app, seat = self.fieldlog, self.seat
        try:
            judged = judge_arrived(
                seat,
                row,
                arrived,
                body_mass_kg=self.entry.body_mass_kg,
                sweep=app.sweeps.get((seat.visit.id, seat.athlete_id, row.place[0])),
                at=app.clock(),
            )
        except FieldlogError as error:
            self.from_thread(self.say, str(error), "bad")
            return
        self.from_thread(self._show_given, judged, row)

    def _show_given(self, judged: JudgedImport, row: RunRow) -> None:
        from fieldlog.screens.set_room import SetRoom

        if self.app.screen is self:
            self.say("")
            self.app.push_screen(
                SetRoom(
                    self.seat,
                    row.planned,
                    self.athlete.code,
                    judged=judged,
                    last=self.last_import(row),
                )
            )

    def action_leave_out(self) -> None:
        """Leave the recording that is on no set where it is."""
        loose = self.fieldlog.arrivals.at_hand
        if loose is None:
            self.say("no recording waits for its set")
            return
        self.fieldlog.arrivals.lay_away(loose.arrived)
        self.refresh_room()
        self.say(f"{loose.arrived.path.name} stays where it is; i takes it in by hand", "quiet")
