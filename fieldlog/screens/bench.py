"""Bench: one athlete at the rig, with all that is needed in the ninety seconds between two."""

from __future__ import annotations

from functools import partial
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.batch.batches import next_waiting
from fieldlog.fieldwork.batch.run_of_sets import RestClock, RunRow
from fieldlog.fieldwork.batch.turn import is_through, next_counted, one_more, rest_of, row_key
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.clearance.clearances import clearance_today
from fieldlog.fieldwork.results.imports import Import
from fieldlog.fieldwork.results.keep_set import gate_of, other_side_of
from fieldlog.fieldwork.results.results import ResultBook
from fieldlog.fieldwork.results.sets import reload_recording, sets_of
from fieldlog.fieldwork.results.typed_set import is_typed
from fieldlog.fieldwork.setup.setups import dial_in_today, setup_of
from fieldlog.fieldwork.visit.day import cover_words
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Side
from fieldlog.records.visit import Visit
from fieldlog.screens.arrivals import ArrivalRoom
from fieldlog.screens.bench_view import DIAL_COLUMNS, before_lines, dial_rows, set_columns, set_rows
from fieldlog.screens.curve import CurvePlot, legend
from fieldlog.screens.keys import key
from fieldlog.screens.table import Cell, Span, wrapped
from fieldlog.screens.widgets.curve_view import CurveView
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import rig_words
from fieldlog.store.store import Store

__all__ = ["BenchRoom"]


class BenchRoom(ArrivalRoom):
    """Dial-in changes, what stands before the first set, and the sets with their verdicts."""

    about = (
        "Above: what to change at the rig for this athlete. In the middle: what is still missing before a set may "
        "start. Below: the sets; enter takes in the recording of the one under the cursor, or shows the set that is "
        "done. I names a folder: recordings that arrive there are taken in as the set that is next, u takes one back, "
        "enter then gives it to the set under the cursor. s writes down why a test was stopped; > goes to the next "
        "athlete. Numbers in brackets are the last visit's."
    )
    CSS = """
    #dial { height: auto; max-height: 4; }
    #before { height: auto; max-height: 6; }
    BenchRoom #sets { height: 1fr; min-height: 3; }
    BenchRoom #set_curve, BenchRoom #set_curve_title { display: none; }
    #set_hint { height: auto; max-height: 6; }
    BenchRoom.tall #sets { height: auto; max-height: 12; }
    BenchRoom.tall #set_curve, BenchRoom.tall #set_curve_title { display: block; }
    BenchRoom.tall #dial { max-height: 9; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept", word="take in"),
        key("setup"),
        key("clear"),
        key("weigh"),
        key("stop"),
        key("next_athlete"),
        key("import", show=False),
        key("watch", show=False),
        key("typed", show=False),
        key("across", show=False),
        key(
            "leave_out", word="leave file", show=False, text="Leave the arrived recording that is on no set."
        ),
        key("body_mass", show=False),
        key("athlete_day", show=False),
        key("decide", show=False),
        key("zero", show=False),
        key("more", show=False),
        key("note", show=False),
    ]

    def __init__(self, store: Store, visit: Visit, batch_id: str, athlete_id: str, *, site_name: str) -> None:
        super().__init__(store, visit, batch_id, athlete_id, site_name=site_name)
        self._everything = False
        self._asked_next = False
        self._done = 0
        self._drawn = ""
        self._rest: RestClock | None = None

    def body(self) -> ComposeResult:
        """Dial-in, what is missing, sets."""
        yield PaneTitle("dial in", id="dial_title")
        yield Listing(*DIAL_COLUMNS, id="dial", heading=False, empty="nothing to change")
        yield PaneTitle("before the first set", id="before_title")
        yield TextLines("", id="before")
        yield PaneTitle("sets", id="sets_title")
        yield Listing(id="sets")
        yield TextLines("", id="set_hint")
        yield PaneTitle("curve", id="set_curve_title")
        yield CurveView(id="set_curve", ascii_only=self.fieldlog.ascii_only)

    def prepare(self) -> None:
        """The rest clock ticks only while somebody rests."""
        self._ticking = self.set_interval(1.0, self._tick, pause=True)
        self.begin_watch()

    def begin(self) -> None:
        """Begin on the next set; body mass is asked first where it is not known."""
        listing, following = self.query_one("#sets", Listing), next_counted(self.rows)
        self.set_focus(listing)
        if following:
            listing.to_key(row_key(following))
        if self.entry.body_mass_kg is None:
            self.action_body_mass()

    @property
    def row(self) -> RunRow:
        """The planned set under the cursor."""
        key_here = self.query_one("#sets", Listing).row_key
        return next((row for row in self.rows if row_key(row) == key_here), self.rows[0])

    # showing

    def refresh_room(self) -> None:
        """Read the turn anew."""
        self.look()
        self.fieldlog.arrivals.look(self.fieldlog.workspace)
        seat, rows = self.seat, self.rows
        following = next_counted(rows) or rows[0]
        entries = seat.batch.record.entries
        place = [each.athlete_id for each in entries].index(self.athlete_id) + 1
        words, _ = cover_words(seat.workspace, self.store, self.visit, seat.rig)
        side = following.place[0]
        self.query_one("#title", TitleLine).show(
            f"{self.athlete.code}{'' if side == 'both' else f' · {side}'} · {place} of {len(entries)}",
            f"{rig_words(seat.rig.name) if seat.rig else 'no rig chosen'} · {words}",
        )
        self._show_dial_in(side)
        self._show_before(following)
        book = ResultBook(seat.workspace)
        done = sets_of(self.store, self.visit.id, self.athlete_id)
        covers = {kept.record.id: book.of_set(kept) for kept in done}
        shown = set_rows(rows, seat.protocol, covers, self.last)
        self.query_one("#sets", Listing).show_rows(shown, columns=set_columns(seat.protocol))
        if len(done) > self._done and following is not rows[0]:
            self.query_one("#sets", Listing).to_key(row_key(following))
        self._done = len(done)
        self._rest = rest_of(rows)
        if self._show_rest():
            self._ticking.resume()
        self._show_hint()

    def _show_dial_in(self, side: Side) -> None:
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
        note = f"{hidden} unchanged, m shows them · {steps}" if hidden else steps
        self.query_one("#dial_title", PaneTitle).show(f"dial in: {plan.name}", note)

    def _show_before(self, row: RunRow) -> None:
        gate = gate_of(self.seat, row.planned, row.place[0], self.fieldlog.clock())
        clearance = clearance_today(self.store, self.visit, self.athlete_id)
        sweep = self.fieldlog.sweeps.get((self.visit.id, self.athlete_id, row.place[0]))
        lines = before_lines(gate, clearance, self.entry.body_mass_kg, sweep.name if sweep else "")
        words, asks = self.zero_words()
        if words:
            lines = [*lines[:1], Span(f"  {words}", "bad" if asks else "quiet"), *lines[1:]]
        self.query_one("#before", TextLines).show_lines(*lines)

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the set under the cursor."""
        event.stop()
        if event.listing.id == "sets":
            self._show_hint()

    def _show_hint(self) -> None:
        more = one_more(self.fieldlog.workspace, self.store, self.visit, self.athlete, self.row)
        loose = self.loose_words()
        lines: list[Cell] = [loose] if loose else [Span(f"  {more}", "warn")] if more else []
        lines += wrapped(f"Caution: {self.seat.protocol.caution}", self.size.width, "warn")
        self.query_one("#set_hint", TextLines).show_lines(*lines)
        self._draw_curve()

    def _draw_curve(self) -> None:
        row = self.row
        view = self.query_one("#set_curve", CurveView)
        if row.recorded is None or is_typed(row.recorded.measures):
            view.show_plot(None)
            self.query_one("#set_curve_title", PaneTitle).show("curve", "typed: none" if row.recorded else "")
            self._drawn = ""
        elif self._drawn != row.recorded.model_dump_json(include={"id", "left_out"}):
            self._drawn = row.recorded.model_dump_json(include={"id", "left_out"})
            work = partial(self._find_curve, row.recorded, self.last_import(row))
            self.run_worker(work, thread=True, exclusive=True, group="curve")

    def _find_curve(self, record: EffortSet, last: Import | None) -> None:
        from fieldlog.screens.curve_data import plots_of

        left_out = [entry.index for entry in record.left_out]
        try:
            recording = reload_recording(self.store, record)
            beside = other_side_of(self.seat, record.side, record.speed_deg_s, record.mode)
            other = reload_recording(self.store, beside) if beside else None
            plots = plots_of(recording, self.seat.protocol, left_out=left_out, last=last, other=other)
        except FieldlogError as error:
            self.from_thread(self.say, f"no curve: {error}", "warn")
            return
        self.from_thread(self._curve_found, *plots[0])

    def _curve_found(self, title: str, plot: CurvePlot) -> None:
        self.query_one("#set_curve_title", PaneTitle).show(
            title, legend(plot, title, self.size.width, ascii_only=self.fieldlog.ascii_only)
        )
        self.query_one("#set_curve", CurveView).show_plot(plot)

    def _tick(self) -> None:
        if not self._show_rest():
            self._ticking.pause()
            self.app.bell()

    def _show_rest(self) -> int:
        now = self.fieldlog.clock()
        note = self._rest.text(now) if self._rest else ""
        title = f"sets · {self.watch_words}" if self.watch_words else "sets"
        self.query_one("#sets_title", PaneTitle).show(title, note)
        return self._rest.left_s(now) if self._rest else 0

    # keys

    def action_accept(self) -> None:
        """Show the set under the cursor, or take in its recording."""
        from fieldlog.screens.set_room import SetRoom

        row, loose = self.row, self.fieldlog.arrivals.at_hand
        if self.query_one("#dial", Listing).has_focus:
            self.action_setup()
        elif row.recorded is None and loose is not None:
            self.give(loose.arrived, row)
        elif row.recorded is None:
            self.action_import()
        else:
            kept = at_site(self.store, EffortSet).get(row.recorded.id)
            last = self.last_import(row)
            self.app.push_screen(SetRoom(self.seat, row.planned, self.athlete.code, kept=kept, last=last))

    def action_more(self) -> None:
        """Show unchanged readings too, or not."""
        self._everything = not self._everything
        self.refresh_room()

    def action_across(self) -> None:
        """Show what the sets give together."""
        from fieldlog.screens.across_sets import AcrossRoom

        self.app.push_screen(AcrossRoom(self.seat, self.athlete.code))

    def action_next_athlete(self) -> None:
        """Go to the next athlete; what is still open is said once."""
        left = self._rest.left_s(self.fieldlog.clock()) if self._rest else 0
        loose = self.fieldlog.arrivals.at_hand
        if (loose or not is_through(self.rows)) and not self._asked_next:
            self._asked_next = True
            what = f"resting, {left} s left" if left else "a set is still to be done"
            what = f"{loose.arrived.path.name} is on no set" if loose else what
            self.say(f"{what}; > again goes on all the same", "warn")
            return
        entry = next_waiting(self.seat.batch.record, after=self.athlete_id)
        if entry is None:
            self.say("nobody else waits; esc goes back to the day")
            return
        self.app.switch_screen(
            BenchRoom(self.store, self.visit, self.batch_id, entry.athlete_id, site_name=self.site_name)
        )
