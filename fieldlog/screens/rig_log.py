"""Rig log: can this rig be trusted, here, today and all year? All its checks over all sites."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.analysis.charts import DEFAULT_RULES
from fieldlog.count_words import counted
from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.rig_life.life import run_rules
from fieldlog.fieldwork.rig_life.rig_log import RigLog, Series, rig_log
from fieldlog.fieldwork.rig_life.rig_sentences import due_words, sign_off_words
from fieldlog.fieldwork.visit.day import rig_names
from fieldlog.records.rig_check import RigCheck
from fieldlog.screens.keys import key
from fieldlog.screens.rig_log_entries import RigEntriesRoom
from fieldlog.screens.rig_log_view import (
    CHECK_COLUMNS,
    GRID_WIDTH,
    all_lines,
    chart_lines,
    check_rows,
    sentence_lines,
    series_title,
)
from fieldlog.screens.table import Span
from fieldlog.screens.widgets.fitted_listing import FittedListing
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import moment_words, rig_words

__all__ = ["RigLogRoom"]

GRID_HEIGHT = 34
RULES_IN_SHORT = (
    "1 beyond 3 sigma; on one side: 2 two of three beyond 2, 3 four of five beyond 1, 4 eight in a row; "
    "5 six rising or falling; 6 fourteen alternating"
)
CHART_ROWS, LIST_ROWS, SENTENCES = 9, 5, 4


class RigLogRoom(RigEntriesRoom):
    """Charts of slope and zero, what they say in sentences, and every check with its sign-off."""

    about = (
        "The chart shows every check in order: o is a check, ● one at which a run rule fired, · the moving average; "
        "limits are three standard deviations around the centre. ┊ is something that happened to the rig, │ an "
        "adjustment or service, from which the drift line starts anew. [ and ] go to the next figure, p to the single "
        "points. A check is signed off by somebody who did not take it. Below stand the checks, the latest first."
    )
    CSS = """
    RigLogRoom #chart { height: auto; }
    #said { height: auto; max-height: 4; }
    RigLogRoom #checks { height: 1fr; min-height: 3; }
    #touched_line { height: auto; max-height: 1; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("open", "open_check", word="check", text="Show the check under the cursor."),
        key("batch", "points", word="points", text="Show single points, or slope and zero again."),
        key("later", "series(1)", word="next", text="Show the next figure."),
        key("touched"),
        key("event", "rig_event"),
        key("sign_off"),
        key("earlier", "series(-1)", show=False, text="Show the figure before."),
        key(
            "rig_log",
            "other_rig",
            word="other rig",
            show=False,
            text="Open the rig log of another rig.",
        ),
        key(
            "masses",
            "standards",
            word="standards",
            show=False,
            text="Reference standards and tolerance sets.",
        ),
        key("rules", show=False),
        key("compare", show=False),
    ]

    def __init__(self, rig: str, *, everything: bool = False) -> None:
        super().__init__()
        self.rig_key = rig
        self.everything = everything
        self.rules: tuple[int, ...] = DEFAULT_RULES
        self._points = False
        self._place = 0
        self._undecided: dict[str, tuple[int, int]] = {}

    def body(self) -> ComposeResult:
        """Chart, sentences, checks."""
        yield PaneTitle("", id="chart_title")
        yield TextLines("", id="chart")
        yield TextLines("", id="said")
        yield PaneTitle("checks", id="checks_title")
        yield FittedListing(*CHECK_COLUMNS, id="checks", heading=False, empty="no check of this rig yet")
        yield TextLines("", id="touched_line")

    def begin(self) -> None:
        """Begin on the checks."""
        self.set_focus(self.query_one("#checks", Listing))

    # showing

    def refresh_room(self) -> None:
        """Read the log anew, in a thread: a rig of many years has many checks."""
        self.query_one("#title", TitleLine).show(
            "rig log", "reading the checks …" if self.life is None else ""
        )
        self.read_behind(self._read, "log", first=self.life is None)

    def _read(self) -> None:
        from fieldlog.fieldwork.results.touched import TouchedResults

        app = self.fieldlog
        try:
            log = rig_log(app.workspace, self.rig_key, app.clock(), rules=self.rules)
            touched = TouchedResults(app.workspace, log.rig.id).all()
        except (FieldlogError, OSError) as error:
            self.from_thread(self.reading_done, str(error))
            return
        counts: dict[str, tuple[int, int]] = {}
        for each in touched:
            found, decided = counts.get(each.closing.id, (0, 0))
            counts[each.closing.id] = (found + 1, decided + bool(each.decided))
        self.from_thread(self._found, log, counts)

    def _found(self, log: RigLog, counts: dict[str, tuple[int, int]]) -> None:
        self.life, self._undecided = log, counts
        self.show_log()
        self.reading_done()

    @property
    def shown_series(self) -> tuple[Series, ...]:
        """The figures that can be gone through: slope and zero, or the single points."""
        if self.life is None:
            return ()
        return self.life.points if self._points else self.life.lines

    def show_log(self) -> None:
        """Show what was read."""
        log, today = self.life, self.fieldlog.today
        if log is None:
            return
        checks, sites = len(log.checks), log.site_count
        count = f"{counted(checks, 'check')} at {counted(sites, 'site')}"
        self.query_one("#title", TitleLine).show(
            f"{rig_words(log.rig.name)} · {count}",
            "not for use" if log.not_for_use else sign_off_words(log, today, moment_words),
        )
        listing = self.query_one("#checks", Listing)
        listing.show_rows(check_rows(log, today))
        self.query_one("#checks_title", PaneTitle).show("checks", due_words(log, today, moment_words))
        self._show_chart()
        self._show_touched()

    def _show_chart(self) -> None:
        log, series = self.life, self.shown_series
        chart, title = self.query_one("#chart", TextLines), self.query_one("#chart_title", PaneTitle)
        said = self.query_one("#said", TextLines)
        if log is None or not series:
            title.show("slope and zero", "")
            chart.show_lines(Span("  no check with two different masses yet", "quiet"))
            said.show_lines("")
            return
        if self.everything:
            title.show("slope, zero and single points", "")
            chart.show_lines(
                *all_lines(log, self.size.width, self.fieldlog.today, ascii_only=self.fieldlog.ascii_only)
            )
            return
        self._place %= len(series)
        one = series[self._place]
        width, height = self.size.width, self.size.height
        grid = width >= GRID_WIDTH and height >= GRID_HEIGHT and len(series) > 1
        rows = (
            max(height - (LIST_ROWS + SENTENCES + 6), CHART_ROWS)
            if grid
            else max(height // 3 + 1, CHART_ROWS)
        )
        first = self._place // 4 * 4
        shown = list(series[first : first + 4]) if grid else [one]
        title.show(*series_title(one, self._place, len(series)))
        cursor_id = self.query_one("#checks", Listing).row_key
        chart.show_lines(
            *chart_lines(
                log,
                shown,
                width,
                rows,
                ascii_only=self.fieldlog.ascii_only,
                cursor_id=cursor_id,
                current=one.key,
            )
        )
        said.show_lines(*sentence_lines(log, one, self.fieldlog.today, width, SENTENCES))

    def _show_touched(self) -> None:
        log = self.life
        line = self.query_one("#touched_line", TextLines)
        if log is None:
            return
        found = [
            (check, *self._undecided[check.id])
            for check in reversed(log.checks)
            if check.id in self._undecided
        ]
        if not found:
            line.show_lines(Span(f"  {log.not_for_use}", "bad") if log.not_for_use else "")
            return
        check, count, decided = found[0]
        words = f"{moment_words(check.at.date(), self.fieldlog.today)} {check.stage}: {count} results suspect, {decided} decided · t shows them"
        line.show_lines(Span(f"  {words}", "warn" if decided < count else ""))

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Mark the check under the cursor in the chart."""
        event.stop()
        self._show_chart()

    def on_resize(self, event: object) -> None:
        """Draw for the new size."""
        del event
        if self.life is not None:
            self.call_after_refresh(self._show_chart)

    @property
    def check(self) -> RigCheck | None:
        """The check under the cursor."""
        row_key = self.query_one("#checks", Listing).row_key
        return next((check for check in self.life.checks if check.id == row_key), None) if self.life else None

    # going about

    def action_series(self, by: int) -> None:
        """Show the next figure or the one before."""
        if self.shown_series:
            self._place = (self._place + by) % len(self.shown_series)
            self._show_chart()

    def action_points(self) -> None:
        """Go to the single points, or back to slope and zero."""
        self._points, self._place = not self._points, 0
        self._show_chart()

    def action_open_check(self) -> None:
        """Show a check with its verdict and remarks."""
        from fieldlog.screens.check_shown import CheckShown

        check = self.check
        if check is None or self.life is None:
            self.say("no check to show")
            return
        site = self.life.sites.get(check.id, check.site_id)
        self.app.push_screen(CheckShown(check, site_name=site))

    def action_touched(self) -> None:
        """Show the results a failed check touches."""
        from fieldlog.screens.touched import TouchedRoom

        if self.life is not None:
            self.app.push_screen(TouchedRoom(self.life.rig))

    def action_standards(self) -> None:
        """Open reference standards and tolerance sets."""
        from fieldlog.screens.standards import StandardsRoom

        self.app.push_screen(StandardsRoom())

    def action_compare(self) -> None:
        """Ask for another rig and show the same masses on both."""
        from fieldlog.screens.rig_compare import RigCompareRoom

        if self.life is None:
            return
        rig = self.life.rig
        self._ask_rig("compare with rig", lambda name: self.app.push_screen(RigCompareRoom(rig, name)))

    def action_other_rig(self) -> None:
        """Ask for another rig and open its log."""
        self._ask_rig("rig", lambda name: self.app.switch_screen(RigLogRoom(name)))

    def _ask_rig(self, question: str, then: Callable[[str], object]) -> None:
        from fieldlog.fieldwork.rig_life.rigs import rig_named

        own = self.life.rig.name if self.life else ""
        names = [name for name in rig_names(self.fieldlog.workspace) if name != own]
        if not names:
            self.say("the team has no other rig")
            return

        def chosen(text: str) -> None:
            then(rig_named(self.fieldlog.workspace, text).record.id)

        self.ask(f"{question} ({', '.join(names)}):", chosen, names[0])

    def action_rules(self) -> None:
        """Choose the run rules."""
        self.say(RULES_IN_SHORT, "quiet")
        self.ask("run rules, 1 to 6, blanks between:", self._choose_rules, " ".join(map(str, self.rules)))

    def _choose_rules(self, text: str) -> None:
        self.rules = run_rules(text)
        self.say(f"run rules looked at: {' '.join(map(str, self.rules)) or 'none'}", "quiet")
        self.refresh_room()
