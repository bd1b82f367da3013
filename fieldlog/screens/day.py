"""Day: five stages in order, what is done, and what holds up the next."""

from __future__ import annotations

import datetime as dt
from functools import partial
from pathlib import Path
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.fieldwork.books import at_site, site_of
from fieldlog.fieldwork.check_plan import CheckPlan
from fieldlog.fieldwork.day import cover_words, rig_of_visit
from fieldlog.fieldwork.rigs import add_event
from fieldlog.fieldwork.visits import STAGES, StageState, day_stages, ensure_visit, visits_of
from fieldlog.records.rig import EVENT_WORDS, Rig, RigEvent
from fieldlog.records.visit import Visit, visit_id
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.sheets import PageKind
from fieldlog.screens.stages.arrive import ArriveStage
from fieldlog.screens.stages.checks import CheckStage, ClosingStage
from fieldlog.screens.stages.hand_over import HandOverStage
from fieldlog.screens.stages.stage import Stage
from fieldlog.screens.stages.testing import TestStage
from fieldlog.screens.table import Span
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import day_words, rig_words
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["DayRoom"]


class DayRoom(Room):
    """One day at a site."""

    about = (
        "A day has five stages; 1 to 5 go to each. ✓ is done, ● is next. Enter does what the line under the cursor "
        "says. [ and ] go to earlier and later visits, a begins today's. An event such as a knock is written with e; "
        "results then wait for a check."
    )
    CSS = """
    #stages { height: 1; }
    DayRoom #rows { height: 1fr; }
    #hint { height: auto; max-height: 8; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("open", "open_row"),
        *(key(f"stage_{number}", f"stage({number})", show=False) for number in range(1, 6)),
        key("next_athlete"),
        key("batch"),
        key("clear"),
        key("event", "rig_event"),
        key("masses"),
        key("absent"),
        key("earlier", "visit(1)", show=False),
        key("later", "visit(-1)", show=False),
        key("add", "today", word="today", show=False, text="Begin today's visit."),
        key("note", show=False),
    ]

    def __init__(self, store: Store, date: dt.date | None = None) -> None:
        super().__init__()
        self.store = store
        self.site = site_of(store)
        self.planned: CheckPlan | None = None
        self._date = date
        self._stage = 0
        self._followed = False

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
        self._stages: tuple[Stage, ...] = (
            ArriveStage(self),
            CheckStage(self),
            TestStage(self),
            ClosingStage(self),
            HandOverStage(self),
        )
        self.look()
        self._stage = self._first_open

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
        self.stage_states: tuple[StageState, ...] = day_stages(self.store, self.visit)

    @property
    def _first_open(self) -> int:
        return next((index for index, state in enumerate(self.stage_states) if not state.done), 4)

    @property
    def stage(self) -> Stage:
        """The stage that is shown."""
        return self._stages[self._stage]

    # showing

    def refresh_room(self) -> None:
        """Read the day anew and show it."""
        self.look()
        words, _ = cover_words(self.workspace, self.store, self.visit, self.rig)
        rig = f" · {rig_words(self.rig.name)}" if self.rig else ""
        self.query_one("#title", TitleLine).show(
            f"{self.site.name} · {day_words(self.visit.date, self.fieldlog.today)}{rig}", words
        )
        self._show_stages()
        listing = self.query_one("#rows", Listing)
        listing.show_rows(self.stage.rows(), columns=self.stage.columns)
        state = self.stage_states[self._stage]
        note = self.stage.note() or state.text
        self.query_one("#rows_title", PaneTitle).show(f"{self._stage + 1} {state.name}", note)
        self._show_hint()

    def _show_stages(self) -> None:
        states = self.stage_states
        first_open = next((index for index, state in enumerate(states) if not state.done), None)
        spans = [Span(" ")]
        for index, (name, state) in enumerate(zip(STAGES, states, strict=True)):
            mark = " ✓" if state.done else " ●" if index == first_open else ""
            role = "good" if state.done else "warn" if index == first_open else ""
            shown = Span(f"{index + 1} {name}", "key" if index == self._stage else "")
            spans += [shown, Span(mark, role), Span("   " if index < 4 else "")]
        self.query_one("#stages", TextLines).show_lines(spans)

    def _show_hint(self) -> None:
        row_key = self.query_one("#rows", Listing).row_key
        self.query_one("#hint", TextLines).show_lines(*self.stage.hint(row_key))

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

    # keys

    def action_open_row(self) -> None:
        """Do what the row says."""
        row_key = self.query_one("#rows", Listing).row_key
        if row_key is not None:
            with self.telling():
                self.stage.open(row_key)

    def action_stage(self, number: int) -> None:
        """Go to a stage."""
        self._stage = number - 1
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
        self.look()
        self._stage = self._first_open
        self.action_stage(self._stage + 1)

    def action_masses(self) -> None:
        """Ask for lever and masses."""
        stage = self.stage
        if isinstance(stage, CheckStage):
            stage.ask_masses()

    def action_batch(self) -> None:
        """Choose protocol and athletes."""
        from fieldlog.screens.batch_entry import BatchRoom

        self.app.push_screen(BatchRoom(self.store, self.ensure_visit().record, site_name=self.site.name))

    def action_next_athlete(self) -> None:
        """To the bench with who is next."""
        stage = self._stages[2]
        assert isinstance(stage, TestStage)
        row_key = stage.next_row()
        if row_key is None:
            self.say("nobody waits; p chooses protocol and athletes")
        else:
            stage.open(row_key)

    def action_clear(self) -> None:
        """Answer the clearance of the athlete under the cursor."""
        from fieldlog.screens.clearance_entry import ClearanceRoom

        row_key, stage = self.query_one("#rows", Listing).row_key, self.stage
        athlete_id = stage.athlete_of(row_key) if isinstance(stage, TestStage) and row_key else None
        if athlete_id:
            self.app.push_screen(ClearanceRoom(self.store, self.visit, athlete_id, site_name=self.site.name))

    def action_absent(self) -> None:
        """Mark the athlete under the cursor as absent."""
        row_key, stage = self.query_one("#rows", Listing).row_key, self.stage
        if isinstance(stage, TestStage) and row_key:
            with self.telling():
                stage.toggle_absent(row_key)

    def action_rig_event(self) -> None:
        """Ask what happened to the rig."""
        kinds = ", ".join(EVENT_WORDS.values())
        self.ask(f"what happened to the rig ({kinds}):", self._keep_event)

    def _keep_event(self, text: str) -> None:
        kinds = {words: kind for kind, words in EVENT_WORDS.items()}
        fitting = (
            [words for words in kinds if words.startswith(text.strip().casefold())] if text.strip() else []
        )
        if self.rig is None or len(fitting) != 1:
            self.say(
                "type the first letters of one of them" if self.rig else "choose the rig first (stage 1)",
                "warn",
            )
            return
        kind = kinds[fitting[0]]
        kept = add_event(self.store, self.rig, kind, at=self.now, by=self.fieldlog.by)  # type: ignore[arg-type]
        self.saved(f"rig {fitting[0]}; results now wait for a check", RigEvent.table, kept.record.id)

    def action_note(self) -> None:
        """Write a note to the visit."""
        self.ask("note of the day:", self._keep_note, self.visit.note)

    def _keep_note(self, note: str) -> None:
        kept = self.ensure_visit()
        changed = kept.record.model_copy(update={"note": note})
        at_site(self.store, Visit).save(changed, by=self.fieldlog.by, seen=kept.revision)
        self.saved("note", Visit.table, kept.record.id)

    def make_sheet(self, kind: PageKind, label: str) -> None:
        """Make a page in a thread; nothing of the page maker is loaded before."""
        self.say(f"making the {label} …", "quiet")
        self.run_worker(partial(self._make_sheet, kind, label), thread=True, exclusive=True, group="sheet")

    def _make_sheet(self, kind: PageKind, label: str) -> None:
        from fieldlog.errors import FieldlogError
        from fieldlog.screens.sheets import make_page

        app = self.fieldlog
        try:
            path: Path = make_page(app.workspace, self.store, self.visit, kind, by=app.by)
        except (FieldlogError, OSError) as error:
            app.call_from_thread(self.say, f"no {label}: {error}", "bad")
            return
        app.call_from_thread(self._sheet_made, label, path)

    def _sheet_made(self, label: str, path: Path) -> None:
        self.refresh_room()
        self.say(f"made: {label} {path}", "good")

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Keys of another stage are not offered."""
        place = {
            "masses": (1, 3),
            "rig_event": (1, 2, 3),
            "absent": (2,),
            "clear": (2,),
            "batch": (2,),
            "next_athlete": (2,),
        }
        if action in place and self._stage not in place[action]:
            return False
        return super().check_action(action, parameters)
