"""What several sets of an athlete's day give together: control ratio, torque over speed, weight left in the figures."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.results.keep_set import Seat
from fieldlog.records.protocol import Side
from fieldlog.screens.curve import Curve, CurvePlot, legend
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Cell, Column, Row, Span, wrapped
from fieldlog.screens.widgets.curve_view import CURSOR_KEYS, CurveView
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import measured, moment_words, number, sentence

if TYPE_CHECKING:
    from fieldlog.fieldwork.results.across_sets import AcrossSets, ControlRatio, SpeedCurve

__all__ = ["AcrossRoom", "across_rows", "remark_lines", "speed_plots"]

COLUMNS = (
    Column("", 6),
    Column("what", 42),
    Column("value", 10, "right"),
    Column("from", 0),
)


class AcrossRoom(Room):
    """Rows for the ratios and the speeds, the curve of torque over speed, and what speaks against them."""

    about = (
        "What one set alone cannot give: the eccentric peak of the muscles that brake over the concentric peak of "
        "those that move the lever; peak torque over speed, from three tested speeds on and never beyond them; and "
        "whether weight is still in the torques of sets whose limb was not weighed. What speaks against a figure "
        "stands in its place. These are figures of today's sets, no diagnosis."
    )
    CSS = """
    AcrossRoom #across { height: auto; max-height: 10; min-height: 3; }
    AcrossRoom #across_curve { height: 1fr; min-height: 5; }
    AcrossRoom #across_remarks { height: auto; max-height: 4; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("over_time", "next_plot", word="other curve", text="Show the curve of the other muscles."),
        *CURSOR_KEYS,
    ]

    def __init__(self, seat: Seat, code: str) -> None:
        super().__init__()
        self.seat = seat
        self.code = code
        self._plots: list[tuple[str, CurvePlot]] = []
        self._shown = 0

    def body(self) -> ComposeResult:
        """Figures, curve, remarks."""
        yield PaneTitle("across the sets of today", id="across_title")
        yield Listing(
            *COLUMNS,
            id="across",
            empty="nothing yet: it takes two modes at one speed, or three speeds",
        )
        yield TextLines("", id="across_remarks")
        yield PaneTitle("torque over speed", id="across_curve_title")
        yield CurveView(id="across_curve", ascii_only=self.fieldlog.ascii_only)

    def begin(self) -> None:
        """Work it out in a thread."""
        self.set_focus(self.query_one("#across", Listing))
        self.run_worker(self._work_out, thread=True, exclusive=True, group="across")

    def refresh_room(self) -> None:
        """Show whose it is."""
        self.query_one("#title", TitleLine).show(
            f"{self.code} · across sets", moment_words(self.seat.visit.date)
        )

    def _work_out(self) -> None:
        from fieldlog.fieldwork.results.across_sets import across_sets

        seat = self.seat
        try:
            found = across_sets(seat.workspace, seat.store, seat.visit, seat.athlete_id)
            plots = speed_plots([curve for each in found for curve in each.speed_curves])
        except FieldlogError as error:
            self.from_thread(self.say, str(error), "bad")
            return
        self.from_thread(self._found, found, plots)

    def _found(self, found: tuple[AcrossSets, ...], plots: list[tuple[str, CurvePlot]]) -> None:
        self.query_one("#across", Listing).show_rows(across_rows(found))
        width = self.size.width
        self.query_one("#across_remarks", TextLines).show_lines(*remark_lines(found, width)[:4])
        self._plots = plots
        self._show_plot()

    def _show_plot(self) -> None:
        if self._plots:
            title, plot = self._plots[self._shown % len(self._plots)]
            self.query_one("#across_curve_title", PaneTitle).show(
                title, legend(plot, title, self.size.width, ascii_only=self.fieldlog.ascii_only)
            )
            self.query_one("#across_curve", CurveView).show_plot(plot)

    def action_cursor(self, by: int) -> None:
        """Move the cursor that reads the curve."""
        self.query_one("#across_curve", CurveView).action_cursor(by)

    def action_next_plot(self) -> None:
        """Show the next curve."""
        self._shown += 1
        self._show_plot()


def across_rows(found: tuple[AcrossSets, ...]) -> list[Row]:
    """Return a row for each control ratio and each point of a curve over speed; what speaks against it beside."""
    rows = []
    for each in found:
        rows += [_ratio_row(ratio) for ratio in each.control_ratios]
        rows += [row for curve in each.speed_curves for row in _speed_rows(curve)]
    return rows


def remark_lines(found: tuple[AcrossSets, ...], width: int) -> list[Cell]:
    """Return the remarks on the sets together, wrapped."""
    return [
        line
        for each in found
        for remark in each.remarks
        for line in wrapped(sentence(remark.text), width, "warn")
    ]


def speed_plots(curves: list[SpeedCurve]) -> list[tuple[str, CurvePlot]]:
    """Return a titled plot for each muscle group, left and right told apart by their line. Loads NumPy."""
    plots = []
    for name in dict.fromkeys(curve.name for curve in curves):
        drawn = []
        for curve in curves:
            if curve.name == name and curve.curve is not None:
                speeds, torques = curve.curve.curve()
                drawn.append(_line(curve.side, speeds.tolist(), torques.tolist()))
        if drawn:
            plots.append((f"{name}, peak torque over speed", CurvePlot(tuple(drawn), x_unit="°/s")))
    return plots


def _line(side: Side, speeds: list[float], torques: list[float]) -> Curve:
    if side == "left":
        return Curve("left", speeds, torques, "dashed", "two")
    return Curve("right" if side == "right" else "both sides", speeds, torques, "solid", "one")


def _side(side: Side) -> str:
    return "" if side == "both" else side


def _ratio_row(ratio: ControlRatio) -> Row:
    value = number(ratio.ratio_pct, 0, "%") if ratio.ratio_pct is not None else "–"
    eccentric = measured(ratio.eccentric.torque_nm, 0, "N·m", with_unit=False)
    parts = f"{eccentric} / {measured(ratio.concentric.torque_nm, 0, 'N·m')}"
    return Row(
        f"ratio {ratio.side} {ratio.speed_deg_s:g} {ratio.name}",
        (
            _side(ratio.side),
            f"{ratio.name}, {ratio.speed_deg_s:g}°/s",
            Span(value, "strong"),
            Span(f"not used: {ratio.against}", "warn") if ratio.against else Span(parts, "quiet"),
        ),
    )


def _speed_rows(curve: SpeedCurve) -> list[Row]:
    rows = []
    for peak in curve.points:
        speed = peak.signed_speed_deg_s
        against = peak.against or ("" if curve.curve is not None else curve.against)
        rows.append(
            Row(
                f"speed {curve.side} {curve.name} {speed:g}",
                (
                    _side(curve.side),
                    f"{curve.name}, {abs(speed):g}°/s{' eccentric' if speed < 0 else ''}",
                    Span(measured(peak.torque_nm, 0, "N·m"), "strong"),
                    Span(f"no curve: {against}" if against else f"set {peak.record.number}", "quiet"),
                ),
            )
        )
    return rows
