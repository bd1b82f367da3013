"""One set, shown: figures, verdict with what to do, repetitions, curves, and the sheets that stand on it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from textual.app import ComposeResult

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.pages.reissue import StaleSheet, sheets_to_reissue
from fieldlog.fieldwork.results.imports import Import, JudgedImport
from fieldlog.fieldwork.results.keep_set import Seat, other_side_of
from fieldlog.fieldwork.results.sets import reload_recording
from fieldlog.fieldwork.results.typed_set import is_typed
from fieldlog.records.effort_set import EffortSet, LeaveOut
from fieldlog.records.protocol import PlannedSet
from fieldlog.screens.curve import CurvePlot, legend
from fieldlog.screens.room import Room
from fieldlog.screens.set_view import (
    figure_lines,
    quality_lines,
    repetition_columns,
    repetition_rows,
)
from fieldlog.screens.table import Cell, Span
from fieldlog.screens.widgets.ask_line import AskLine
from fieldlog.screens.widgets.curve_view import CurveView
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.store.repo import Kept

__all__ = ["SetShown"]


class SetShown(Room):
    """A recording with its measures, before it is kept and after; what is done with it comes with the room built on it."""

    def __init__(
        self,
        seat: Seat,
        planned: PlannedSet,
        code: str,
        *,
        judged: JudgedImport | None = None,
        kept: Kept[EffortSet] | None = None,
        last: Import | None = None,
        said: str = "",
    ) -> None:
        super().__init__()
        self.seat = seat
        self.planned = planned
        self.code = code
        self.judged = judged
        self.kept = kept
        self.last = last
        self._said_first = said
        self._plots: list[tuple[str, CurvePlot]] = []
        self._shown_plot = 0
        self._drawn: str | None = None
        self._looked_at = ""
        self._stands_on: list[Cell] = []

    def body(self) -> ComposeResult:
        """Figures, verdict, repetitions, curve."""
        yield TextLines("", id="figures")
        yield TextLines("", id="said_of_it")
        yield PaneTitle("repetitions", id="reps_title")
        yield Listing(*repetition_columns(), id="reps")
        yield PaneTitle("curve", id="curve_title")
        yield CurveView(id="curve", ascii_only=self.fieldlog.ascii_only)

    def begin(self) -> None:
        """Show the measures; the curves are drawn as soon as a thread has them."""
        self.set_focus(self.query_one("#reps", Listing))
        if self._said_first:
            self.say(self._said_first, "accent")
        self._draw_curves()

    @property
    def is_idle(self) -> bool:
        """Whether the set is kept and nothing is being asked, so that another may take its place."""
        return self.kept is not None and not self.query_one(AskLine).display

    @property
    def measures(self) -> dict[str, Any]:
        """The measures as kept, or as they would be kept."""
        if self.kept is not None:
            return self.kept.record.measures
        assert self.judged is not None
        return self.judged.measures

    @property
    def _left_out(self) -> tuple[LeaveOut, ...]:
        return self.kept.record.left_out if self.kept else ()

    @property
    def _is_unsigned(self) -> bool:
        if self.judged is not None:
            shape = self.judged.taken.column_map
            return shape is not None and shape.torque_sign == "magnitude"
        assert self.kept is not None
        return (self.kept.record.column_map or {}).get("torque_sign") == "magnitude"

    def refresh_room(self) -> None:
        """Show figures, verdict and repetitions."""
        protocol, measures = self.seat.protocol, self.measures
        if self.kept is not None:
            self.kept = at_site(self.seat.store, EffortSet).get(self.kept.record.id) or self.kept
            measures = self.kept.record.measures
        record = self.kept.record if self.kept else None
        standing = f"set {record.number}, {record.standing}" if record else "not kept yet"
        side = record.side if record else self.judged.taken.side if self.judged else ""
        name = record.trace_name if record else self.judged.taken.name if self.judged else ""
        self.query_one("#title", TitleLine).show(
            f"{self.code} · {side} · {self.planned.speed_deg_s:g}°/s · {name}", standing
        )
        unsigned = self._is_unsigned
        figures = figure_lines(measures, protocol, self.size.width, self._left_out, unsigned=unsigned)
        self.query_one("#figures", TextLines).show_lines(*figures)
        undecided: list[Cell] = []
        if record is not None and record.without_clearance:
            undecided = [
                Span(
                    "  recorded without clearance, on no page; j: who decides that it counts",
                    "bad",
                )
            ]
        lines = [*undecided, *self._stands_on, *quality_lines(measures, max(self.size.width - 4, 40))]
        self.query_one("#said_of_it", TextLines).show_lines(*lines[:5])
        rows = repetition_rows(measures, protocol, self._left_out, unsigned=unsigned)
        self.query_one("#reps", Listing).show_rows(rows)
        self.query_one("#reps_title", PaneTitle).show(
            note=f"{len(rows)} listed, {len(self._left_out)} left out"
        )
        drawn_again = self.kept is not None and self._drawn not in (None, self.kept.revision.id)
        if drawn_again:
            self._draw_curves()
        if self.kept is not None and self._looked_at != self.kept.revision.id:
            self._looked_at = self.kept.revision.id
            self.run_worker(
                partial(self._find_sheets, self.kept.record.id), thread=True, exclusive=True, group="stale"
            )

    # sheets that stand on it

    def _find_sheets(self, set_id: str) -> None:
        app = self.fieldlog
        try:
            stale = sheets_to_reissue(app.workspace, [set_id])
        except (FieldlogError, OSError) as error:
            self.from_thread(self.say, f"which sheets stand on it: {error}", "warn")
            return
        self.from_thread(self._sheets_found, stale)

    def _sheets_found(self, stale: Sequence[StaleSheet]) -> None:
        said: list[Cell] = []
        if stale:
            numbers = ", ".join(each.sheet.number for each in stale)
            again = "them" if len(stale) > 1 else "it"
            said = [Span(f"  stands on {numbers}; make {again} again at stage 5", "warn")]
        if said != self._stands_on:
            self._stands_on = said
            self.refresh_room()

    # curves

    def _draw_curves(self) -> None:
        self._drawn = self.kept.revision.id if self.kept else ""
        if is_typed(self.measures):
            self.query_one("#curve_title", PaneTitle).show("typed, no recording: no curve")
            return
        self.run_worker(self._find_curves, thread=True, exclusive=True, group="curves")

    def _find_curves(self) -> None:
        from fieldlog.screens.curve_data import plots_of

        left_out = [entry.index for entry in self._left_out]
        try:
            shown = self._to_draw
            about = shown if isinstance(shown, Import) else shown.taken
            beside = other_side_of(self.seat, about.side, about.speed_deg_s, about.mode)
            other = reload_recording(self.seat.store, beside) if beside else None
            plots = plots_of(shown, self.seat.protocol, left_out=left_out, last=self.last, other=other)
        except FieldlogError as error:
            self.from_thread(self.say, f"no curve: {error}", "warn")
            return
        self.from_thread(self._curves_found, plots)

    @property
    def _to_draw(self) -> Import | JudgedImport:
        """The recording of the set as it is kept now; what was judged where it is not kept yet."""
        if self.kept is not None:
            return reload_recording(self.seat.store, self.kept.record)
        assert self.judged is not None
        return self.judged

    def _curves_found(self, plots: list[tuple[str, CurvePlot]]) -> None:
        self._plots = plots
        self._show_curve()

    def _show_curve(self) -> None:
        if not self._plots:
            return
        title, plot = self._plots[self._shown_plot % len(self._plots)]
        self.query_one("#curve_title", PaneTitle).show(
            title, legend(plot, title, self.size.width, ascii_only=self.fieldlog.ascii_only)
        )
        self.query_one(CurveView).show_plot(plot)

    def action_cursor(self, by: int) -> None:
        """Move the cursor that reads the curves."""
        self.query_one(CurveView).action_cursor(by)

    def action_over_time(self) -> None:
        """Show the next curve: other direction, over time, and round again."""
        self._shown_plot += 1
        self._show_curve()
