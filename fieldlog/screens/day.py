"""Day: what is done in the five stages."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import BindingType

from fieldlog.fieldwork.rig_life.rigs import add_event
from fieldlog.fieldwork.visit.day import save_day_note
from fieldlog.records.issued_sheet import SheetKind
from fieldlog.records.rig import EVENT_WORDS, RigEvent
from fieldlog.records.visit import Visit
from fieldlog.screens.day_shown import DayShown
from fieldlog.screens.keys import key
from fieldlog.screens.sheets import make_behind, make_page
from fieldlog.screens.stages.checks import CheckStage
from fieldlog.screens.stages.testing import TestStage
from fieldlog.screens.widgets.listing import Listing

__all__ = ["DayRoom"]


class DayRoom(DayShown):
    """One day at a site."""

    about = (
        "A day has five stages; 1 to 5 go to each. ✓ is done, ● is next. Enter does what the line under the cursor "
        "says. [ and ] go to earlier and later visits, a begins today's. An event such as a knock is written with e; "
        "results then wait for a check."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        key("open", "open_row"),
        key("add", "today", word="begin today", text="Begin today's visit."),
        *(key(f"stage_{number}", f"stage({number})", show=False) for number in range(1, 6)),
        key("next_athlete"),
        key("batch"),
        key("clear"),
        key("event", "rig_event"),
        key("masses"),
        key("absent"),
        key("timetable", show=False),
        key("athlete_day", show=False),
        key("decide", show=False),
        key("earlier", "visit(1)", show=False),
        key("later", "visit(-1)", show=False),
        key("note", show=False),
    ]

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
        stage = self.stages[2]
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

    def action_timetable(self) -> None:
        """Show the batch in its best order with times."""
        from fieldlog.screens.timetable import TimetableRoom

        row_key, stage = self.query_one("#rows", Listing).row_key, self.stage
        batch_id = stage.batch_id_of(row_key) if isinstance(stage, TestStage) else None
        if batch_id is None:
            self.say("no batch yet; p chooses protocol and athletes")
        else:
            self.app.push_screen(TimetableRoom(self.store, self.visit, batch_id, site_name=self.site.name))

    def action_athlete_day(self) -> None:
        """Note what can change a result of the athlete under the cursor without being strength."""
        from fieldlog.screens.athlete_day import AthleteDayRoom

        row_key, stage = self.query_one("#rows", Listing).row_key, self.stage
        athlete_id = stage.athlete_of(row_key) if isinstance(stage, TestStage) and row_key else None
        if athlete_id:
            self.app.push_screen(AthleteDayRoom(self.store, self.visit, athlete_id))

    def action_decide(self) -> None:
        """Write down who lets the athlete under the cursor start again after a stop, or decides on the clearance."""
        from fieldlog.screens.stop_entry import ask_release, holding_stops

        row_key, stage = self.query_one("#rows", Listing).row_key, self.stage
        athlete_id = stage.athlete_of(row_key) if isinstance(stage, TestStage) and row_key else None
        if athlete_id and holding_stops(self.store, self.visit, athlete_id):
            ask_release(self, self.store, self.visit, athlete_id)
        elif athlete_id:
            self.action_clear()

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
        kept = save_day_note(self.store, self.ensure_visit(), note, by=self.fieldlog.by)
        self.saved("note", Visit.table, kept.record.id)

    def make_sheet(self, kind: SheetKind, label: str) -> None:
        """Make a page in a thread; nothing of the page maker is loaded before."""
        app = self.fieldlog
        make_behind(
            self,
            f"the {label}",
            lambda: make_page(app.workspace, self.store, self.visit, kind, by=app.by),
            lambda where: f"made: {label} {where}",
        )

    def word_for(self, action: str) -> str:
        """Enter does what the stage says."""
        return self.stage.word if action == "open_row" else ""

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Keys of another stage are not offered."""
        place = {
            "masses": (1, 3),
            "rig_event": (1, 2, 3),
            "absent": (2,),
            "clear": (2,),
            "timetable": (2,),
            "athlete_day": (2,),
            "decide": (2,),
            "batch": (2,),
            "next_athlete": (2,),
        }
        if action == "today" and self.ready and self.visit.date == self.fieldlog.today:
            return False
        if action in place and self.stage_index not in place[action]:
            return False
        return super().check_action(action, parameters)
