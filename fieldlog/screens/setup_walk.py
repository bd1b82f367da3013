"""Walking down a setup plan: what to dial in, from where, and one key that accepts the step as shown."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import FieldlogError, RefusedError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.results.keep_set import Seat
from fieldlog.fieldwork.setup.dial_in import (
    DialInLine,
    dial_in,
    no_longer_compares,
    outside_tolerance,
    reading_of,
)
from fieldlog.fieldwork.setup.setups import last_setup, plan_of, standing_on_rig
from fieldlog.fieldwork.setup.starting_values import StartingValue, starting_today
from fieldlog.fieldwork.setup.steps import accepted, next_step
from fieldlog.fieldwork.setup.walk import (
    Walk,
    WalkPlace,
    go_back,
    keep_walk,
    take_step,
    take_up_walk,
    walk_again,
)
from fieldlog.records.protocol import Side
from fieldlog.records.setup import Setup, StepTaken
from fieldlog.records.setup_plan import ConfirmStep, PlanStep, ReadingStep, SetupPlan
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.setup_view import COLUMNS, ENTRY_COLUMN, step_lines, step_row, typed_step
from fieldlog.screens.widgets.entry_listing import EntryListing
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import moment_words

__all__ = ["SetupRoom"]

LINES_SHOWN = 7


class SetupRoom(Room):
    """The steps of a plan for one athlete and side. Each accepted step is on disk at once."""

    about = (
        "Space accepts the step as shown: confirmed, or dialled to the value of last time. Otherwise type the reading "
        "and press enter; 1.4in and 35mm are understood. A reading off last time's needs a word why. For a new "
        "athlete space types in where to start; look, correct it, enter takes it. x leaves an optional step out, v "
        "goes back when a step does not come right. Common practice, not medical advice: the maker's instructions "
        "and local rules come first."
    )
    CSS = """
    SetupRoom #steps { height: 1fr; }
    #step_text { height: auto; max-height: 7; min-height: 3; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept_step"),
        key("accept", word="take typed"),
        key("leave_out", word="leave out", text="Leave an optional step out."),
        key("not_right"),
        key("plans", "edit_plan", show=False, text="Look at this setup plan, or change it."),
    ]

    def __init__(self, seat: Seat, code: str, plan: SetupPlan, side: Side) -> None:
        super().__init__()
        self.place = WalkPlace(
            workspace=seat.workspace,
            store=seat.store,
            visit=seat.visit,
            athlete_id=seat.athlete_id,
            plan=plan,
            side=side,
            rig_id=seat.rig.id if seat.rig else None,
        )
        self.code = code
        self.plan = plan
        self.side = side

    def body(self) -> ComposeResult:
        """The steps, and the words of the one under the cursor."""
        yield PaneTitle("setup", id="steps_title")
        yield EntryListing(*COLUMNS, entry_column=ENTRY_COLUMN, id="steps")
        yield TextLines("", id="step_text")

    def prepare(self) -> None:
        """Look up what does not change while the room is open."""
        place = self.place
        last = last_setup(place.workspace, place.athlete_id, self.plan.id, self.side, before=place.visit.date)
        self._last: Setup | None = last.record if last else None
        self._last_plan = plan_of(place.workspace, self._last)
        # What stands on the rig is what the athlete before left there; today's own steps do not move it.
        self._now = standing_on_rig(place.store, place.visit, place.rig_id)
        self._now_plan = plan_of(place.workspace, self._now)
        self._walk: Walk = take_up_walk(place)
        self._starting: dict[str, StartingValue] = {}
        self._no_start = ""

    def begin(self) -> None:
        """Stand on the first open step, and say what of last time no longer compares."""
        self.set_focus(self._listing)
        self._to_open_step()
        gone = no_longer_compares(self.plan, self._last, self._last_plan) if self._last else ()
        if self._last and gone:
            version = self._last.plan_version
            self.say(
                f"last time under version {version} of the plan; no longer compares: {', '.join(gone)}",
                "warn",
            )
        elif not self._walk.is_kept:
            self.say("taken up where it was left", "quiet")

    @property
    def _listing(self) -> EntryListing:
        return self.query_one("#steps", EntryListing)

    @property
    def _setup(self) -> Setup | None:
        return self._walk.setup

    @property
    def _step(self) -> PlanStep | None:
        return self.plan.step(self._listing.row_key or "")

    def _last_reading(self, step: PlanStep) -> float | None:
        if not isinstance(step, ReadingStep):
            return None
        return reading_of(step, self._last, self.plan, self._last_plan)[0]

    def refresh_room(self) -> None:
        """Show every step with its answer."""
        setup = self._setup
        side = "" if self.side == "both" else f" · {self.side}"
        since = (
            f"last time {moment_words(self._last.at.date())}" if self._last else "first setup on this plan"
        )
        newest = catalogue.plan(self.place.workspace, self.plan.id).version
        if newest != self.plan.version:
            since = f"version {newest} of the plan is there: esc, then walk anew"
        self.query_one("#title", TitleLine).show(f"{self.code}{side} · {self.plan.name}", since)
        self._starting, self._no_start = starting_today(self.place.workspace, self.plan, setup)
        lines = dial_in(
            self.plan,
            self._now,
            self._last,
            now_plan=self._now_plan,
            last_plan=self._last_plan,
            starting={each.key: each.reading for each in self._starting.values()},
        )
        self._lines: dict[str, DialInLine] = {line.key: line for line in lines}
        self._listing.takes_entries(
            [step.key for step in self.plan.steps if not isinstance(step, ConfirmStep)]
        )
        self._listing.show_rows(
            [
                step_row(
                    step,
                    setup.taken(step.key) if setup else None,
                    self._lines.get(step.key),
                    self._last,
                    self._last_reading(step),
                )
                for step in self.plan.steps
            ]
        )
        done = len(setup.steps) if setup else 0
        self.query_one("#steps_title", PaneTitle).show(note=f"{done} of {len(self.plan.steps)} steps")
        self._show_step()

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the step under the cursor."""
        event.stop()
        self._show_step()

    def _show_step(self) -> None:
        step = self._step
        if step is not None:
            lines = step_lines(
                step, self._lines.get(step.key), self._start_of(step), max(self.size.width - 4, 40)
            )
            self.query_one("#step_text", TextLines).show_lines(*lines[:LINES_SHOWN])

    def _start_of(self, step: PlanStep) -> StartingValue | None:
        """Where to start with a step that last time says nothing of."""
        return self._starting.get(step.key) if self._last_reading(step) is None else None

    def _to_open_step(self) -> None:
        step = next_step(self.plan, self._setup)
        if step is None:
            self.say("every step is taken; esc goes back to the bench", "good")
        else:
            self._listing.to_key(step.key)

    # taking a step

    def action_accept_step(self) -> None:
        """Accept the step as shown, or what is typed. Where to start is only typed in: it is confirmed by eye."""
        step = self._step
        if step is None:
            return
        if self._listing.typed:
            self.action_accept()
            return
        start = self._start_of(step)
        if start is not None:
            self._listing.type_over(f"{start.reading:g}")
            self.say("a place to start: set it, look, correct the number; enter takes it", "warn")
            return
        last = self._last.taken(step.key) if self._last else None
        with self.telling():
            self._take(step, accepted(step, self._last_reading(step), last))

    def action_accept(self) -> None:
        """Take what is typed."""
        step, typed = self._step, self._listing.typed
        if step is None:
            return
        if not typed:
            self.action_accept_step()
            return
        with self.telling():
            self._take(step, typed_step(step, typed))

    def action_leave_out(self) -> None:
        """Leave an optional step out."""
        step = self._step
        if step is not None:
            with self.telling():
                self._take(step, StepTaken(key=step.key))

    def _take(self, step: PlanStep, taken: StepTaken) -> None:
        last = self._last_reading(step)
        off = isinstance(step, ReadingStep) and taken.reading is not None and not taken.why
        try:
            self._keep(step, taken)
        except RefusedError as error:
            if not (
                off and isinstance(step, ReadingStep) and outside_tolerance(step, last, taken.reading or 0.0)
            ):
                raise
            self.say(str(error), "warn")
            self.ask(
                f"{step.label} differs from last time; why, in a word:",
                lambda why: self._take(step, taken.model_copy(update={"why": why.strip()})),
            )

    def _keep(self, step: PlanStep, taken: StepTaken) -> None:
        app = self.fieldlog
        was_nothing = self._setup is None
        self._walk = take_step(self.place, self._walk, taken, by=app.by, at=app.clock())
        if was_nothing and self._walk.seen is not None:
            app.note_saved(step.label, (self.place.store, Setup.table, self._walk.seen.record.id))
        self._listing.take()
        self.say(f"saved: {step.label}", "quiet")
        self.refresh_room()
        self._to_open_step()
        if next_step(self.plan, self._setup) is None:
            self._write(step.label)
            self.app.pop_screen()
        elif self._no_start:
            self.say(f"no starting value from the crest height: {self._no_start}", "warn")

    def action_not_right(self) -> None:
        """Go back to the step this one depends on."""
        step = self._step
        if step is None or self._setup is None:
            self.say("no step was taken yet")
            return
        with self.telling():
            app = self.fieldlog
            self._walk, target = go_back(self.place, self._walk, step.key, by=app.by, at=app.clock())
            self.refresh_room()
            self._listing.to_key(target)
            self.say(f"{step.label} did not come right: on from here again", "warn")

    # keeping the record

    def _write(self, words: str) -> None:
        kept = keep_walk(self.place, self._walk, by=self.fieldlog.by)
        if kept is not None:
            self.fieldlog.note_saved(words, (self.place.store, Setup.table, kept.record.id))
        self._walk = take_up_walk(self.place)

    def action_undo(self) -> None:
        """Take the last step of this walk back; before the first one, what was saved before."""
        if self._walk.earlier is None:
            super().action_undo()
            self._walk = take_up_walk(self.place)
            self.refresh_room()
            return
        with self.telling():
            self._walk = walk_again(self.place, self._walk)
            self.refresh_room()
            self._to_open_step()
            self.say("undone: the last step", "accent")

    def action_edit_plan(self) -> None:
        """Open the plan in its editor; this walk goes on under the version it began with."""
        from fieldlog.screens.plan_editor import PlanRoom

        self.app.push_screen(PlanRoom(self.plan.id))

    def leave(self) -> None:
        """Write the record as far as the walk has come; where that fails, the steps are still in the draft."""
        try:
            self._write(f"setup of {self.code} so far")
        except (FieldlogError, OSError) as error:
            self.app.pop_screen()
            if isinstance(self.app.screen, Room):
                self.app.screen.say(f"{error}; the steps are kept beside the record", "bad")
            return
        self.app.pop_screen()
