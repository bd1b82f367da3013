"""A day at a site, shown: five stages in order, what is done, and what holds up the next."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, cast

from textual.app import ComposeResult

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.books import at_site, site_of
from fieldlog.fieldwork.pages.reissue import StaleSheet, stale_of_visit
from fieldlog.fieldwork.pages.sheet_ledger import issued_sheets
from fieldlog.fieldwork.rig_checks.check_plan import CheckPlan
from fieldlog.fieldwork.visit.day import cover_words, rig_of_visit
from fieldlog.fieldwork.visit.visits import STAGES, StageState, day_stages, ensure_visit, visits_of
from fieldlog.records.rig import Rig
from fieldlog.records.visit import Visit, visit_id
from fieldlog.screens.room import Room
from fieldlog.screens.stages.arrive import ArriveStage
from fieldlog.screens.stages.checks import CheckStage, ClosingStage
from fieldlog.screens.stages.hand_over import HandOverStage
from fieldlog.screens.stages.stage import Stage
from fieldlog.screens.stages.testing import TestStage
from fieldlog.screens.table import Cell, Span
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import day_words, rig_words
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

if TYPE_CHECKING:
    from fieldlog.screens.day import DayRoom

__all__ = ["DayShown"]

WIDE = 78


class DayShown(Room):
    """The stages of a day and going between them; what is done in them comes with the room built on it."""

    CSS = """
    #stages { height: 1; }
    #rows { height: 1fr; }
    #hint { height: auto; max-height: 8; }
    """

    def __init__(self, store: Store, date: dt.date | None = None) -> None:
        super().__init__()
        self.store = store
        self.site = site_of(store)
        self.planned: CheckPlan | None = None
        self.stale: dict[str, StaleSheet] = {}
        self._date = date
        self.stage_index = 0

    def body(self) -> ComposeResult:
        """The stages, the rows of one of them, and a few lines about the row."""
        yield TextLines("", id="stages")
        yield PaneTitle("", id="rows_title")
        yield Listing(id="rows")
        yield TextLines("", id="hint")

    def prepare(self) -> None:
        """Look up what does not change while the room is open."""
        self.workspace: Workspace = self.fieldlog.workspace
        if self._date is None:
            visits = visits_of(self.store)
            self._date = visits[0].record.date if visits else self.fieldlog.today
        day = cast("DayRoom", self)
        self.stages: tuple[Stage, ...] = (
            ArriveStage(day),
            CheckStage(day),
            TestStage(day),
            ClosingStage(day),
            HandOverStage(day),
        )
        self.look()
        self.stage_index = self.first_open

    def begin(self) -> None:
        """Begin at the first stage that is not done."""
        self.set_focus(self.query_one("#rows", Listing))

    # what there is

    def ensure_visit(self) -> Kept[Visit]:
        """The visit, kept."""
        assert self._date is not None
        kept = ensure_visit(self.store, self._date, self.fieldlog.by)
        self.visit = kept.record
        return kept

    @property
    def now(self) -> dt.datetime:
        """The moment by the clock."""
        return self.fieldlog.clock()

    def look(self) -> None:
        """Read the day anew: visit, rig, and what is done."""
        assert self._date is not None
        identity = visit_id(self.site.id, self._date)
        kept = at_site(self.store, Visit).get(identity)
        # As kept, or as it will be once something of it is saved.
        self.visit = kept.record if kept else Visit(id=identity, site_id=self.site.id, date=self._date)
        self.rig: Rig | None = rig_of_visit(self.workspace, self.store, self.visit)
        self._judge_stages()

    def _judge_stages(self) -> None:
        numbers = {each.sheet.number for each in self.stale.values()}
        self.stage_states: tuple[StageState, ...] = day_stages(self.store, self.visit, numbers)

    @property
    def first_open(self) -> int:
        """The first stage that is not done."""
        return next((index for index, state in enumerate(self.stage_states) if not state.done), 4)

    @property
    def stage(self) -> Stage:
        """The stage that is shown."""
        return self.stages[self.stage_index]

    # showing

    def refresh_room(self) -> None:
        """Read the day anew and show it; whether its sheets still hold is found in a thread."""
        self.look()
        self._show_day()
        if issued_sheets(self.store, self.visit.id):
            self.run_worker(
                partial(self._find_stale, self.visit.id), thread=True, exclusive=True, group="stale"
            )

    def _find_stale(self, of_visit: str) -> None:
        app = self.fieldlog
        try:
            found = stale_of_visit(app.workspace, self.store, of_visit)
        except (FieldlogError, OSError) as error:
            self.from_thread(self.say, f"whether the sheets hold: {error}", "warn")
            return
        self.from_thread(self._stale_found, of_visit, found)

    def _stale_found(self, of_visit: str, found: Sequence[StaleSheet]) -> None:
        stale = {each.sheet.id: each for each in found}
        if self.visit.id == of_visit and stale != self.stale:
            self.stale = stale
            self._judge_stages()
            self._show_day()

    def _show_day(self) -> None:
        words, _ = cover_words(self.workspace, self.store, self.visit, self.rig)
        rig = f" · {rig_words(self.rig.name)}" if self.rig else ""
        self.query_one("#title", TitleLine).show(
            f"{self.site.name} · {day_words(self.visit.date, self.fieldlog.today)}{rig}", words
        )
        self._show_stages()
        listing = self.query_one("#rows", Listing)
        listing.show_rows(self.stage.rows(), columns=self.stage.columns)
        state = self.stage_states[self.stage_index]
        note = self.stage.note() or state.text
        self.query_one("#rows_title", PaneTitle).show(f"{self.stage_index + 1} {state.name}", note)
        self._show_hint()

    def _show_stages(self) -> None:
        states = self.stage_states
        first_open = next((index for index, state in enumerate(states) if not state.done), None)
        between = "   " if self.size.width >= WIDE else " "
        spans = [Span(" ")]
        for index, (name, state) in enumerate(zip(STAGES, states, strict=True)):
            mark = " ✓" if state.done else " ●" if index == first_open else ""
            role = "good" if state.done else "warn" if index == first_open else ""
            shown = Span(f"{index + 1} {name}", "key" if index == self.stage_index else "")
            spans += [shown, Span(mark, role), Span(between if index < 4 else "")]
        self.query_one("#stages", TextLines).show_lines(spans)

    def _show_hint(self) -> None:
        row_key = self.query_one("#rows", Listing).row_key
        today = self.fieldlog.today
        elsewhere: list[Cell] = []
        if self.visit.date != today:
            shown = day_words(self.visit.date, today)
            elsewhere = [Span(f"  this is the visit of {shown}; a begins today's", "accent")]
        self.query_one("#hint", TextLines).show_lines(*elsewhere, *self.stage.hint(row_key))

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the row under the cursor."""
        event.stop()
        self._show_hint()

    def step_on(self) -> None:
        """Go on to the next row."""
        self.query_one("#rows", Listing).action_move(1)

    def saved(self, what: str, table: str, document: str) -> None:
        """Show what was saved, and remember it for undo."""
        self.fieldlog.note_saved(what, (self.store, table, document))
        self.refresh_room()
        self.say(f"saved: {what}", "quiet")

    # going about

    def action_open_row(self) -> None:
        """Do what the row says."""
        row_key = self.query_one("#rows", Listing).row_key
        if row_key is not None:
            with self.telling():
                self.stage.open(row_key)

    def action_stage(self, number: int) -> None:
        """Go to a stage."""
        self.stage_index = number - 1
        listing = self.query_one("#rows", Listing)
        listing.filter("")
        listing.action_to(0)
        self.refresh_room()
        self.say("")
        self.refresh_bindings()

    def action_visit(self, by: int) -> None:
        """Go to the earlier or later visit."""
        dates = [kept.record.date for kept in visits_of(self.store)]
        if self._date not in dates:
            dates = sorted({*dates, self._date or self.fieldlog.today}, reverse=True)
        place = dates.index(self._date or dates[0]) + by
        if not 0 <= place < len(dates):
            self.say("there is no earlier visit" if by > 0 else "there is no later visit")
            return
        self._go_to(dates[place])

    def action_today(self) -> None:
        """Begin today's visit."""
        self._go_to(self.fieldlog.today)

    def _go_to(self, date: dt.date) -> None:
        self._date = date
        self.stale = {}
        self.look()
        self.stage_index = self.first_open
        self.action_stage(self.stage_index + 1)
