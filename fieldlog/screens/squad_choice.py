"""Choosing in the squad room: what is looked at, and whom it is about."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.fieldwork.squad.squad_questions import SquadFilter, filter_choices
from fieldlog.fieldwork.squad.squad_view import question_words
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.squad_view import filter_words
from fieldlog.screens.table import Column, Row, Span
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TitleLine

if TYPE_CHECKING:
    from fieldlog.screens.squad import SquadRoom

__all__ = ["MeasureChoice", "PeopleChoice"]

FIELD_WORDS = {
    "squad": "squad",
    "position": "position",
    "sex": "sex",
    "age_band": "age group",
    "side": "side",
}


class MeasureChoice(Room):
    """Every measure, protocol and speed somebody has a figure for."""

    about = (
        "Enter looks at the line under the cursor; / filters, for instance by a protocol, a speed or 'ratio'."
    )
    BINDINGS: ClassVar[list[BindingType]] = [key("accept", word="look at it"), key("filter")]

    def __init__(self, squad: SquadRoom) -> None:
        super().__init__()
        self.squad = squad

    def body(self) -> ComposeResult:
        """One list."""
        yield PaneTitle("what is looked at", id="choice_title")
        yield Listing(Column(""), id="choices", heading=False)

    def begin(self) -> None:
        """Begin on what is looked at now."""
        listing = self.query_one("#choices", Listing)
        listing.focus()
        if self.squad.question in self.squad.questions:
            listing.to_key(str(self.squad.questions.index(self.squad.question)))

    def refresh_room(self) -> None:
        """List what there is."""
        comparer, known = self.squad.comparer, self.squad.questions
        self.query_one("#title", TitleLine).show("squad · measure", filter_words(self.squad.asked))
        if comparer is not None:
            rows = [
                Row(str(place), (question_words(comparer, question),)) for place, question in enumerate(known)
            ]
            self.query_one("#choices", Listing).show_rows(rows)

    def action_accept(self) -> None:
        """Look at the measure under the cursor."""
        chosen = self.query_one("#choices", Listing).row_key
        if chosen is not None:
            self.squad.question = self.squad.questions[int(chosen)]
            self.squad.look()
            self.leave()


class PeopleChoice(Room):
    """Squad, position, sex, age group and side, one of each at most."""

    about = (
        "Space picks a line or drops it again, one of each kind; u takes the last pick back; enter goes back to the "
        "squad with what is picked."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        key("pick"),
        key("accept", word="look at them"),
        key("filter"),
    ]

    def __init__(self, squad: SquadRoom) -> None:
        super().__init__()
        self.squad = squad
        self.asked = squad.asked
        self._before: list[SquadFilter] = []

    def body(self) -> ComposeResult:
        """One list."""
        yield PaneTitle("whom it is about", id="choice_title")
        yield Listing(Column("", 3), Column("", 12), Column(""), id="choices", heading=False)

    def begin(self) -> None:
        """Begin on the first line."""
        self.query_one("#choices", Listing).focus()

    def prepare(self) -> None:
        """Know what can be picked."""
        comparer = self.squad.comparer
        self._choices = filter_choices(comparer) if comparer is not None else []

    def refresh_room(self) -> None:
        """List what can be picked, and what is."""
        self.query_one("#title", TitleLine).show("squad · people", filter_words(self.asked))
        rows = []
        for place, (field, value) in enumerate(self._choices):
            picked = getattr(self.asked, field) == value
            rows.append(Row(str(place), (Span("✓" if picked else "", "good"), FIELD_WORDS[field], value)))
        self.query_one("#choices", Listing).show_rows(rows)

    def action_pick(self) -> None:
        """Pick or drop the line under the cursor."""
        chosen = self.query_one("#choices", Listing).row_key
        if chosen is not None:
            field, value = self._choices[int(chosen)]
            kept = getattr(self.asked, field) == value
            self._before.append(self.asked)
            self.asked = self.asked.with_choice(field, None if kept else value)
            self.refresh_room()

    def action_undo(self) -> None:
        """Take the last pick back."""
        if not self._before:
            self.say("nothing was picked here yet")
            return
        self.asked = self._before.pop()
        self.refresh_room()
        self.say(f"taken back: {filter_words(self.asked)}", "accent")

    def action_accept(self) -> None:
        """Back to the squad with what is picked."""
        self.squad.asked = self.asked
        self.squad.look()
        self.leave()
