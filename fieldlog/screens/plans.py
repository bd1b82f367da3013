"""Setup plans and the clearance form of the team: those that come with fieldlog, and the team's own."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.clearance.clearances import clearance_form
from fieldlog.fieldwork.setup.plan_editing import copied_plan, save_draft, setups_by_version, use_plan
from fieldlog.records.protocol import Protocol
from fieldlog.records.setup_plan import SetupPlan
from fieldlog.screens.keys import key
from fieldlog.screens.plan_editor import PlanRoom
from fieldlog.screens.question_editor import QuestionsRoom
from fieldlog.screens.room import Room
from fieldlog.screens.table import Cell, Column, Row, Span, wrapped
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine

__all__ = ["PlansRoom"]

COLUMNS = (
    Column("setup plan"),
    Column("steps", 6, "right"),
    Column("version", 8, "right"),
    Column("", 14),
    Column("setups", 7, "right"),
    Column("protocols", 10, "right"),
)
FORM = " form"


class PlansRoom(Room):
    """Every plan in its present version, then the questions of the clearance."""

    about = (
        "Setup plans say what is adjusted for an athlete, in which order and on which scale; the last line holds the "
        "questions of the clearance. Enter opens one: what is changed there is saved as the team's own, in place of "
        "the shipped one. a copies the plan under the cursor under another name, p lets a protocol use it. All of it "
        "is common practice, not medical advice: follow local rules and the maker's instructions."
    )
    CSS = """
    PlansRoom #plans { height: 1fr; }
    #plan_hint { height: auto; max-height: 6; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("open", "edit", text="Open the plan, or the questions of the clearance."),
        key("add", word="copy", text="Copy the plan under the cursor under another name."),
        key("batch", "use", word="protocol", text="Let a protocol use the plan under the cursor."),
        key("filter"),
    ]

    def body(self) -> ComposeResult:
        """The plans and the form, and what there is to know of the one under the cursor."""
        yield PaneTitle("setup plans and clearance", id="plans_title")
        yield Listing(*COLUMNS, id="plans")
        yield TextLines("", id="plan_hint")

    def begin(self) -> None:
        """Begin on the first plan."""
        self.set_focus(self._listing)

    @property
    def _listing(self) -> Listing:
        return self.query_one("#plans", Listing)

    def refresh_room(self) -> None:
        """Read the plans anew."""
        workspace = self.fieldlog.workspace
        self.query_one("#title", TitleLine).show("setup plans and clearance", "of the team")
        self._plans = catalogue.plans(workspace)
        protocols = catalogue.protocols(workspace).values()
        self._used = {
            plan_id: [each.name for each in protocols if each.plan_id == plan_id] for plan_id in self._plans
        }
        rows = [self._row(plan) for plan in sorted(self._plans.values(), key=lambda plan: plan.name)]
        form = clearance_form(workspace)
        own = _origin(shipped=form.version == 1)
        rows.append(
            Row(FORM, (Span(form.name, "strong"), str(len(form.items)), str(form.version), own, "", ""))
        )
        self._listing.show_rows(rows)
        self.query_one("#plans_title", PaneTitle).show(note=f"{len(self._plans)} plans")
        self._show_hint()

    def _row(self, plan: SetupPlan) -> Row:
        setups = sum(setups_by_version(self.fieldlog.workspace, plan.id).values())
        shipped = plan == catalogue.shipped_plans().get(plan.id)
        cells = (plan.name, str(len(plan.steps)), str(plan.version), _origin(shipped=shipped), str(setups))
        return Row(plan.id, (*cells, str(len(self._used[plan.id]))))

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the plan under the cursor."""
        event.stop()
        self._show_hint()

    def _show_hint(self) -> None:
        width, plan = self.size.width, self._plans.get(self._listing.row_key or "")
        if plan is None:
            caution = clearance_form(self.fieldlog.workspace).caution
            lines: list[Cell] = [*wrapped(caution or "Common practice, not medical advice.", width, "warn")]
        else:
            used = ", ".join(self._used[plan.id]) or "no protocol yet; p lets one use it"
            lines = [*wrapped(f"used by: {used}", width), *wrapped(f"source: {plan.source}", width, "quiet")]
            lines += wrapped(f"Caution: {plan.caution}", width, "warn") if plan.caution else []
        self.query_one("#plan_hint", TextLines).show_lines(*lines[:6])

    def action_edit(self) -> None:
        """Open what the cursor stands on."""
        row_key = self._listing.row_key
        if row_key == FORM:
            self.app.push_screen(QuestionsRoom())
        elif row_key is not None:
            self.app.push_screen(PlanRoom(row_key))

    def _here(self) -> SetupPlan | None:
        plan = self._plans.get(self._listing.row_key or "")
        if plan is None:
            self.say("the cursor stands on no plan")
        return plan

    def action_add(self) -> None:
        """Ask for the name of a copy."""
        plan = self._here()
        if plan is None:
            return

        def copy(name: str) -> None:
            app = self.fieldlog
            draft = copied_plan(app.workspace, plan, name)
            kept = save_draft(app.workspace, draft, by=app.by, why=f"copied from {plan.name}")
            app.note_saved(
                f"setup plan {kept.record.name}", (app.workspace.team, SetupPlan.table, kept.record.id)
            )
            self.app.push_screen(PlanRoom(kept.record.id))

        self.ask(f"name of the copy of {plan.name}:", copy)

    def action_use(self) -> None:
        """Ask for the protocol that is to use the plan."""
        plan = self._here()
        if plan is None:
            return

        def use(typed: str) -> None:
            app = self.fieldlog
            kept = use_plan(app.workspace, plan.id, typed, by=app.by)
            app.note_saved(
                f"protocol {kept.record.name}", (app.workspace.team, Protocol.table, kept.record.id)
            )
            self.refresh_room()
            self.say(f"saved: {kept.record.name} is set up under {plan.name}", "accent")

        protocols = catalogue.protocols(self.fieldlog.workspace).values()
        fitting = ", ".join(each.name for each in protocols if each.region == plan.region)
        self.ask(f"which protocol (first letters: {fitting}):", use)


def _origin(*, shipped: bool) -> Span:
    return Span("as shipped", "quiet") if shipped else Span("the team's own", "accent")
