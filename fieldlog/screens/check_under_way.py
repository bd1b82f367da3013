"""A check under way, shown: rows of a direction, the next instruction, and what the verdicts rest on."""

from __future__ import annotations

from textwrap import wrap

from textual.app import ComposeResult

from fieldlog.errors import NotFoundError
from fieldlog.fieldwork.rig_checks.check_basis import Basis
from fieldlog.fieldwork.rig_checks.check_plan import CAUTION, Ask
from fieldlog.fieldwork.rig_checks.guided_check import GuidedCheck
from fieldlog.records.check_entry import Direction
from fieldlog.records.visit import Visit
from fieldlog.screens.check_view import (
    CHECK_COLUMNS,
    READING_COLUMN,
    budget_lines,
    check_rows,
    pane_title,
    so_far_lines,
)
from fieldlog.screens.room import Room
from fieldlog.screens.table import Span
from fieldlog.screens.widgets.entry_listing import EntryListing
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import day_words, rig_words, sentence
from fieldlog.store.store import Store

__all__ = ["CheckUnderWay"]


class CheckUnderWay(Room):
    """What is asked and answered so far; answering comes with the room built on it."""

    CSS = """
    CheckUnderWay #asks { height: 1fr; }
    #instruction { height: 2; }
    #so_far { height: auto; max-height: 9; }
    #caution { height: auto; }
    """

    def __init__(self, store: Store, visit: Visit, check: GuidedCheck, *, site_name: str) -> None:
        super().__init__()
        self.store = store
        self.visit = visit
        self.check = check
        self.site_name = site_name
        self.basis: Basis | None = None
        self.repeated: str | None = None
        self.shows_budget = False
        self.shown_direction: Direction | None = None

    def body(self) -> ComposeResult:
        """Rows of the direction under test, the next instruction, and what the verdicts rest on."""
        yield PaneTitle("", id="asks_title")
        yield EntryListing(*CHECK_COLUMNS, entry_column=READING_COLUMN, id="asks")
        yield TextLines("", id="instruction")
        yield PaneTitle("so far", id="so_far_title")
        yield TextLines("", id="so_far")
        yield TextLines("", id="caution")

    def begin(self) -> None:
        """Work out what the check is judged on, and stand on what is to be done next."""
        self.set_focus(self.query_one("#asks", EntryListing))
        self.to_next()
        self.run_worker(self._find_basis, thread=True, exclusive=True, group="basis")

    def _find_basis(self) -> None:
        from fieldlog.fieldwork.rig_checks.guided_basis import guided_basis, judge_ask

        app = self.fieldlog
        basis = guided_basis(app.workspace, self.store, self.check.plan, at=app.clock(), by=app.by)
        # The quantile of the first judgement is what takes time; the tester never waits for it.
        judge_ask(basis, self.check, next(ask for ask in self.check.asks if ask.kind == "point"), 0.0)
        self.from_thread(self._basis_found, basis, self._readiness())

    def _readiness(self) -> list[str]:
        from fieldlog.fieldwork.rig_checks.hall import readiness_words
        from fieldlog.fieldwork.rig_life.rigs import rig_named
        from fieldlog.fieldwork.visit.day import checks_of_visit

        try:
            rig = rig_named(self.fieldlog.workspace, self.check.plan.rig).record
        except NotFoundError:
            return []  # a draft names a rig that is not on this laptop
        checks = checks_of_visit(self.store, self.visit)
        return readiness_words(self.visit.arrival, rig.warm_up_minutes, checks, self.fieldlog.clock())

    def _basis_found(self, basis: Basis, warnings: list[str]) -> None:
        if warnings and not self.said:
            self.say(" ".join(warnings), "warn")
        self.basis = basis
        self.refresh_room()

    # showing

    @property
    def asked(self) -> Ask | None:
        """What the row under the cursor asks."""
        row_key = self.query_one("#asks", EntryListing).row_key
        return next((ask for ask in self.check.asks if ask.key == row_key), None)

    @property
    def direction(self) -> Direction:
        """The direction whose rows are shown: the one under test, or the one looked back at."""
        ask = self.wanted
        return self.shown_direction or (ask.direction if ask else self.check.plan.directions[-1])

    @property
    def wanted(self) -> Ask | None:
        """What is to be done next."""
        if self.repeated:
            return next((ask for ask in self.check.asks if ask.key == self.repeated), None)
        return self.check.next_ask

    def refresh_room(self) -> None:
        """Show the answers so far."""
        plan = self.check.plan
        today = day_words(self.visit.date, self.fieldlog.today)
        self.query_one("#title", TitleLine).show(
            f"{self.site_name} · {today} · {rig_words(plan.rig)}", f"{plan.stage} check, {plan.state}"
        )
        listing = self.query_one("#asks", EntryListing)
        listing.takes_entries([ask.key for ask in self.check.asks if ask.wants_reading or ask.kind == "sign"])
        listing.show_rows(check_rows(self.check, self.basis, self.direction))
        title, note = pane_title(self.check, self.wanted)
        self.query_one("#asks_title", PaneTitle).show(title, note)
        self.show_ask()

    def to_next(self) -> None:
        """Stand on what is to be done next."""
        self.shown_direction = None
        ask = self.wanted
        self.refresh_room()
        if ask is not None:
            self.query_one("#asks", EntryListing).to_key(ask.key)
        self.show_ask()

    def show_ask(self) -> None:
        """Show the instruction of the row under the cursor, and what the verdicts rest on."""
        ask, width = self.asked, max(self.size.width - 4, 40)
        listing = self.query_one("#asks", EntryListing)
        listing.prefix = self.sign_before(ask)
        text = ask.text if ask else "All is read."
        if ask and ask.kind == "sign":
            text += " Type + or −, or 0 for no sign; enter takes the one shown."
        elif ask and ask.kind in ("preload", "turned"):
            text += " Enter when done."
        elif ask and ask.may_be_passed_over:
            text += " Enter alone passes over it."
        self.query_one("#instruction", TextLines).show_lines(
            *[f"  {line}" for line in wrap(sentence(text), width)][:2]
        )
        arrival = self.visit.arrival
        temperature = arrival.hall_temperature_c if arrival else None
        point = ask if ask and ask.kind == "point" else None
        if self.shows_budget and self.basis and point:
            self.query_one("#so_far_title", PaneTitle).show("budget of this point")
            self.query_one("#so_far", TextLines).show_lines(*budget_lines(self.check, self.basis, point))
        else:
            lines = so_far_lines(self.check, self.basis, ask, temperature)
            self.query_one("#so_far_title", PaneTitle).show("so far")
            self.query_one("#so_far", TextLines).show_lines(*[f"  {line}" for line in lines])
        caution = [Span(f"  {line}", "warn") for line in wrap(CAUTION, width)]
        self.query_one("#caution", TextLines).show_lines(*caution)

    def sign_before(self, ask: Ask | None) -> str:
        """The sign that stands before a reading, or the one offered for the display's."""
        if ask is None:
            return ""
        if ask.kind == "sign":
            return "+" if ask.direction == "up" else "−"
        return "−" if ask.unit == "nm" and self.check.signs.get(ask.direction) == "-" else ""

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the row under the cursor."""
        event.stop()
        self.show_ask()
