"""Walking down a setup plan: what to dial in, from where, and one key that accepts the step as shown."""

from __future__ import annotations

from textwrap import wrap
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.entry import parse_quantity
from fieldlog.fieldwork.results.keep_set import Seat
from fieldlog.fieldwork.setup.dial_in import UNIT_WORDS, DialInLine, outside_tolerance, reading_text
from fieldlog.fieldwork.setup.setups import (
    accepted,
    dial_in_today,
    fail_step,
    last_setup,
    next_step,
    save_step,
    setup_of,
)
from fieldlog.records.protocol import Side
from fieldlog.records.setup import Setup, StepTaken
from fieldlog.records.setup_plan import ChoiceStep, ConfirmStep, PlanStep, ReadingStep, SetupPlan
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Cell, Column, Row, Span
from fieldlog.screens.widgets.entry_listing import EntryListing
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.store.repo import Kept

__all__ = ["SetupRoom"]

COLUMNS = (
    Column("step"),
    Column("last time", 10, "right"),
    Column("now", 9, "right"),
    Column("change", 11),
    Column("today", 13),
)
ENTRY_COLUMN = 4


class SetupRoom(Room):
    """The steps of a plan for one athlete and side. Each accepted step is on disk at once."""

    about = (
        "Space accepts the step as shown: confirmed, or dialled to the value of last time. Otherwise type the reading "
        "and press enter; 1.4in and 35mm are understood. A reading off last time's needs a word why. x leaves an "
        "optional step out, v goes back when a step does not come right. Common practice, not medical advice: the "
        "maker's instructions and local rules come first."
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
    ]

    def __init__(self, seat: Seat, code: str, plan: SetupPlan, side: Side) -> None:
        super().__init__()
        self.store = seat.store
        self.visit = seat.visit
        self.athlete_id = seat.athlete_id
        self.rig_id = seat.rig.id if seat.rig else None
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
        workspace = self.fieldlog.workspace
        last = last_setup(workspace, self.athlete_id, self.plan.id, self.side, before=self.visit.date)
        self._last: Setup | None = last.record if last else None
        # What stands on the rig is what the athlete before left there; today's own steps do not move it.
        self._lines: dict[str, DialInLine] = {line.key: line for line in self._dial_in()}

    def begin(self) -> None:
        """Stand on the first open step."""
        self.set_focus(self._listing)
        self._to_open_step()

    @property
    def _listing(self) -> EntryListing:
        return self.query_one("#steps", EntryListing)

    def _dial_in(self) -> tuple[DialInLine, ...]:
        return dial_in_today(
            self.fieldlog.workspace,
            self.store,
            self.visit,
            athlete_id=self.athlete_id,
            plan=self.plan,
            side=self.side,
            rig_id=self.rig_id,
        )

    @property
    def _kept(self) -> Kept[Setup] | None:
        return setup_of(self.store, self.visit, self.athlete_id, self.plan, self.side)

    @property
    def _step(self) -> PlanStep | None:
        return self.plan.step(self._listing.row_key or "")

    def refresh_room(self) -> None:
        """Show every step with its answer."""
        kept = self._kept
        setup = kept.record if kept else None
        side = "" if self.side == "both" else f" · {self.side}"
        since = f"last time {self._last.at:%d %b %Y}" if self._last else "first setup on this plan"
        self.query_one("#title", TitleLine).show(f"{self.code}{side} · {self.plan.name}", since)
        self._listing.takes_entries(
            [step.key for step in self.plan.steps if not isinstance(step, ConfirmStep)]
        )
        self._listing.show_rows([self._row(step, setup) for step in self.plan.steps])
        done = len(setup.steps) if setup else 0
        self.query_one("#steps_title", PaneTitle).show(note=f"{done} of {len(self.plan.steps)} steps")
        self._show_step()

    def _row(self, step: PlanStep, setup: Setup | None) -> Row:
        taken = setup.taken(step.key) if setup else None
        today = _taken_span(step, taken)
        line = self._lines.get(step.key)
        if line is None or not isinstance(step, ReadingStep):
            last = self._last.taken(step.key) if self._last else None
            shown = (last.choice or "") if last else ""
            if isinstance(step, ReadingStep) and last and last.reading is not None:
                shown = reading_text(step, last.reading)
            return Row(step.key, (step.label, Span(shown, "quiet"), "", "", today))
        role = "quiet" if line.unchanged else "warn"
        return Row(
            step.key,
            (step.label, _reading(step, line.last), _reading(step, line.now), Span(line.text, role), today),
        )

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the step under the cursor."""
        event.stop()
        self._show_step()

    def _show_step(self) -> None:
        step, width = self._step, max(self.size.width - 4, 40)
        if step is None:
            return
        lines: list[Cell] = [f"  {line}" for line in wrap(step.text, width)]
        if isinstance(step, ChoiceStep):
            options = "   ".join(f"{place} {option}" for place, option in enumerate(step.options, start=1))
            lines.append(Span(f"  type the number: {options}", "key"))
        if isinstance(step, ReadingStep):
            scale = f"{reading_text(step, step.low)} to {reading_text(step, step.high)}"
            lines.append(Span(f"  scale {scale}{'; optional' if step.optional else ''}", "quiet"))
        for text, role in (
            (step.landmark, ""),
            (step.why, "quiet"),
            (step.caution and f"Caution: {step.caution}", "warn"),
        ):
            lines += [Span(f"  {line}", role) for line in wrap(text, width)]
        self.query_one("#step_text", TextLines).show_lines(*lines[:7])

    def _to_open_step(self) -> None:
        kept = self._kept
        step = next_step(self.plan, kept.record if kept else None)
        if step is None:
            self.say("every step is taken; esc goes back to the bench", "good")
        else:
            self._listing.to_key(step.key)

    # taking a step

    def action_accept_step(self) -> None:
        """Accept the step as shown, or what is typed."""
        step = self._step
        if step is None:
            return
        if self._listing.typed:
            self.action_accept()
            return
        line = self._lines.get(step.key)
        last = self._last.taken(step.key) if self._last else None
        target = line.target if line else last.reading if last else None
        with self.telling():
            self._save(step, accepted(step, target, last))

    def action_accept(self) -> None:
        """Take what is typed."""
        step, typed = self._step, self._listing.typed
        if step is None:
            return
        if not typed:
            self.action_accept_step()
            return
        with self.telling():
            self._save(step, _typed_step(step, typed))

    def action_leave_out(self) -> None:
        """Leave an optional step out."""
        step = self._step
        if step is not None:
            with self.telling():
                self._save(step, StepTaken(key=step.key))

    def _save(self, step: PlanStep, taken: StepTaken) -> None:
        last = self._last.reading(step.key) if self._last else None
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
                lambda why: self._save(step, taken.model_copy(update={"why": why.strip()})),
            )

    def _keep(self, step: PlanStep, taken: StepTaken) -> None:
        app = self.fieldlog
        kept = save_step(
            app.workspace,
            self.store,
            self.visit,
            athlete_id=self.athlete_id,
            plan=self.plan,
            side=self.side,
            taken=taken,
            by=app.by,
            at=app.clock(),
            rig_id=self.rig_id,
        )
        app.note_saved(step.label, (self.store, Setup.table, kept.record.id))
        self._listing.take()
        self.say(f"saved: {step.label}", "quiet")
        self.refresh_room()
        self._to_open_step()
        if next_step(self.plan, kept.record) is None:
            self.app.pop_screen()

    def action_not_right(self) -> None:
        """Go back to the step this one depends on."""
        step, kept = self._step, self._kept
        if step is None or kept is None:
            self.say("no step was taken yet")
            return
        with self.telling():
            app = self.fieldlog
            saved, target = fail_step(self.store, kept, self.plan, step.key, by=app.by, at=app.clock())
            app.note_saved(f"back to {target}", (self.store, Setup.table, saved.record.id))
            self.refresh_room()
            self._listing.to_key(target)
            self.say(f"{step.label} did not come right: on from here again", "warn")


def _typed_step(step: PlanStep, typed: str) -> StepTaken:
    if isinstance(step, ChoiceStep):
        place = int(typed) if typed.isdecimal() else 0
        if not 1 <= place <= len(step.options):
            raise InputError(f"{step.label}: {typed} is no choice", f"type 1 to {len(step.options)}")
        return StepTaken(key=step.key, choice=step.options[place - 1])
    if isinstance(step, ReadingStep):
        return StepTaken(key=step.key, reading=parse_quantity(typed, step.unit, step.label))
    return StepTaken(key=step.key, confirmed=True)


def _reading(step: ReadingStep, reading: float | None) -> str:
    return "–" if reading is None else reading_text(step, reading)


def _taken_span(step: PlanStep, taken: StepTaken | None) -> Span:
    if taken is None:
        unit = UNIT_WORDS[step.unit].strip() if isinstance(step, ReadingStep) else ""
        return Span(f"· {unit}".strip(), "quiet")
    if taken.confirmed:
        return Span("✓", "good")
    if taken.choice:
        return Span(taken.choice, "good")
    if taken.reading is not None and isinstance(step, ReadingStep):
        return Span(reading_text(step, taken.reading) + (" why" if taken.why else ""), "good")
    return Span("left out", "quiet")
