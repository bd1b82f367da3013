"""The timetable of a batch: the best order from now on with its times, and what it saves against the list."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import FieldlogError, RefusedError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.batch.batch_order import FROZEN, BatchOrder
from fieldlog.fieldwork.batch.batch_turns import keep_order, no_show, order_today
from fieldlog.fieldwork.batch.batches import change_entry, entry_of
from fieldlog.fieldwork.books import at_site, of_team
from fieldlog.fieldwork.visit.day import rig_of_visit
from fieldlog.records.athlete import Athlete
from fieldlog.records.batch import Batch
from fieldlog.records.visit import Visit
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.timetable_view import COLUMNS, done_rows, order_lines, order_note, turn_rows
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import day_words
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store

__all__ = ["TimetableRoom"]

PLAN_EVERY_S = 60.0
USUAL_BEGIN = dt.time(8, 30)


class TimetableRoom(Room):
    """Who comes when. Planned anew as the day runs; nothing is changed in the batch before enter keeps it."""

    about = (
        "The order that changes the least at the rig while constraints are kept: the usual time of day, when athletes "
        "and chaperones are here, minors not last. It is planned anew as the day runs late; the next two athletes stay "
        "where they are once the day has begun. Enter keeps this order, z puts who did not come at the tail. K "
        "says when an athlete can come."
    )
    CSS = """
    TimetableRoom #turns { height: 1fr; }
    #order_hint { height: auto; max-height: 6; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept", word="keep this order", text="Keep this order for the batch."),
        key("absent"),
        key(
            "athlete_day", text="When the athlete under the cursor can come, and what is noted of them today."
        ),
        key("filter"),
    ]

    def __init__(self, store: Store, visit: Visit, batch_id: str, *, site_name: str) -> None:
        super().__init__()
        self.store = store
        self.visit = visit
        self.batch_id = batch_id
        self.site_name = site_name
        self._order: BatchOrder | None = None

    def body(self) -> ComposeResult:
        """The turns with their times, and what the order is worth."""
        yield PaneTitle("timetable", id="turns_title")
        yield Listing(*COLUMNS, id="turns", empty="planning …")
        yield TextLines("", id="order_hint")

    def prepare(self) -> None:
        """Plan anew every minute: the day runs late by itself."""
        self.set_interval(PLAN_EVERY_S, self.refresh_room)

    def begin(self) -> None:
        """Begin on the next turn."""
        self.set_focus(self._listing)

    @property
    def _listing(self) -> Listing:
        return self.query_one("#turns", Listing)

    @property
    def _batch(self) -> Kept[Batch]:
        kept = at_site(self.store, Batch).get(self.batch_id)
        if kept is None:
            raise RefusedError("the batch is gone", "choose protocol and athletes again")
        return kept

    @property
    def _from(self) -> dt.datetime:
        """The moment the plan begins: now, or for another day than today the usual hour of it."""
        now = self.fieldlog.clock()
        if now.date() == self.visit.date:
            return now
        return dt.datetime.combine(self.visit.date, USUAL_BEGIN, now.tzinfo)

    # planning

    def refresh_room(self) -> None:
        """Plan from now on, in a thread: forty athletes take most of a second."""
        kept = self._batch
        protocol = catalogue.protocol(self.fieldlog.workspace, kept.record.protocol_id)
        day = day_words(self.visit.date, self.fieldlog.today)
        self.query_one("#title", TitleLine).show(f"timetable · {day}", protocol.name)
        self.run_worker(partial(self._plan, kept), thread=True, exclusive=True, group="order")

    def _plan(self, kept: Kept[Batch]) -> None:
        app = self.fieldlog
        begun = any(entry.status == "done" for entry in kept.record.entries)
        rig = rig_of_visit(app.workspace, self.store, self.visit)
        try:
            order = order_today(
                app.workspace,
                self.store,
                self.visit,
                kept.record,
                now=self._from,
                frozen=FROZEN if begun else 0,
                rig_id=rig.id if rig else None,
            )
        except FieldlogError as error:
            self.from_thread(self.say, str(error), "bad")
            return
        self.from_thread(self._planned, kept.record, order, FROZEN if begun else 0)

    def _planned(self, batch: Batch, order: BatchOrder, frozen: int) -> None:
        self._order = order
        codes = {kept.record.id: kept.record.code for kept in of_team(self.fieldlog.workspace, Athlete).all()}
        self._listing.empty = "nobody is still to come"
        self._listing.show_rows([*done_rows(batch, codes), *turn_rows(batch, order, codes, frozen=frozen)])
        another_day = self.visit.date != self.fieldlog.today
        begin = f"as from {USUAL_BEGIN:%H:%M} · " if another_day else ""
        self.query_one("#turns_title", PaneTitle).show(note=f"{begin}{order_note(order)}")
        kept_order = [entry.athlete_id for entry in batch.entries if entry.status != "done"]
        lines = order_lines(order, codes, self.size.width, is_kept=kept_order == list(order.order))
        self.query_one("#order_hint", TextLines).show_lines(*lines[:6])

    # keys

    def action_accept(self) -> None:
        """Keep the order that is shown."""
        order = self._order
        if order is None:
            self.say("still planning")
            return
        with self.telling():
            app = self.fieldlog
            kept = keep_order(
                self.store, self._batch, order.order, by=app.by, why="the order of the timetable"
            )
            app.note_saved("the order", (self.store, Batch.table, kept.record.id))
            self.refresh_room()
            self.say("saved: the order of the batch; u takes it back", "accent")

    def action_absent(self) -> None:
        """Put who did not come at the tail, or let them wait again; plan anew."""
        athlete_id = self._listing.row_key
        with self.telling():
            kept, app = self._batch, self.fieldlog
            entry = entry_of(kept.record, athlete_id) if athlete_id else None
            if entry is None or entry.status == "done":
                self.say("who is done is not absent")
                return
            if entry.status == "absent":
                kept = change_entry(self.store, kept, entry.athlete_id, by=app.by, status="waiting")
                said = "waits again"
            else:
                kept = no_show(self.store, kept, entry.athlete_id, by=app.by)
                said = "absent, at the tail"
            app.note_saved(said, (self.store, Batch.table, kept.record.id))
            self.refresh_room()
            self.say(f"saved: {said}; planned anew, enter keeps the order", "accent")

    def action_athlete_day(self) -> None:
        """Open what is noted of the athlete under the cursor."""
        from fieldlog.screens.athlete_day import AthleteDayRoom

        athlete_id = self._listing.row_key
        if athlete_id is not None:
            self.app.push_screen(AthleteDayRoom(self.store, self.visit, athlete_id))
