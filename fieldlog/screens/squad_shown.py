"""The squad, read and shown: a line an athlete and side, the row under the cursor, what the squad says, retests."""

from __future__ import annotations

import time

from textual.app import ComposeResult
from textual.worker import get_current_worker

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.squad.retests import DueRetest, retests_due
from fieldlog.fieldwork.squad.squad_questions import EVERYBODY, SquadFilter, SquadQuestion
from fieldlog.fieldwork.squad.squad_view import SquadRow, SquadView, measure_words, protocol_words
from fieldlog.screens.room import Room
from fieldlog.screens.squad_answer import Answer, answer
from fieldlog.screens.squad_view import (
    RETEST_COLUMNS,
    due_rows,
    filter_words,
    row_key,
    row_lines,
    squad_lines,
    squad_rows,
)
from fieldlog.screens.table import Column
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine

__all__ = ["SquadShown"]

SAY_EVERY = 100


class _LeftAlone(Exception):  # noqa: N818 (no error: nobody waits for the answer any more)
    """The room was left, or asked something else."""


class SquadShown(Room):
    """One question over the squad, read in a thread and drawn; what is done about it comes with the room built on it."""

    def __init__(self, *, everything: bool = False, asked: SquadFilter = EVERYBODY) -> None:
        super().__init__()
        self.everything = everything
        self.asked = asked
        self.question: SquadQuestion | None = None
        self.comparer: Comparer | None = None
        self.questions: list[SquadQuestion] = []
        self.found: Answer | None = None

    def body(self) -> ComposeResult:
        """Rows, the row under the cursor, what the squad says, retests."""
        yield PaneTitle("", id="measure")
        yield Listing(Column(""), id="rows", empty="reading the results …")
        yield TextLines("", "", "", id="of_row")
        yield PaneTitle("the squad", id="squad_title")
        yield TextLines("", id="squad_says")
        yield PaneTitle("retests", id="due_title")
        yield Listing(*RETEST_COLUMNS, id="due", heading=False, empty="no retest is planned")

    def begin(self) -> None:
        """Begin on the athletes."""
        self.query_one("#rows", Listing).focus()

    # reading

    def refresh_room(self) -> None:
        """Read everything anew, in a thread: a season has many results."""
        self.query_one("#title", TitleLine).show("squad", "" if self.shown else "reading the results …")
        self.reading = self.found is None
        # The room is painted first: a thread that reads would make it wait.
        self.call_after_refresh(self._begin_reading, anew=True)

    def look(self) -> None:
        """Show another question or other people from what was read."""
        self._begin_reading(anew=False)

    def _begin_reading(self, *, anew: bool) -> None:
        self.read_behind(lambda: self._read(anew=anew), "squad", first=False)

    def _read(self, *, anew: bool) -> None:
        app, worker = self.fieldlog, get_current_worker()

        def watch(people: int) -> None:
            if worker.is_cancelled:
                raise _LeftAlone
            # Lets the keyboard and the screen have their turn at once.
            time.sleep(0)
            if people and people % SAY_EVERY == 0:
                self.from_thread(self._say_how_far, people)

        try:
            comparer = Comparer(app.workspace) if anew or self.comparer is None else self.comparer
            comparer.trials.watch = watch
            found = answer(comparer, self.question, self.asked)
            due = retests_due(app.workspace, app.today)
        except _LeftAlone:
            return
        except (FieldlogError, OSError) as error:
            self.from_thread(self.reading_done, str(error))
            return
        if not worker.is_cancelled:
            self.from_thread(self._found, comparer, found, due)

    def _say_how_far(self, people: int) -> None:
        if self.is_attached and self.shown is None:
            self.query_one("#title", TitleLine).show("squad", f"reading the results … {people} athletes")

    def _found(self, comparer: Comparer, found: Answer, due: list[DueRetest]) -> None:
        self.comparer, self.found = comparer, found
        self.questions, self.question = found.questions, found.question
        self.query_one("#due", Listing).show_rows(due_rows(due))
        self.show_squad()
        self.reading_done()

    @property
    def shown(self) -> SquadView | None:
        """What is looked at, None while nothing was read or nobody has a result."""
        return self.found.view if self.found else None

    # showing

    def show_squad(self) -> None:
        """Show what was read."""
        view, comparer, found = self.shown, self.comparer, self.found
        people = len({row.athlete_id for row in view.rows}) if view else 0
        entered = (
            len([a for a in comparer.trials.book.athletes.values() if self.asked.keeps(a)]) if comparer else 0
        )
        protocol = ""
        if comparer is not None and self.question is not None:
            protocol = f" · {protocol_words(comparer, self.question)}"
        self.query_one("#title", TitleLine).show(
            f"squad, {filter_words(self.asked)}{protocol}", f"{people} of {entered} athletes"
        )
        listing, title = self.query_one("#rows", Listing), self.query_one("#measure", PaneTitle)
        if view is None or found is None or comparer is None or self.question is None:
            title.show("no result yet", "")
            listing.empty = "nobody has a figure for this yet"
            listing.show_rows([])
            self.query_one("#squad_says", TextLines).show_lines("")
        else:
            place = self.questions.index(self.question) + 1
            title.show(measure_words(comparer, self.question), f"measure {place} of {len(self.questions)}")
            columns, rows = squad_rows(
                view, self.size.width, found.sides, ascii_only=self.fieldlog.ascii_only
            )
            listing.show_rows(rows, columns=columns)
            whole = self.everything or self.has_class("whole")
            self.query_one("#squad_says", TextLines).show_lines(
                *squad_lines(view, found.last_day, self.fieldlog.today, everything=whole)
            )
        self._show_row()

    @property
    def row(self) -> SquadRow | None:
        """The row under the cursor."""
        chosen = self.query_one("#rows", Listing).row_key
        return next((row for row in self.shown.rows if row_key(row) == chosen), None) if self.shown else None

    def _show_row(self) -> None:
        row, view, found = self.row, self.shown, self.found
        lines = self.query_one("#of_row", TextLines)
        if self.everything or row is None or view is None or found is None:
            lines.show_lines("", "", "")
            return
        lines.show_lines(*row_lines(view, row, found.sides.get(row.athlete_id), self.fieldlog.today))

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the row under the cursor."""
        event.stop()
        if event.listing.id == "rows":
            self._show_row()

    def on_resize(self, event: object) -> None:
        """Draw for the new size."""
        del event
        if self.shown is not None:
            self.call_after_refresh(self.show_squad)

    # looking around

    def action_step(self, by: int) -> None:
        """Show the next measure or the one before."""
        if self.question in self.questions:
            place = (self.questions.index(self.question) + by) % len(self.questions)
            self.question = self.questions[place]
            self.look()

    def action_more(self) -> None:
        """Show every remark, or less."""
        self.toggle_class("whole")
        self.show_squad()

    @property
    def squad_meant(self) -> str:
        """The squad that is filtered by, or that of the athlete under the cursor."""
        row, comparer = self.row, self.comparer
        if self.asked.squad or row is None or comparer is None:
            return self.asked.squad or ""
        athlete = comparer.trials.book.athletes.get(row.athlete_id)
        return athlete.squad if athlete else ""

    @property
    def protocol_meant(self) -> str:
        comparer, question = self.comparer, self.question
        return protocol_words(comparer, question) if comparer is not None and question is not None else ""
