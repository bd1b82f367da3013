"""Bench: one athlete at the rig, with all that is needed in the ninety seconds between two."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athlete_days import last_body_mass_kg, mass_question, set_body_mass
from fieldlog.fieldwork.athletes import athlete_named
from fieldlog.fieldwork.batches import entry_of, next_waiting
from fieldlog.fieldwork.books import at_site, everywhere
from fieldlog.fieldwork.clearances import clearance_today
from fieldlog.fieldwork.comparison import last_results
from fieldlog.fieldwork.day import cover_words, rig_of_visit
from fieldlog.fieldwork.entry import parse_quantity
from fieldlog.fieldwork.keep_set import Seat, gate_of
from fieldlog.fieldwork.rest_clock import RestClock, RunRow, next_row
from fieldlog.fieldwork.results import ResultBook
from fieldlog.fieldwork.sets import Import, reload_recording, sets_of
from fieldlog.fieldwork.setups import dial_in_today, setup_of
from fieldlog.fieldwork.turn import is_through, one_more, rest_of, row_key, turn_rows
from fieldlog.records.athlete import Athlete
from fieldlog.records.batch import Batch, BatchEntry
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Direction
from fieldlog.records.visit import Visit
from fieldlog.screens.bench_view import DIAL_COLUMNS, dial_rows, set_columns, set_rows
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Cell, Span
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import number, verdict_span
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store

__all__ = ["BenchRoom"]


class BenchRoom(Room):
    """Dial-in changes, what stands before the first set, and the sets with their verdicts."""

    about = (
        "Above: what to change at the rig for this athlete. In the middle: what is still missing before a set may "
        "start. Below: the sets; enter takes in the recording of the one under the cursor, or shows the set that is "
        "done. s writes down why a test was stopped; > goes to the next athlete. Numbers in brackets are the last "
        "visit's."
    )
    CSS = """
    #dial { height: auto; max-height: 6; min-height: 2; }
    #before { height: auto; min-height: 2; max-height: 5; }
    BenchRoom #sets { height: 1fr; min-height: 3; }
    #set_hint { height: auto; max-height: 2; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept", word="take in / show"),
        key("setup"),
        key("clear"),
        key("weigh"),
        key("stop"),
        key("next_athlete"),
        key("import", show=False),
        key("body_mass", show=False),
        key("more", show=False),
        key("note", show=False),
    ]

    def __init__(self, store: Store, visit: Visit, batch_id: str, athlete_id: str, *, site_name: str) -> None:
        super().__init__()
        self.store = store
        self.visit = visit
        self.batch_id = batch_id
        self.athlete_id = athlete_id
        self.site_name = site_name
        self._everything = False
        self._asked_next = False

    def body(self) -> ComposeResult:
        """Dial-in, what is missing, sets."""
        yield PaneTitle("dial in", id="dial_title")
        yield Listing(
            *DIAL_COLUMNS,
            id="dial",
            heading=False,
            empty="nothing to change is known; space walks down the plan",
        )
        yield PaneTitle("before the first set", id="before_title")
        yield TextLines("", id="before")
        yield PaneTitle("sets", id="sets_title")
        yield Listing(id="sets")
        yield TextLines("", id="set_hint")

    def on_mount(self) -> None:
        """Begin on the next set."""
        self._ticking = self.set_interval(1.0, self._tick, pause=True)
        self._rest: RestClock | None = None
        super().on_mount()
        listing, following = self.query_one("#sets", Listing), next_row(self._rows)
        listing.focus()
        if following:
            listing.to_key(row_key(following))
        if self._entry.body_mass_kg is None:
            self.action_body_mass()

    # who and what

    @property
    def seat(self) -> Seat:
        """Athlete, protocol and rig."""
        workspace = self.fieldlog.workspace
        batch = at_site(self.store, Batch).get(self.batch_id)
        assert batch is not None
        return Seat(
            workspace=workspace,
            store=self.store,
            visit=self.visit,
            batch=batch,
            athlete_id=self.athlete_id,
            protocol=catalogue.protocol(workspace, batch.record.protocol_id),
            rig=rig_of_visit(workspace, self.store, self.visit),
        )

    @property
    def _entry(self) -> BatchEntry:
        entry = entry_of(self.seat.batch.record, self.athlete_id)
        assert entry is not None
        return entry

    @property
    def _athlete(self) -> Athlete:
        return athlete_named(self.fieldlog.workspace, self.athlete_id).record

    @property
    def _rows(self) -> tuple[RunRow, ...]:
        seat = self.seat
        return turn_rows(seat.workspace, self.store, self.visit, self.athlete_id, seat.protocol)

    @property
    def _row(self) -> RunRow:
        key_here = self.query_one("#sets", Listing).row_key
        rows = self._rows
        return next((row for row in rows if row_key(row) == key_here), rows[0])

    # showing

    def refresh_room(self) -> None:
        """Read the turn anew."""
        seat, rows, entry = self.seat, self._rows, self._entry
        following = next_row(rows) or rows[0]
        entries = seat.batch.record.entries
        place = [each.athlete_id for each in entries].index(self.athlete_id) + 1
        words, _ = cover_words(seat.workspace, self.store, self.visit, seat.rig)
        side = following.place[0]
        shown_side = "" if side == "both" else f" · {side}"
        self.query_one("#title", TitleLine).show(
            f"{self._athlete.code}{shown_side} · {place} of {len(entries)}",
            f"rig {seat.rig.name if seat.rig else '?'} {words}",
        )
        self._show_dial_in(side)
        self._show_before(following, entry)
        book = ResultBook(seat.workspace)
        covers = {
            kept.record.id: book.of_set(kept) for kept in sets_of(self.store, self.visit.id, self.athlete_id)
        }
        shown = set_rows(rows, seat.protocol, covers, self._last_peaks(book))
        self.query_one("#sets", Listing).show_rows(shown, columns=set_columns(seat.protocol))
        self._rest = rest_of(rows)
        if self._show_rest():
            self._ticking.resume()
        self._show_hint()

    def _show_dial_in(self, side: Any) -> None:
        seat = self.seat
        plan = catalogue.plan(seat.workspace, seat.protocol.plan_id)
        lines = dial_in_today(
            seat.workspace,
            self.store,
            self.visit,
            athlete_id=self.athlete_id,
            plan=plan,
            side=side,
            rig_id=seat.rig.id if seat.rig else None,
        )
        rows, hidden = dial_rows(lines, everything=self._everything)
        self.query_one("#dial", Listing).show_rows(rows)
        setup = setup_of(self.store, self.visit, self.athlete_id, plan, side)
        steps = f"{len(setup.record.steps) if setup else 0} of {len(plan.steps)} steps taken"
        self.query_one("#dial_title", PaneTitle).show(
            f"dial in: {plan.name}", f"{hidden} unchanged, m shows them · {steps}" if hidden else steps
        )

    def _show_before(self, row: RunRow, entry: BatchEntry) -> None:
        seat = self.seat
        gate = gate_of(seat, row.planned, row.place[0], self.fieldlog.clock())
        clearance = clearance_today(self.store, self.visit, self.athlete_id)
        sweep = self.fieldlog.sweeps.get((self.visit.id, self.athlete_id, row.place[0]))
        weighed = f"weighed {sweep.name}" if sweep else "not weighed (w)"
        first: list[Span] = [
            Span("  clearance "),
            verdict_span(clearance.outcome) if clearance else Span("not taken (c)", "warn"),
            Span(f"   body mass {number(entry.body_mass_kg, 1, 'kg')}   {weighed}"),
        ]
        lines: list[Cell] = [first]
        if gate.allowed:
            lines.append(Span("  ✓ nothing is missing; the start is the tester's decision", "good"))
        else:
            lines += [Span(f"  ✗ {text}", "bad") for text in gate.missing[:3]]
            if len(gate.missing) > 3:
                lines.append(Span(f"    and {len(gate.missing) - 3} more", "quiet"))
        self.query_one("#before", TextLines).show_lines(*lines)

    def _last_peaks(self, book: ResultBook) -> dict[tuple[str, float, Direction], float]:
        return {
            (result.record.side, result.record.speed_deg_s, result.direction): result.peak_torque_nm
            for _, result in last_results(book, self.visit, self.athlete_id).values()
            if result.peak_torque_nm is not None
        }

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the set under the cursor."""
        event.stop()
        if event.listing.id == "sets":
            self._show_hint()

    def _show_hint(self) -> None:
        more = one_more(self.fieldlog.workspace, self.store, self.visit, self._athlete, self._row)
        lines: list[Cell] = [Span(f"  {more}", "warn")] if more else []
        lines.append(Span(f"  Caution: {self.seat.protocol.caution}", "warn"))
        self.query_one("#set_hint", TextLines).show_lines(*lines)

    def _tick(self) -> None:
        if not self._show_rest():
            self._ticking.pause()
            self.app.bell()

    def _show_rest(self) -> int:
        left = self._rest.left_s(self.fieldlog.clock()) if self._rest else 0
        note = self._rest.text(self.fieldlog.clock()) if self._rest else ""
        self.query_one("#sets_title", PaneTitle).show(note=note)
        return left

    # keys

    def action_accept(self) -> None:
        """Show the set under the cursor, or take in its recording."""
        listing = self.query_one("#dial", Listing)
        if listing.has_focus:
            self.action_setup()
            return
        row = self._row
        if row.recorded is None:
            self.action_import()
            return
        from fieldlog.screens.set_shown import SetRoom

        kept = at_site(self.store, EffortSet).get(row.recorded.id)
        self.app.push_screen(
            SetRoom(self.seat, row.planned, self._athlete.code, kept=kept, last=self._last_import(row))
        )

    def action_setup(self) -> None:
        """Walk down the setup plan."""
        from fieldlog.screens.setup_walk import SetupRoom

        seat = self.seat
        plan = catalogue.plan(seat.workspace, seat.protocol.plan_id)
        side = (next_row(self._rows) or self._row).place[0]
        self.app.push_screen(SetupRoom(seat, self._athlete.code, plan, side))

    def action_clear(self) -> None:
        """Answer today's clearance."""
        from fieldlog.screens.clearance_entry import ClearanceRoom

        self.app.push_screen(ClearanceRoom(self.store, self.visit, self.athlete_id, site_name=self.site_name))

    def action_import(self) -> None:
        """Take in a recording for the set under the cursor; where that is done, it is redone."""
        from fieldlog.screens.import_recording import ImportRoom

        row = self._row
        side, planned = row.place[0], row.planned
        code, seat = self._athlete.code, self.seat
        title = f"{code} · {'' if side == 'both' else side + ' '}{planned.speed_deg_s:g}°/s"
        sweep = self.fieldlog.sweeps.get((self.visit.id, self.athlete_id, side))
        like = Import(
            name="",
            data=b"",
            side=side,
            mode=planned.mode,
            speed_deg_s=planned.speed_deg_s,
            body_mass_kg=self._entry.body_mass_kg,
            sweep=sweep.data if sweep else None,
            angles_deg=seat.protocol.angles_deg,
        )
        last = self._last_import(row)

        def read(path: Path) -> Callable[[Room], None]:
            from fieldlog.screens.import_recording import read_import
            from fieldlog.screens.set_shown import SetRoom

            import_, measures = read_import(path, like)
            room = partial(SetRoom, seat, planned, code, import_=import_, measures=measures, last=last)

            def show(asker: Room) -> None:
                asker.app.switch_screen(room())

            return show

        self.app.push_screen(ImportRoom(f"{title}: which recording?", read))

    def _last_import(self, row: RunRow) -> Import | None:
        found = last_results(ResultBook(self.fieldlog.workspace), self.visit, self.athlete_id).values()
        for _, result in found:
            record = result.record
            wanted = (row.place[0], row.planned.speed_deg_s, row.planned.mode)
            if (record.side, record.speed_deg_s, record.mode) == wanted:
                for store, kept in everywhere(self.fieldlog.workspace, EffortSet, id=record.id):
                    with self.telling():
                        return reload_recording(store, kept.record)
        return None

    def action_weigh(self) -> None:
        """Choose the recording of the relaxed sweep."""
        from fieldlog.screens.import_recording import ImportRoom

        side = self._row.place[0]

        def read(path: Path) -> Callable[[Room], None]:
            from fieldlog.fieldwork.recording_files import read_sweep

            sweep = read_sweep(path)

            def keep(asker: Room) -> None:
                self.fieldlog.sweeps[self.visit.id, self.athlete_id, side] = sweep
                asker.app.pop_screen()

            return keep

        self.app.push_screen(ImportRoom(f"{self._athlete.code}: which recording weighs the limb?", read))

    def action_body_mass(self) -> None:
        """Ask for today's body mass."""
        last = last_body_mass_kg(self.fieldlog.workspace, self.athlete_id, before=self.visit.date)
        known = f" (last time {last:.1f})" if last else ""
        self.ask(f"body mass today in kg{known}:", self._keep_mass)

    def _keep_mass(self, text: str) -> None:
        if not text.strip():
            return
        mass = parse_quantity(text, "kg", "body mass")
        doubt = mass_question(
            mass, last_body_mass_kg(self.fieldlog.workspace, self.athlete_id, before=self.visit.date)
        )
        kept = set_body_mass(self.store, self.seat.batch, self.athlete_id, mass, by=self.fieldlog.by)
        self._saved("body mass", kept)
        if doubt:
            self.say(doubt, "warn")

    def _saved(self, what: str, kept: Kept[Batch]) -> None:
        self.fieldlog.note_saved(what, (self.store, Batch.table, kept.record.id))
        self.refresh_room()
        self.say(f"saved: {what}", "quiet")

    def action_more(self) -> None:
        """Show unchanged readings too, or not."""
        self._everything = not self._everything
        self.refresh_room()

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
        from fieldlog.fieldwork.keep_set import change_note

        last = done[-1]

        def keep(note: str) -> None:
            kept = change_note(self.store, last, note, by=self.fieldlog.by)
            self.fieldlog.note_saved("note", (self.store, EffortSet.table, kept.record.id))
            self.say("saved: note", "quiet")

        self.ask("note to the last set:", keep, last.record.note)

    def action_next_athlete(self) -> None:
        """Go to the next athlete; what is still open is said once."""
        left = self._rest.left_s(self.fieldlog.clock()) if self._rest else 0
        if not is_through(self._rows) and not self._asked_next:
            self._asked_next = True
            what = f"resting, {left} s left" if left else "a set is still to be done"
            self.say(f"{what}; > again goes on all the same", "warn")
            return
        entry = next_waiting(self.seat.batch.record, after=self.athlete_id)
        if entry is None:
            self.say("nobody else waits; esc goes back to the day")
            return
        self.app.switch_screen(
            BenchRoom(self.store, self.visit, self.batch_id, entry.athlete_id, site_name=self.site_name)
        )
