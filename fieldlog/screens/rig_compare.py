"""Two rigs side by side: the same masses on both, and whether they agree."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.books import site_of
from fieldlog.fieldwork.rig_life.rig_comparison import SharedLoad, compare_rigs
from fieldlog.fieldwork.rig_life.rigs import rig_named
from fieldlog.fieldwork.visit.day import last_check_of_rig
from fieldlog.records.rig import Rig
from fieldlog.records.rig_check import RigCheck
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Column, Row, Span
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import moment_words, number, rig_words, signed

__all__ = ["RigCompareRoom"]

COLUMNS = (
    Column("mass kg", 8, "right"),
    Column("lever m", 8, "right"),
    Column("", 5),
    Column("first N·m", 10, "right"),
    Column("second N·m", 10, "right"),
    Column("difference", 10, "right"),
    Column("E_n", 6, "right"),
    Column(""),
)


class RigCompareRoom(Room):
    """The latest full check of each rig, load by load."""

    about = (
        "Errors of both rigs at the loads their latest full checks share. E_n is the difference over the expanded "
        "uncertainty of both; beyond ±1 the rigs disagree by more than their uncertainties explain. Mass and lever "
        "count on both sides although they are shared, so a small E_n is the cautious side."
    )
    CSS = "RigCompareRoom #loads { height: 1fr; } #which { height: auto; }"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept", "back", word="done", text="Go back to the rig log.")
    ]

    def __init__(self, first: Rig, second: str) -> None:
        super().__init__()
        self.first, self.second = first, second

    def body(self) -> ComposeResult:
        """Which checks, then the loads."""
        yield TextLines("", id="which")
        yield PaneTitle("shared loads", id="loads_title")
        yield Listing(*COLUMNS, id="loads", empty="the two checks share no mass on the same lever")

    def begin(self) -> None:
        """Begin on the loads."""
        self.set_focus(self.query_one("#loads", Listing))

    def refresh_room(self) -> None:
        """Read both rigs, in a thread."""
        self.run_worker(self._read, thread=True, exclusive=True, group="compare")

    def _read(self) -> None:
        app = self.fieldlog
        try:
            second = rig_named(app.workspace, self.second).record
            checks = [last_check_of_rig(app.workspace, rig, full=True) for rig in (self.first, second)]
            shared = compare_rigs(checks[0], checks[1]) if checks[0] and checks[1] else []
        except FieldlogError as error:
            self.from_thread(self.say, str(error), "bad")
            return
        self.from_thread(self._show, second, checks, shared)

    def _show(self, second: Rig, checks: list[RigCheck | None], shared: list[SharedLoad]) -> None:
        self.query_one("#title", TitleLine).show(
            f"{rig_words(self.first.name)} and {rig_words(second.name)}", "the same masses on both"
        )
        sites = {site_of(store).id: site_of(store).name for store in self.fieldlog.workspace.sites.values()}
        lines = [
            f"  {rig_words(rig.name)}: "
            + (
                f"{check.stage} check of {moment_words(check.at)}, {sites.get(check.site_id, check.site_id)}"
                if check
                else "no full check yet"
            )
            for rig, check in zip((self.first, second), checks, strict=True)
        ]
        self.query_one("#which", TextLines).show_lines(*lines)
        self.query_one("#loads", Listing).show_rows([_row(i, load) for i, load in enumerate(shared)])
        apart = sum(load.disagrees for load in shared)
        note = f"{apart} of {len(shared)} disagree" if shared else ""
        self.query_one("#loads_title", PaneTitle).show(note=note)


def _row(place: int, load: SharedLoad) -> Row:
    value = load.normalised_error
    word = (
        Span("", "")
        if value is None
        else Span("disagree", "bad")
        if load.disagrees
        else Span("agree", "good")
    )
    return Row(
        str(place),
        (
            number(load.mass_kg, 2),
            number(load.arm_m, 3),
            load.direction,
            signed(load.first_error_nm),
            signed(load.second_error_nm),
            signed(load.difference_nm),
            signed(value),
            word,
        ),
    )
