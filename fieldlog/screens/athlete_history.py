"""One athlete over the visits: a measure with its interval, and the change from visit to visit."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.count_words import counted
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.squad.season_history import AthleteHistory, athlete_history
from fieldlog.fieldwork.squad.squad_questions import SquadQuestion
from fieldlog.fieldwork.squad.squad_view import SquadRow, measure_words, protocol_words
from fieldlog.screens.dot_strip import draw_dot, scale_of, scale_words
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.squad_view import MARK_AND_BAR, WIDE, change_cell
from fieldlog.screens.table import Cell, Column, Row, Span, widths, wrapped
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import day_words, number, signed, verdict_span

__all__ = ["AthleteHistoryRoom"]

STRIP = 2


class AthleteHistoryRoom(Room):
    """A line a visit, the latest last, and what the season says."""

    about = (
        "One line is one visit: the figure, its dot with the 95 % interval of its typical error, and the change "
        "since the visit before; in brackets what error alone makes in 19 of 20 cases. Below stands what else may "
        "explain the change. The first visit is familiarisation and does not begin the season's comparison."
    )
    CSS = """
    AthleteHistoryRoom #visits { height: 1fr; min-height: 4; }
    #of_visit { height: auto; max-height: 4; }
    #season { height: auto; max-height: 3; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [key("filter")]

    def __init__(self, comparer: Comparer, question: SquadQuestion, row: SquadRow) -> None:
        super().__init__()
        self.comparer, self.question, self.of = comparer, question, row
        self.history: AthleteHistory | None = None

    def body(self) -> ComposeResult:
        """Visits and what they say."""
        yield PaneTitle("", id="measure")
        yield Listing(Column(""), id="visits", empty="no visit with this figure")
        yield TextLines("", id="of_visit")
        yield PaneTitle("over the season", id="season_title")
        yield TextLines("", id="season")

    def begin(self) -> None:
        """Begin on the latest visit."""
        listing = self.query_one("#visits", Listing)
        listing.focus()
        listing.cursor = max(len(listing.rows) - 1, 0)

    def prepare(self) -> None:
        """Read the visits."""
        person = self.comparer.trials.person(self.of.athlete_id)
        line = self.question.line(self.of.side)
        self.history = athlete_history(self.comparer, person, self.question.measure, line)

    def refresh_room(self) -> None:
        """Show the visits."""
        history = self.history
        if history is None:
            return
        side = "" if self.question.measure.of == "sides" or self.of.side == "both" else f" · {self.of.side}"
        count = len(history.points)
        self.query_one("#title", TitleLine).show(
            f"{self.of.code}{side} · {protocol_words(self.comparer, self.question)}",
            counted(count, "visit"),
        )
        self.query_one("#measure", PaneTitle).show(measure_words(self.comparer, self.question))
        measure, today = history.measure, self.fieldlog.today
        columns = [
            Column("visit", 11),
            Column(measure.unit, 7, "right"),
            Column(""),
            Column("cover", 14),
            Column("change (error alone)", 32 if self.size.width >= WIDE else 27),
        ]
        cells = widths(columns, self.size.width - MARK_AND_BAR)[STRIP]
        scale = scale_of(
            bound
            for point in history.points
            for bound in (point.value, point.low, point.high)
            if bound is not None
        )
        columns[STRIP] = Column(scale_words(scale, cells))
        rows = []
        for place, point in enumerate(history.points):
            strip = draw_dot(
                scale, point.value, cells, low=point.low, high=point.high, ascii_only=self.fieldlog.ascii_only
            )
            rows.append(
                Row(
                    str(place),
                    (
                        day_words(point.date, today),
                        number(point.value, measure.decimals),
                        strip,
                        verdict_span(point.cover),
                        change_cell(point.change),
                    ),
                )
            )
        self.query_one("#visits", Listing).show_rows(rows, columns=tuple(columns))
        self._show_season()
        self._show_visit()

    def _show_season(self) -> None:
        overall = self.history.overall if self.history else None
        line = self.query_one("#season", TextLines)
        if overall is None:
            line.show_lines(Span("  two visits after the first are needed", "quiet"))
        elif overall.change_pct is None:
            line.show_lines(f"  {overall.word}")
        else:
            unit = " points" if overall.unit == "points" else f" {overall.unit}"
            line.show_lines(
                f"  {signed(overall.change_pct, 1)}{unit} since {overall.since} "
                f"({signed(overall.low_pct, 1)} to {signed(overall.high_pct, 1)}): {overall.word}"
            )

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the visit under the cursor."""
        event.stop()
        self._show_visit()

    def _show_visit(self) -> None:
        chosen, history = self.query_one("#visits", Listing).row_key, self.history
        lines: list[Cell] = []
        if chosen is not None and history is not None:
            point = history.points[int(chosen)]
            change = point.change
            first = "first visit, familiarisation · " if point.first_visit else ""
            lines.append(f"  {first}quality {point.quality} · tested by {point.tester}")
            texts = [*change.marks, change.rig, change.error]
            lines += [line for text in texts if text for line in wrapped(text, self.size.width, "quiet")]
        self.query_one("#of_visit", TextLines).show_lines(*lines[:4])

    def on_resize(self, event: object) -> None:
        """Draw for the new size."""
        del event
        if self.ready:
            self.call_after_refresh(self.refresh_room)
