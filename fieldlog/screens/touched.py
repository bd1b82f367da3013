"""What a failed check touches: each result with its change, the decisions on it, and the sheets to make again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import FieldlogError, InputError
from fieldlog.fieldwork.pages.reissue import StaleSheet, sheets_to_reissue
from fieldlog.fieldwork.results.decisions import CHOICE_WORDS, decide
from fieldlog.fieldwork.results.touched import TouchedResult, TouchedResults
from fieldlog.records.review import Review
from fieldlog.records.rig import Rig
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.sheets import make_stale_again
from fieldlog.screens.table import Column, Row, Span, wrapped
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import day_words, number, rig_words, signed

__all__ = ["TouchedRoom"]

RESULT_COLUMNS = (
    Column("", 1),
    Column("athlete", 8),
    Column("visit", 9),
    Column("effort", 16),
    Column("change ± U N·m", 14, "right"),
    Column("size", 7),
    Column("decided"),
)
SHEET_COLUMNS = (Column("", 40), Column("", 22), Column(""))
_SIZE_ROLES = {"small": "good", "matters": "warn", "large": "bad", "unknown": "warn"}


class TouchedRoom(Room):
    """Results between the last good check and a failed one, and what the lead decides of them."""

    about = (
        "The change is how far the rig's error changed between the last good check and the failed one, at the torque of the "
        "result, with its uncertainty U. Small: at most half the typical error of the test; matters: up to half the "
        "change that can be detected; large: beyond. Release is open for small ones and widens the uncertainty; "
        "correct needs a known cause that changed every mass by one percentage; withhold gives no figures; retest asks "
        "for the test again. Enter on a sheet makes it again."
    )
    CSS = """
    TouchedRoom #results { height: 1fr; min-height: 5; }
    #why { height: auto; max-height: 3; }
    TouchedRoom #stale { height: auto; max-height: 5; min-height: 1; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept", word="decide", text="Decide on the results picked, or on the one under the cursor."),
        key("pick"),
        key("more", "pick_all", word="pick all", text="Pick every result that is not decided yet, or none."),
        key("filter"),
    ]

    def __init__(self, rig: Rig) -> None:
        super().__init__()
        self.rig = rig
        self.results: dict[str, TouchedResult] = {}
        self.stale: dict[str, StaleSheet] = {}
        self._picked: set[str] = set()
        self._finder: TouchedResults | None = None

    def body(self) -> ComposeResult:
        """Results, why a size is what it is, sheets."""
        yield PaneTitle("results", id="results_title")
        yield Listing(*RESULT_COLUMNS, id="results", empty="no failed check touches a result")
        yield TextLines("", id="why")
        yield PaneTitle("sheets that need a reissue", id="stale_title")
        yield Listing(*SHEET_COLUMNS, id="stale", heading=False, empty="none")

    def begin(self) -> None:
        """Begin on the results."""
        self.set_focus(self.query_one("#results", Listing))

    def refresh_room(self) -> None:
        """Find the results anew, in a thread."""
        self.query_one("#title", TitleLine).show(f"{rig_words(self.rig.name)} · results under a failed check")
        self.read_behind(self._read, "touched", first=self._finder is None)

    def _read(self) -> None:
        app = self.fieldlog
        try:
            finder = TouchedResults(app.workspace, self.rig.id)
            results = finder.all()
            stale = sheets_to_reissue(app.workspace, {each.result.record.id for each in results})
        except (FieldlogError, OSError) as error:
            self.from_thread(self.reading_done, str(error))
            return
        self.from_thread(self._found, finder, results, stale)

    def _found(
        self, finder: TouchedResults, results: Sequence[TouchedResult], stale: Sequence[StaleSheet]
    ) -> None:
        self._finder = finder
        self.results = {each.key: each for each in results}
        self.stale = {each.sheet.id: each for each in stale}
        self._picked &= set(self.results)
        self._show()
        self.reading_done()

    def _show(self) -> None:
        today = self.fieldlog.today
        rows = [self._row(each) for each in self.results.values()]
        self.query_one("#results", Listing).show_rows(rows)
        decided = sum(bool(each.decided) for each in self.results.values())
        picked = f" · {len(self._picked)} picked" if self._picked else ""
        closings = {each.closing.id: each.closing for each in self.results.values()}
        of_checks = ", ".join(
            f"{check.stage} check {day_words(check.at.date(), today)} {check.verdict}"
            for check in closings.values()
        )
        self.query_one("#results_title", PaneTitle).show(
            of_checks or "results", f"{decided} of {len(self.results)} decided{picked}"
        )
        sheets = [
            Row(
                each.sheet.id,
                (
                    each.name,
                    f"{each.site_name}, {day_words(each.subject.day, today)}",
                    Span("; ".join(each.changes), "quiet"),
                ),
            )
            for each in self.stale.values()
        ]
        self.query_one("#stale", Listing).show_rows(sheets)
        self._show_why()

    def _row(self, each: TouchedResult) -> Row:
        record, change = each.result.record, each.impact.change
        side = "" if record.side == "both" else f" {record.side}"
        size = (
            f"{signed(change.change_nm, 1)} ± {number(change.u_expanded_nm, 1)}"
            if change
            else Span("not known", "quiet")
        )
        return Row(
            each.key,
            (
                Span("✓" if each.key in self._picked else "", "key"),
                f"{each.code}{side}",
                day_words(each.visit.date, self.fieldlog.today),
                f"{each.direction_name} {record.speed_deg_s:g}°/s",
                size,
                Span(each.impact.word, _SIZE_ROLES[each.impact.word]),
                Span(each.decided.replace(" by ", ", ")) if each.decided else Span("–", "quiet"),
            ),
        )

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the result under the cursor."""
        event.stop()
        self._show_why()

    def on_descendant_focus(self) -> None:
        """Tell of the list that has the focus."""
        if self.ready:
            self._show_why()

    def _show_why(self) -> None:
        stale = self.stale.get(self.query_one("#stale", Listing).row_key or "")
        if stale is not None and self.query_one("#stale", Listing).has_focus:
            said = f"changed since {stale.name}: {'; '.join(stale.changes)}. Enter makes it again."
            self.query_one("#why", TextLines).show_lines(*wrapped(said, self.size.width)[:3])
            return
        each = self.results.get(self.query_one("#results", Listing).row_key or "")
        if each is None:
            self.query_one("#why", TextLines).show_lines("")
            return
        decision = each.result.cover.decision
        said = f"{each.site_name}: {each.impact.text}. Open: {', '.join(each.impact.choices)}."
        if decision is not None:
            said += f" {each.result.cover.shown}: {decision.remark}"
        self.query_one("#why", TextLines).show_lines(*wrapped(said, self.size.width)[:3])

    # keys

    def action_pick(self) -> None:
        """Pick the result under the cursor, or drop it, and go on to the next."""
        listing = self.query_one("#results", Listing)
        if listing.row_key is not None:
            self._picked ^= {listing.row_key}
            self._show()
            listing.action_move(1)

    def action_pick_all(self) -> None:
        """Pick every result without a decision, or none."""
        open_ones = {name for name, each in self.results.items() if not each.decided}
        self._picked = set() if self._picked >= open_ones else open_ones
        self._show()

    def action_accept(self) -> None:
        """Decide, or make the sheet under the cursor again."""
        if self.query_one("#stale", Listing).has_focus:
            self._make_again()
            return
        chosen = self._chosen
        if not chosen:
            self.say("no result to decide on")
            return
        choices = [word for word in CHOICE_WORDS if all(word in each.impact.choices for each in chosen)]
        what = f"{len(chosen)} results" if len(chosen) > 1 else f"{chosen[0].code} {chosen[0].direction_name}"
        self.say(f"open: {', '.join(choices)}; the first letters are enough", "quiet")
        self.ask(
            f"{what}, decision:",
            lambda text: self._ask_why(_choice(text), chosen),
        )

    @property
    def _chosen(self) -> list[TouchedResult]:
        row_key = self.query_one("#results", Listing).row_key
        names = self._picked or ({row_key} if row_key else set())
        return [each for name, each in self.results.items() if name in names]

    def _ask_why(self, choice: str, chosen: list[TouchedResult]) -> None:
        question = "the documented cause:" if choice == "correct" else "why:"
        self.ask(f"{choice}, {question}", lambda why: self._decide(choice, chosen, why))

    def _decide(self, choice: str, chosen: list[TouchedResult], why: str) -> None:
        app, finder = self.fieldlog, self._finder
        assert finder is not None
        kept = decide(finder, chosen, choice, by=app.by, at=app.clock(), why=why)
        records = [(store, Review.table, saved.record.id) for store, saved in reversed(kept)]
        app.note_saved(f"{choice} of {len(kept)} results", *records)
        self._picked.clear()
        self.refresh_room()
        self.say(
            f"saved: {CHOICE_WORDS[choice]}, {len(kept)} results, by {app.by}; u takes it back", "accent"
        )

    def _make_again(self) -> None:
        stale = self.stale.get(self.query_one("#stale", Listing).row_key or "")
        if stale is not None:
            make_stale_again(self, stale)


def _choice(text: str) -> str:
    """The choice whose word begins with what was typed. Raises InputError where none or several do."""
    wanted = text.strip().casefold()
    found = [word for word in CHOICE_WORDS if wanted and word.startswith(wanted)]
    if len(found) != 1:
        raise InputError(
            f"{text.strip()[:20] or 'nothing'!r} is no choice", f"one of {', '.join(CHOICE_WORDS)}"
        )
    return found[0]
