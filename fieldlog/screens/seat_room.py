"""What can be done for the athlete at the rig: take in, weigh, set up, stop, and go on to the next."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from fieldlog.errors import InputError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.athlete_days import day_of
from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.batch.batches import entry_of
from fieldlog.fieldwork.batch.run_of_sets import RunRow
from fieldlog.fieldwork.batch.turn import effort_of, last_sets, next_counted, turn_rows
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.entry import parse_quantity
from fieldlog.fieldwork.results.imports import Import, analyse_import
from fieldlog.fieldwork.results.keep_set import Seat, change_note, occasion_at
from fieldlog.fieldwork.results.sets import reload_recording, sets_of
from fieldlog.fieldwork.results.typed_set import TYPED, is_typed, read_peaks, typed_text
from fieldlog.fieldwork.rig_checks.zero_log import keep_zero, zero_limit_nm, zero_words, zeros_since_check
from fieldlog.fieldwork.visit.day import checks_of_visit, rig_of_visit
from fieldlog.records.athlete import Athlete
from fieldlog.records.bare_zero import BareZero
from fieldlog.records.batch import Batch, BatchEntry
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Direction
from fieldlog.records.visit import Visit
from fieldlog.screens.room import Room
from fieldlog.store.store import Store

__all__ = ["SeatRoom"]


class SeatRoom(Room):
    """A room about one athlete's turn. ``row`` is the planned set that is meant; the room says which."""

    def __init__(self, store: Store, visit: Visit, batch_id: str, athlete_id: str, *, site_name: str) -> None:
        super().__init__()
        self.store = store
        self.visit = visit
        self.batch_id = batch_id
        self.athlete_id = athlete_id
        self.site_name = site_name

    # who and what

    def look(self) -> None:
        """Read anew who is at the rig and what is done; a room does so whenever it shows itself."""
        workspace = self.fieldlog.workspace
        batch = at_site(self.store, Batch).get(self.batch_id)
        assert batch is not None
        self.seat = Seat(
            workspace=workspace,
            store=self.store,
            visit=self.visit,
            batch=batch,
            athlete_id=self.athlete_id,
            protocol=catalogue.protocol(workspace, batch.record.protocol_id),
            rig=rig_of_visit(workspace, self.store, self.visit),
        )
        entry = entry_of(batch.record, self.athlete_id)
        assert entry is not None
        self.entry: BatchEntry = entry
        self.athlete: Athlete = athlete_named(workspace, self.athlete_id).record
        self.rows = turn_rows(workspace, self.store, self.visit, self.athlete_id, self.seat.protocol)
        self.last = last_sets(workspace, self.visit, self.athlete_id, self.seat.protocol.id)

    @property
    def row(self) -> RunRow:
        """The planned set that is meant; a room with a list overrides this."""
        return next_counted(self.rows) or self.rows[0]

    # what can be done

    def action_setup(self) -> None:
        """Walk down the setup plan."""
        from fieldlog.screens.setup_walk import SetupRoom

        seat = self.seat
        plan = catalogue.plan(seat.workspace, seat.protocol.plan_id)
        side = (next_counted(self.rows) or self.row).place[0]
        self.app.push_screen(SetupRoom(seat, self.athlete.code, plan, side))

    def action_clear(self) -> None:
        """Answer today's clearance."""
        from fieldlog.screens.clearance_entry import ClearanceRoom

        self.app.push_screen(ClearanceRoom(self.store, self.visit, self.athlete_id, site_name=self.site_name))

    def action_import(self) -> None:
        """Take in a recording for the set under the cursor; where that is done, it is redone."""
        from fieldlog.screens.import_recording import ImportRoom, read_import
        from fieldlog.screens.set_room import SetRoom

        row, seat, code = self.row, self.seat, self.athlete.code
        side, planned = row.place[0], row.planned
        sweep = self.fieldlog.sweeps.get((self.visit.id, self.athlete_id, side))
        like = Import(
            name="",
            data=b"",
            side=side,
            mode=planned.mode,
            speed_deg_s=planned.speed_deg_s,
            body_mass_kg=self.entry.body_mass_kg,
            sweep=sweep.data if sweep else None,
            angles_deg=seat.protocol.angles_deg,
        )
        last, occasion = self.last_import(row), occasion_at(seat, side, self.fieldlog.clock())

        def read(path: Path) -> Callable[[Room], None]:
            room = partial(SetRoom, seat, planned, code, judged=read_import(path, like, occasion), last=last)

            def show(asker: Room) -> None:
                asker.app.switch_screen(room())

            return show

        which = f"{'' if side == 'both' else side + ' '}{row.text}"
        self.app.push_screen(ImportRoom(f"{code} · {which}: which recording?", read))

    def action_typed(self) -> None:
        """Ask for the peak torques of the set under the cursor, one direction after the other."""
        self._ask_peaks(self.row, {})

    def _ask_peaks(self, row: RunRow, typed: dict[Direction, tuple[float, ...]]) -> None:
        protocol = self.seat.protocol
        direction = next((each for each in protocol.efforts if each not in typed), None)
        if direction is None:
            self._show_typed(row, typed)
            return

        def take(text: str) -> None:
            try:
                peaks = read_peaks(text)
            except InputError as error:
                # What was typed stands there again, to be corrected.
                self.ask(question, take, text)
                self.say(str(error), "bad")
                return
            self.say("")
            self._ask_peaks(row, {**typed, direction: peaks})

        side = "" if row.place[0] == "both" else f"{row.place[0]} "
        question = (
            f"{side}{row.text}: {protocol.direction_name(direction)}, peak torques in N·m as displayed, one a "
            "repetition (empty: none):"
        )
        self.ask(question, take)

    def _show_typed(self, row: RunRow, typed: dict[Direction, tuple[float, ...]]) -> None:
        from fieldlog.screens.set_room import SetRoom

        if not any(typed.values()):
            self.say("nothing was typed")
            return
        app = self.fieldlog
        import_ = Import(
            name=TYPED,
            data=typed_text(typed, at=app.clock(), by=app.by),
            side=row.place[0],
            mode=row.planned.mode,
            speed_deg_s=row.planned.speed_deg_s,
            body_mass_kg=self.entry.body_mass_kg,
            typed=typed,
        )
        app.push_screen(SetRoom(self.seat, row.planned, self.athlete.code, judged=analyse_import(import_)))

    def last_import(self, row: RunRow) -> Import | None:
        """The recording of the same effort at the last visit, to be drawn beside today's."""
        found = self.last.get(effort_of(row))
        if found is not None and not is_typed(found[1].measures):
            store, record = found
            with self.telling():
                return reload_recording(store, record)
        return None

    def action_weigh(self) -> None:
        """Choose the recording of the relaxed sweep."""
        from fieldlog.fieldwork.recording.recording_files import read_sweep
        from fieldlog.screens.import_recording import ImportRoom

        side = self.row.place[0]

        def read(path: Path) -> Callable[[Room], None]:
            sweep = read_sweep(path)

            def keep(asker: Room) -> None:
                self.fieldlog.sweeps[self.visit.id, self.athlete_id, side] = sweep
                asker.app.pop_screen()

            return keep

        self.app.push_screen(ImportRoom(f"{self.athlete.code}: which recording weighs the limb?", read))

    def action_body_mass(self) -> None:
        """Ask for today's body mass."""
        from fieldlog.screens.body_mass_entry import ask_body_mass

        def then() -> None:
            if day_of(self.store, self.visit, self.athlete_id) is None:
                self.say("saved: body mass; K notes footwear, warm-up and sides", "quiet")

        ask_body_mass(self, self.store, self.visit, self.seat.batch, self.athlete_id, then=then)

    def action_athlete_day(self) -> None:
        """Note what can change a result without being strength."""
        from fieldlog.screens.athlete_day import AthleteDayRoom

        self.app.push_screen(AthleteDayRoom(self.store, self.visit, self.athlete_id))

    def action_decide(self) -> None:
        """Write down the decision of a named, qualified person: after a stop, or about the clearance."""
        from fieldlog.screens.stop_entry import ask_release, holding_stops

        if holding_stops(self.store, self.visit, self.athlete_id):
            ask_release(self, self.store, self.visit, self.athlete_id)
        else:
            self.action_clear()

    def action_zero(self) -> None:
        """Ask for the zero of the bare lever."""
        if self.seat.rig is None:
            self.say("choose the rig first (stage 1 of the day)", "warn")
            return
        self.ask("nothing on the lever, the display shows, in N·m:", self._keep_zero)

    def _keep_zero(self, text: str) -> None:
        app, seat = self.fieldlog, self.seat
        assert seat.rig is not None
        kept = keep_zero(
            self.store,
            self.visit,
            seat.rig.id,
            parse_quantity(text, "nm", "zero"),
            at=app.clock(),
            by=app.by,
            athlete_id=self.athlete_id,
        )
        app.note_saved("zero of the bare lever", (self.store, BareZero.table, kept.record.id))
        self.refresh_room()
        words, asks = self.zero_words()
        self.say(words, "bad" if asks else "quiet")

    def zero_words(self) -> tuple[str, bool]:
        """What the zeros since the last check say, and whether an interim check is asked for."""
        rig = self.seat.rig
        if rig is None:
            return "", False
        zeros = zeros_since_check(self.store, self.visit, rig.id, self.fieldlog.clock())
        checks = [check for check in checks_of_visit(self.store, self.visit) if check.rig_id == rig.id]
        limit_nm = zero_limit_nm(self.fieldlog.workspace, checks)
        return zero_words([zero.reading_nm for zero in zeros], limit_nm)

    def action_stop(self) -> None:
        """Ask why the test was stopped."""
        from fieldlog.screens.stop_entry import ask_stop

        ask_stop(self, self.store, self.visit, self.athlete_id)

    def action_note(self) -> None:
        """Write a note to the last set."""
        done = sets_of(self.store, self.visit.id, self.athlete_id)
        if not done:
            self.say("a note belongs to a set; none is done yet")
            return

        def keep(note: str) -> None:
            kept = change_note(self.store, done[-1], note, by=self.fieldlog.by)
            self.fieldlog.note_saved("note", (self.store, EffortSet.table, kept.record.id))
            self.say("saved: note", "quiet")

        self.ask("note to the last set:", keep, done[-1].record.note)
