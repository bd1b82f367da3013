"""The athlete today: body mass, footwear, warm-up, sides, cheering, and when they can come."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.fieldwork.athletes.athlete_days import day_of
from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.athletes.body_mass import last_body_mass_kg
from fieldlog.fieldwork.athletes.day_entry import (
    DAY_ITEMS,
    DayItem,
    injured_side,
    last_day,
    note_typed,
    note_yes_no,
    value_words,
)
from fieldlog.fieldwork.batch.batches import batch_of, entry_of
from fieldlog.records.athlete_day import AthleteDay
from fieldlog.records.visit import Visit
from fieldlog.screens.body_mass_entry import ask_body_mass
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Column, Row, Span, wrapped
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import day_words, number
from fieldlog.store.store import Store

__all__ = ["AthleteDayRoom"]

COLUMNS = (Column("", 18), Column("today", 16), Column("last time", 16), Column(""))
MASS = "body_mass"
_ITEMS = {item.field: item for item in DAY_ITEMS}


class AthleteDayRoom(Room):
    """Points one under the other, each kept at once; nothing here is a reason or a diagnosis."""

    about = (
        "What can change a result without being strength. Y and − answer yes and no, enter asks for the rest, space "
        "accepts what stood there last time. The injured side goes to the persons files only; the other side then "
        "goes first. The times below are kept to by the order of the batch."
    )
    CSS = """
    AthleteDayRoom #points { height: 1fr; }
    #point_hint { height: auto; max-height: 3; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept", word="ask"),
        key("accept_step", word="as last time", text="Accept what stood there last time and go to the next."),
        key("yes"),
        key("no"),
    ]

    def __init__(self, store: Store, visit: Visit, athlete_id: str) -> None:
        super().__init__()
        self.store = store
        self.visit = visit
        self.athlete_id = athlete_id

    def body(self) -> ComposeResult:
        """The points."""
        yield PaneTitle("today", id="points_title")
        yield Listing(*COLUMNS, id="points")
        yield TextLines("", id="point_hint")

    def prepare(self) -> None:
        """Look up what does not change while the room is open."""
        workspace = self.fieldlog.workspace
        self.athlete = athlete_named(workspace, self.athlete_id).record
        self._last = last_day(workspace, self.athlete_id, before=self.visit.date)
        self._last_kg = last_body_mass_kg(workspace, self.athlete_id, before=self.visit.date)

    def begin(self) -> None:
        """Begin on the first point that is open."""
        self.set_focus(self._listing)
        open_row = next((row.key for row in self._listing.rows if row.key in self._open), None)
        if open_row is not None:
            self._listing.to_key(open_row)

    @property
    def _listing(self) -> Listing:
        return self.query_one("#points", Listing)

    @property
    def _item(self) -> DayItem | None:
        return _ITEMS.get(self._listing.row_key or "")

    def refresh_room(self) -> None:
        """Show what is noted today beside last time."""
        workspace = self.fieldlog.workspace
        kept = day_of(self.store, self.visit, self.athlete_id)
        day = kept.record if kept else None
        batch = batch_of(self.store, self.visit, self.athlete_id)
        entry = entry_of(batch.record, self.athlete_id) if batch else None
        mass_kg = entry.body_mass_kg if entry else None
        since = f"last time {day_words(self._last.at.date(), self.fieldlog.today)}" if self._last else ""
        self.query_one("#title", TitleLine).show(f"{self.athlete.code} · the athlete today", since)
        today = {item.field: value_words(day, item) for item in DAY_ITEMS}
        today["injured_side"] = injured_side(workspace, self.visit, self.athlete_id)
        mass = number(mass_kg, 1, "kg") if mass_kg else ""
        self._open = {field for field, words in {MASS: mass, **today}.items() if not words}
        last_mass = number(self._last_kg, 1, "kg") if self._last_kg else ""
        rows = [_row(MASS, "body mass", mass, last_mass, "On the scale, in the clothes of the test.")]
        for item in DAY_ITEMS:
            before = value_words(self._last, item) if item.comes_back else ""
            rows.append(_row(item.field, item.label, today[item.field], before, item.text))
        self._listing.show_rows(rows)
        self.query_one("#points_title", PaneTitle).show(note=f"{len(rows) - len(self._open)} noted")
        self._show_hint()

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the point under the cursor."""
        event.stop()
        self._show_hint()

    def _show_hint(self) -> None:
        item = self._item
        text = (
            item.text if item else "On the scale, in the clothes of the test. Pounds are understood: 176lb."
        )
        self.query_one("#point_hint", TextLines).show_lines(*wrapped(text, self.size.width))

    # keeping

    def action_yes(self) -> None:
        """Answer yes."""
        self._say_yes_no(answer=True)

    def action_no(self) -> None:
        """Answer no."""
        self._say_yes_no(answer=False)

    def _say_yes_no(self, *, answer: bool) -> None:
        item, app = self._item, self.fieldlog
        if item is None or item.kind != "yes_no":
            self.say("this line takes no yes or no; enter asks")
            return
        with self.telling():
            kept = note_yes_no(
                self.store, self.visit, self.athlete_id, item, answer=answer, by=app.by, at=app.clock()
            )
            self._kept(item, kept.record.id)

    def action_accept(self) -> None:
        """Ask for the point under the cursor."""
        item = self._item
        if item is None:
            self._ask_mass()
        elif item.kind == "yes_no":
            self.say("y is yes, − is no")
        else:
            kept = day_of(self.store, self.visit, self.athlete_id)
            known = value_words(kept.record if kept else None, item)
            before = value_words(self._last, item) if item.comes_back else ""
            self.ask(f"{item.label}:", lambda text: self._type(item, text), known or before)

    def _ask_mass(self) -> None:
        batch = batch_of(self.store, self.visit, self.athlete_id)
        if batch is None:
            self.say("choose protocol and athletes first; the body mass belongs to the turn")
            return
        ask_body_mass(
            self, self.store, self.visit, batch, self.athlete_id, then=lambda: self._listing.action_move(1)
        )

    def action_accept_step(self) -> None:
        """Accept what stood there last time."""
        item = self._item
        before = value_words(self._last, item) if item and item.comes_back else ""
        if item is None or not before:
            self.say("nothing stood here last time; enter asks, y and − answer")
        elif item.kind == "yes_no":
            self._say_yes_no(answer=before == "yes")
        else:
            with self.telling():
                self._type(item, before)

    def _type(self, item: DayItem, text: str) -> None:
        app = self.fieldlog
        kept = note_typed(
            app.workspace,
            self.store,
            self.visit,
            self.athlete_id,
            item=item,
            text=text,
            by=app.by,
            at=app.clock(),
        )
        self._kept(item, kept.record.id)

    def _kept(self, item: DayItem, identity: str) -> None:
        self.fieldlog.note_saved(item.label, (self.store, AthleteDay.table, identity))
        self.refresh_room()
        self._listing.action_move(1)
        self.say(f"saved: {item.label}", "quiet")


def _row(field: str, label: str, today: str, last: str, text: str) -> Row:
    return Row(
        field,
        (label, Span(today or "·", "good" if today else "quiet"), Span(last, "last"), Span(text, "quiet")),
    )
