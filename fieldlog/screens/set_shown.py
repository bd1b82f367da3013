"""One set: curve, repetitions, verdict with what to do; before it is kept, and after."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any, ClassVar, get_args

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.pages.reissue import StaleSheet, sheets_to_reissue
from fieldlog.fieldwork.results.imports import Import, JudgedImport
from fieldlog.fieldwork.results.keep_set import KeptSet, Seat, change_note, keep_set, other_side_of
from fieldlog.fieldwork.results.sets import change_standing, leave_out, reload_recording
from fieldlog.fieldwork.results.typed_set import is_typed
from fieldlog.records.effort_set import EffortSet, LeaveOut
from fieldlog.records.protocol import PlannedSet
from fieldlog.screens.curve import CurvePlot, legend
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.set_view import (
    figure_spans,
    quality_lines,
    quality_span,
    repetition_columns,
    repetition_rows,
)
from fieldlog.screens.table import Cell, Span
from fieldlog.screens.widgets.ask_line import AskLine
from fieldlog.screens.widgets.curve_view import CURSOR_KEYS, CurveView
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.store.repo import Kept

__all__ = ["SetRoom"]

REASONS: tuple[str, ...] = get_args(LeaveOut.model_fields["reason"].annotation)


class SetRoom(Room):
    """A recording with its measures. Not kept yet: enter keeps it. Kept: x leaves repetitions out."""

    about = (
        "Enter keeps the recording as a set of this athlete; the counted set it replaces stays listed as redone. x "
        "leaves the repetition under the cursor out, with a reason, or takes it back in; it stays listed. f counts "
        "the set as practice, or counts it again. o shows the other direction and torque over time; left and right "
        "read the values of the curves. A measures the recording again with other options and a reason, O "
        "shows what the sets of the day give together."
    )
    CSS = """
    SetRoom #reps { height: 1fr; min-height: 4; }
    #figures, #said_of_it { height: auto; }
    #said_of_it { max-height: 5; }
    SetRoom CurveView { height: 10; }
    SetRoom.tall CurveView { height: 18; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept", word="keep"),
        key("leave_out"),
        key("over_time"),
        key("stand_in"),
        key("note"),
        *CURSOR_KEYS,
        key("again", show=False),
        key("across", show=False),
    ]

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
        self._keeping = False
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
        first = figure_spans(measures, protocol, self._left_out, unsigned=unsigned)
        self.query_one("#figures", TextLines).show_lines([*first, Span("   "), quality_span(measures)])
        lines = [*self._stands_on, *quality_lines(measures, max(self.size.width - 4, 40))]
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
            app.call_from_thread(self.say, f"which sheets stand on it: {error}", "warn")
            return
        app.call_from_thread(self._sheets_found, stale)

    def _sheets_found(self, stale: Sequence[StaleSheet]) -> None:
        said: list[Cell] = []
        if stale:
            numbers = ", ".join(each.sheet.number for each in stale)
            again = "them" if len(stale) > 1 else "it"
            said = [Span(f"  stands on {numbers}; make {again} again at stage 5", "warn")]
        if self.is_mounted and said != self._stands_on:
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
            self.app.call_from_thread(self.say, f"no curve: {error}", "warn")
            return
        self.app.call_from_thread(self._curves_found, plots)

    @property
    def _to_draw(self) -> Import | JudgedImport:
        """The recording of the set as it is kept now; what was judged where it is not kept yet."""
        if self.kept is not None:
            return reload_recording(self.seat.store, self.kept.record)
        assert self.judged is not None
        return self.judged

    def _curves_found(self, plots: list[tuple[str, CurvePlot]]) -> None:
        if self.is_mounted:
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

    # keeping and leaving out

    def action_undo(self) -> None:
        """Undo what was saved last; a set that is gone by that is left."""
        kept = self.kept
        super().action_undo()
        if kept is not None and at_site(self.seat.store, EffortSet).get(kept.record.id) is None:
            said = self.said
            self.leave()
            if isinstance(self.app.screen, Room):
                self.app.screen.say(said, "accent")

    def action_accept(self) -> None:
        """Keep the recording; once kept, go back to the bench."""
        if self.kept is not None:
            self.leave()
            return
        if self._keeping:
            return
        assert self.judged is not None
        self._keeping = True
        self.say("keeping …", "quiet")
        self.run_worker(partial(self._keep, self.judged), thread=True, exclusive=True, group="keep")

    def _keep(self, judged: JudgedImport) -> None:
        app = self.fieldlog
        try:
            kept = keep_set(self.seat, judged, self.planned, at=app.clock(), by=app.by)
        except (FieldlogError, OSError) as error:
            app.call_from_thread(self._not_kept, str(error))
            return
        app.call_from_thread(self._set_kept, kept)

    def _not_kept(self, why: str) -> None:
        self._keeping = False
        self.say(why, "bad")

    def _set_kept(self, kept: KeptSet) -> None:
        self.kept, self._keeping = kept.kept, False
        # Kept as it was judged: the curves that are drawn are those of the set.
        self._drawn = kept.kept.revision.id
        store = self.seat.store
        self.fieldlog.note_saved(
            f"set {kept.kept.record.number} of {self.code}",
            *((store, table, key) for table, key in kept.changed),
        )
        self.refresh_room()
        without = "; recorded without clearance, on no page" if kept.kept.record.without_clearance else ""
        self.say(f"saved: set {kept.kept.record.number} of {self.code}{without}; enter goes back", "good")

    def action_leave_out(self) -> None:
        """Leave the repetition under the cursor out, or take it back in."""
        row_key = self.query_one("#reps", Listing).row_key
        if self.kept is None or row_key is None:
            self.say("keep the set first (enter), then leave repetitions out")
            return
        index = int(row_key)
        if any(entry.index == index for entry in self._left_out):
            self._leave_out([entry for entry in self._left_out if entry.index != index])
            return
        options = "  ".join(f"{place} {reason}" for place, reason in enumerate(REASONS, start=1))
        self.ask(f"leave {index} out; why? {options}:", lambda answer: self._take_reason(index, answer))

    def _take_reason(self, index: int, answer: str) -> None:
        place = int(answer) if answer.strip().isdecimal() else 0
        if not 1 <= place <= len(REASONS):
            self.say(f"type 1 to {len(REASONS)}", "warn")
            return
        entry = LeaveOut.model_validate({"index": index, "reason": REASONS[place - 1]})
        self._leave_out([*self._left_out, entry])

    def _leave_out(self, entries: list[LeaveOut]) -> None:
        assert self.kept is not None
        kept = self.kept
        self.say("measuring again …", "quiet")

        def work() -> None:
            try:
                changed = leave_out(self.seat.store, kept, entries, by=self.fieldlog.by)
            except (FieldlogError, OSError) as error:
                self.app.call_from_thread(self.say, str(error), "bad")
                return
            self.app.call_from_thread(self._changed, changed, "what is left out")

        self.run_worker(work, thread=True, exclusive=True, group="keep")

    def _changed(self, kept: Kept[EffortSet], what: str) -> None:
        self.kept = kept
        self.fieldlog.note_saved(what, (self.seat.store, EffortSet.table, kept.record.id))
        self.refresh_room()
        self.say(f"saved: {what}", "quiet")

    def action_stand_in(self) -> None:
        """Count the set as familiarisation, or count it again."""
        if self.kept is None:
            self.say("keep the set first (enter)")
            return
        standing = "counted" if self.kept.record.standing != "counted" else "familiarisation"
        with self.telling():
            kept = change_standing(self.seat.store, self.kept, standing, by=self.fieldlog.by, why="by hand")  # type: ignore[arg-type]
            self._changed(kept, standing)

    def action_again(self) -> None:
        """Measure the recording again with other options."""
        from fieldlog.screens.analyse_again import AnalyseAgainRoom

        if self.kept is None:
            self.say("keep the set first (enter)")
        elif is_typed(self.measures):
            self.say("this set was typed; there is no recording to measure again")
        else:
            self.app.push_screen(AnalyseAgainRoom(self.seat, self.kept))

    def action_across(self) -> None:
        """Show what the sets of the day give together."""
        from fieldlog.screens.across_sets import AcrossRoom

        self.app.push_screen(AcrossRoom(self.seat, self.code))

    def action_note(self) -> None:
        """Write a note to the set."""
        if self.kept is None:
            self.say("keep the set first (enter)")
            return
        self.ask("note:", self._keep_note, self.kept.record.note)

    def _keep_note(self, note: str) -> None:
        assert self.kept is not None
        self._changed(change_note(self.seat.store, self.kept, note, by=self.fieldlog.by), "note")
