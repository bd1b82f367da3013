"""A judged check: verdict first, then what was found, then the points."""

from __future__ import annotations

from textwrap import wrap
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.records.rig_check import GOOD_VERDICTS, RigCheck
from fieldlog.screens.error_bar import error_bar
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Cell, Column, Row, Span
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import moment_words, number, rig_words, sentence, signed, verdict_span

__all__ = ["CheckShown", "verdict_lines"]

POINT_COLUMNS = (
    Column("", 5),
    Column("mass kg", 8, "right"),
    Column("ref N·m", 8, "right"),
    Column("error N·m", 9, "right"),
    Column("−tol     0     +tol", 19),
    Column(""),
)
_PARTS = (("torque", "torque"), ("zero", "zero"), ("angle", "angle"), ("speed", "speed"))


class CheckShown(Room):
    """A check that is on disk, with its verdict in words and where to look if it failed."""

    about = (
        "The verdict of a check, what the remarks say, and every point with its error against its tolerance."
    )
    CSS = """
    #verdict { height: auto; max-height: 60%; }
    #touches { height: auto; max-height: 1; }
    CheckShown #points { height: 1fr; min-height: 3; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept", "close", word="done", text="Go back to the day."),
        key("touched"),
    ]

    def __init__(self, check: RigCheck, *, site_name: str, minutes: float | None = None) -> None:
        super().__init__()
        self.check = check
        self.site_name = site_name
        self.minutes = minutes

    def body(self) -> ComposeResult:
        """Verdict, remarks, points."""
        yield PaneTitle("verdict")
        yield TextLines("", id="verdict")
        yield TextLines("", id="touches")
        yield PaneTitle("points", id="points_title")
        yield Listing(*POINT_COLUMNS, id="points")

    def begin(self) -> None:
        """Show it."""
        self.set_focus(self.query_one("#points", Listing))
        took = f" in {self.minutes:.0f} min" if self.minutes is not None else ""
        if self.minutes is not None:
            self.say(f"saved: {self.check.stage} check{took}; u takes it back", "accent")
        if not self._is_good:
            self.run_worker(self._find_touched, thread=True, exclusive=True, group="touched")

    @property
    def _is_good(self) -> bool:
        return self.check.verdict in GOOD_VERDICTS

    def _find_touched(self) -> None:
        from fieldlog.fieldwork.results.touched import TouchedResults, touch_words

        found = TouchedResults(self.fieldlog.workspace, self.check.rig_id).of_check(self.check.id)
        words = f"{sentence(touch_words(found))}{' · t shows them' if found else ''}"
        self.from_thread(self._show_touched, words)

    def _show_touched(self, words: str) -> None:
        self.query_one("#touches", TextLines).show_lines(Span(f"  {words}", "warn"))

    def action_touched(self) -> None:
        """Show the results this check touches."""
        from fieldlog.fieldwork.rig_life.rigs import rig_named
        from fieldlog.screens.touched import TouchedRoom

        with self.telling():
            self.app.push_screen(TouchedRoom(rig_named(self.fieldlog.workspace, self.check.rig_id).record))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """A check that passed touches nothing."""
        if action == "touched" and self._is_good:
            return False
        return super().check_action(action, parameters)

    def refresh_room(self) -> None:
        """Show verdict and points."""
        check = self.check
        self.query_one("#title", TitleLine).show(
            f"{self.site_name} · {moment_words(check.at, self.fieldlog.today)} · {rig_words(check.entry.rig)}",
            f"{check.stage} check, {check.state}, by {check.by}",
        )
        lines = verdict_lines(check.judged, max(self.size.width - 4, 40))
        self.query_one("#verdict", TextLines).show_lines(*lines)
        rows = [_row(index, point) for index, point in enumerate(check.judged["torque"]["points"])]
        self.query_one("#points", Listing).show_rows(rows)
        self.query_one("#points_title", PaneTitle).show(note=f"{len(rows)} points")

    def action_close(self) -> None:
        """Back to the day."""
        self.leave()


def verdict_lines(judged: dict[str, Any], width: int) -> list[Cell]:
    """Return verdict, parts, lines and remarks of a judged check as lines of text."""
    parts = [Span("  "), verdict_span(judged["verdict"]), Span("   ")]
    for place, (name, label) in enumerate(_PARTS):
        verdict = judged[name]["verdict"]
        parts += [
            Span(f"{' · ' if place else ''}{label} ", "quiet"),
            Span(verdict or "not checked", verdict_span(verdict or "").role),
        ]
    lines: list[Cell] = [parts]
    for direction, line in judged["torque"]["lines"].items():
        if line:
            uncertainty = f" ± {number(line['u_slope'], 4)}" if line["u_slope"] is not None else ""
            lines.append(
                f"  {direction}: slope {number(line['slope'], 4)}{uncertainty}, "
                f"intercept {signed(line['intercept_nm'])} N·m"
            )
    hysteresis = judged["torque"]["hysteresis_pct"]
    if hysteresis is not None:
        lines.append(
            f"  hysteresis {number(hysteresis, 2)} % · zero moved {signed(judged['zero']['change_nm'])} N·m"
        )
    for remark in judged["remarks"]:
        role = "warn" if remark.startswith("likely cause") else ""
        wrapped = wrap(sentence(remark), width - 4)
        lines += [Span(f"  {'– ' if not place else '  '}{line}", role) for place, line in enumerate(wrapped)]
    return lines


def _row(index: int, point: dict[str, Any]) -> Row:
    bar = error_bar(
        point["error_nm"], point["tolerance_nm"], point["u_expanded_nm"], width=19, verdict=point["verdict"]
    )
    mark = "↓" if point["run"] == "unloading" else ""
    doubt = Span(" undecidable", "warn") if point["undecidable"] else Span("")
    return Row(
        str(index),
        (
            point["direction"],
            f"{mark}{number(point['mass_kg'], 2)}",
            number(point["reference_nm"], 2),
            signed(point["error_nm"]),
            bar,
            [verdict_span(point["verdict"], mark=False), doubt],
        ),
    )
