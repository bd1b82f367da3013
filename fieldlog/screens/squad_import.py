"""A squad list from a file, row by row as it would be entered; nothing is entered before enter."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.count_words import counted
from fieldlog.fieldwork.athletes.squad_list import SquadList, enter_squad
from fieldlog.records.athlete import Athlete
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Column, Row, Span
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine

__all__ = ["SquadImport"]

ROLES = {"new": "good", "known": "quiet", "wrong": "bad"}
MARKS = {"new": "+ new", "known": "= known", "wrong": "✗ wrong"}


class SquadImport(Room):
    """What each row of the file would enter."""

    about = (
        "Every row of the file as it would be entered. A row that is wrong is marked, and nothing at all is entered "
        "until it is corrected in the file. Codes that are known already are left as they are. Names go into the "
        "persons files of the team only."
    )
    CSS = "SquadImport #rows { height: 1fr; } #list_says { height: 2; }"
    BINDINGS: ClassVar[list[BindingType]] = [key("accept", word="enter the new ones"), key("filter")]

    def __init__(self, looked: SquadList) -> None:
        super().__init__()
        self.looked = looked

    def body(self) -> ComposeResult:
        """Rows and a word on the whole."""
        yield PaneTitle("", id="list_title")
        yield Listing(
            Column("line", 5, "right"),
            Column("", 8),
            Column("code", 14),
            Column("squad", 18),
            Column("sex", 6),
            Column("age", 8),
            Column("what happens"),
            id="rows",
        )
        yield TextLines("", "", id="list_says")

    def begin(self) -> None:
        """Begin on the first row that is wrong, else on the first."""
        listing = self.query_one("#rows", Listing)
        listing.focus()
        wrong = next((row for row in self.looked.rows if row.word == "wrong"), None)
        if wrong is not None:
            listing.to_key(str(wrong.line))

    def refresh_room(self) -> None:
        """Show the rows."""
        looked = self.looked
        counts = ", ".join(f"{looked.count(word)} {word}" for word in ("new", "known", "wrong"))
        self.query_one("#title", TitleLine).show(f"squad list {looked.file}", counts)
        self.query_one("#list_title", PaneTitle).show("as it would be entered", f"{len(looked.rows)} rows")
        rows = []
        for row in looked.rows:
            athlete = row.athlete
            rows.append(
                Row(
                    str(row.line),
                    (
                        str(row.line),
                        Span(MARKS[row.word], ROLES[row.word]),
                        athlete.code if athlete else "",
                        athlete.squad if athlete else "",
                        (athlete.sex or "–") if athlete else "",
                        ("under 18" if athlete.minor else "adult") if athlete else "",
                        Span(
                            _happens(row.word, row.text, named=bool(row.name)),
                            "bad" if row.word == "wrong" else "",
                        ),
                    ),
                )
            )
        self.query_one("#rows", Listing).show_rows(rows)
        self._tell()

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the row under the cursor."""
        event.stop()
        self._tell()

    def _tell(self) -> None:
        chosen = self.query_one("#rows", Listing).row_key
        row = next((row for row in self.looked.rows if str(row.line) == chosen), None)
        unused = ", ".join(self.looked.unused_columns)
        self.query_one("#list_says", TextLines).show_lines(
            Span(f"  line {row.line}: {row.text}", ROLES[row.word]) if row else "",
            Span(f"  columns that are not taken in: {unused}", "warn") if unused else "",
        )

    def action_accept(self) -> None:
        """Enter the new athletes."""
        app = self.fieldlog
        with self.telling():
            entered = enter_squad(app.workspace, self.looked, by=app.by, at=app.clock())
            if not entered:
                self.say("no new athlete in this list; nothing was entered")
                return
            team = app.workspace.team
            count = counted(len(entered), "athlete")
            app.note_saved(
                f"{count} from {self.looked.file}", *((team, Athlete.table, a.id) for a in entered)
            )
            self.leave()
            if isinstance(app.screen, Room):
                app.screen.say(f"saved: {count}; u takes them back", "accent")


def _happens(word: str, text: str, *, named: bool) -> str:
    if word == "new":
        return "entered, name into the persons file" if named else "entered"
    return "left as it is" if word == "known" else text
