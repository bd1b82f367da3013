"""Retests of the squad: planned, due, overdue, done; who still waits; planning one and calling one off."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.suggester import SuggestFromList

from fieldlog.errors import InputError
from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.catalogue import protocols
from fieldlog.fieldwork.entry import parse_day
from fieldlog.fieldwork.squad.retests import DueRetest, call_off, plan_retest, retests_due
from fieldlog.records.athlete import Athlete
from fieldlog.records.planned_retest import PlannedRetest
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.squad_view import RETEST_COLUMNS, due_rows
from fieldlog.screens.table import Cell, Span, wrapped
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import moment_words
from fieldlog.store.workspace import Workspace

__all__ = ["RetestRoom", "one_of", "whom"]

IN_TWO_WEEKS, LONG = 14, 14
COUNTS = ("overdue", "due", "to come", "done")


class RetestRoom(Room):
    """The team's planned retests, the ones that press first."""

    about = (
        "One line is one planned retest: of a squad or of one athlete, under a protocol, between two days. A test up "
        "to a week before the first day counts already. Below stands who still waits. a plans one, Z calls the one "
        "under the cursor off; it stays on record, and u takes either back."
    )
    CSS = """
    RetestRoom #retests { height: 1fr; min-height: 4; }
    #of_retest { height: auto; max-height: 6; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("add", word="plan", text="Plan a retest."),
        key("call_off", text="Call the retest under the cursor off, and say why."),
        key("filter"),
    ]

    def __init__(self, *, who: str = "", protocol_name: str = "") -> None:
        super().__init__()
        self.who, self.protocol_name = who, protocol_name
        self.due: list[DueRetest] = []

    def body(self) -> ComposeResult:
        """The list, and who waits."""
        yield PaneTitle("retests", id="retests_title")
        yield Listing(*RETEST_COLUMNS, id="retests", heading=False, empty="no retest is planned; a plans one")
        yield TextLines("", id="of_retest")

    def begin(self) -> None:
        """Begin on the list."""
        self.query_one("#retests", Listing).focus()

    def refresh_room(self) -> None:
        """Read the planned retests anew."""
        app = self.fieldlog
        self.due = retests_due(app.workspace, app.today)
        states = [each.state for each in self.due]
        counts = ", ".join(f"{states.count(word)} {word}" for word in COUNTS if word in states)
        self.query_one("#title", TitleLine).show("squad · retests", counts or "none planned")
        self.query_one("#retests", Listing).show_rows(due_rows(self.due, done=True))
        self._tell()

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the retest under the cursor."""
        event.stop()
        self._tell()

    @property
    def chosen(self) -> DueRetest | None:
        """The retest under the cursor."""
        row_key = self.query_one("#retests", Listing).row_key
        return next((each for each in self.due if each.kept.record.id == row_key), None)

    def _tell(self) -> None:
        due = self.chosen
        lines: list[Cell] = []
        if due is not None:
            record = due.kept.record
            today = self.fieldlog.today
            begins, ends = (moment_words(day, today) for day in (record.due_from, record.due_by))
            lines.append(f"  {due.who}: from {begins} to {ends}")
            for word, codes in (("waiting", due.waiting), ("tested", due.tested)):
                lines += wrapped(f"{word}: {', '.join(codes) or 'nobody'}", self.size.width)
            if record.note:
                lines.append(Span(f"  {record.note}", "quiet"))
        self.query_one("#of_retest", TextLines).show_lines(*lines[:6] or [""])

    # planning

    def action_add(self) -> None:
        """Ask who, under which protocol, and between which days."""
        athletes = of_team(self.fieldlog.workspace, Athlete).all()
        squads = sorted({kept.record.squad for kept in athletes} - {""})
        self.ask(
            "retest of (squad, or an athlete's code):",
            self._ask_protocol,
            self.who,
            suggester=SuggestFromList(squads, case_sensitive=False),
        )

    def _ask_protocol(self, who: str) -> None:
        about = whom(self.fieldlog.workspace, who)
        names = sorted(each.name for each in protocols(self.fieldlog.workspace).values())
        self.ask(
            "under which protocol (its name, or a part of it):",
            lambda text: self._ask_from(about, text),
            self.protocol_name,
            suggester=SuggestFromList(names, case_sensitive=False),
        )

    def _ask_from(self, about: dict[str, str], protocol: str) -> None:
        known = {each.name: each.id for each in protocols(self.fieldlog.workspace).values()}
        fields = {**about, "protocol_id": known[one_of(protocol, known, "protocol")]}
        begins = self.fieldlog.today + dt.timedelta(days=IN_TWO_WEEKS)
        self.ask("due from (day):", lambda text: self._ask_by(fields, parse_day(text)), begins.isoformat())

    def _ask_by(self, fields: dict[str, str], begins: dt.date) -> None:
        ends = begins + dt.timedelta(days=LONG)
        self.ask("due by (day):", lambda text: self._plan(fields, begins, parse_day(text)), ends.isoformat())

    def _plan(self, fields: dict[str, str], begins: dt.date, ends: dt.date) -> None:
        app = self.fieldlog
        kept = plan_retest(app.workspace, by=app.by, due_from=begins, due_by=ends, **fields)
        app.note_saved("a planned retest", (app.workspace.team, PlannedRetest.table, kept.record.id))
        self.refresh_room()
        self.query_one("#retests", Listing).to_key(kept.record.id)
        self.say("saved: a planned retest; u takes it back", "accent")

    # calling off

    def action_call_off(self) -> None:
        """Ask why the retest under the cursor is called off."""
        due = self.chosen
        if due is None:
            self.say("no retest under the cursor")
            return
        self.ask(f"call off the retest of {due.who}: why", lambda why: self._call_off(due, why.strip()))

    def _call_off(self, due: DueRetest, why: str) -> None:
        if not why:
            raise InputError("a retest is called off with a reason", "say why in a few words")
        app = self.fieldlog
        call_off(app.workspace, due.kept, by=app.by, why=why)
        app.note_saved(
            f"the retest of {due.who} called off",
            (app.workspace.team, PlannedRetest.table, due.kept.record.id),
        )
        self.refresh_room()
        self.say("saved: called off; u takes it back", "accent")


def whom(workspace: Workspace, who: str) -> dict[str, str]:
    """A squad by its name or an athlete by code, as the fields of a record. Raises InputError for neither."""
    who = who.strip()
    if not who:
        raise InputError("nobody was named", "a squad, or an athlete's code")
    squads = {kept.record.squad for kept in of_team(workspace, Athlete).all()}
    alike = [squad for squad in squads if squad and squad.casefold() == who.casefold()]
    if who in squads or len(alike) == 1:
        return {"squad": who if who in squads else alike[0]}
    return {"athlete_id": athlete_named(workspace, who).record.id}


def one_of(text: str, known: Iterable[str], what: str) -> str:
    """The one name that is meant, by the whole of it or a part. Raises InputError where none or several fit."""
    names, wanted = list(known), text.strip().casefold()
    exact = [name for name in names if name.casefold() == wanted]
    found = exact or [name for name in names if wanted and wanted in name.casefold()]
    if len(found) != 1:
        which = ", ".join(found[:4]) or ", ".join(names[:4])
        raise InputError(
            f"{len(found) or 'no'} {what}{'s' if len(found) > 1 else ''} called {text.strip()[:30]!r}",
            f"for instance {which}",
        )
    return found[0]
