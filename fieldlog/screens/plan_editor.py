"""A setup plan and its editor: steps in order, saved as a new version; old setups keep theirs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.setup.dial_in import UNIT_WORDS, reading_text
from fieldlog.fieldwork.setup.plan_editing import (
    PlanDraft,
    changed_scales,
    plan_faults,
    save_draft,
    setups_by_version,
    with_plan_words,
)
from fieldlog.fieldwork.setup.step_fields import (
    KIND_WORDS,
    PLAN_WORDS,
    StepKind,
    field_hint,
    read_step,
    step_fields,
    typed_of_step,
)
from fieldlog.records.setup_plan import ChoiceStep, ConfirmStep, PlanStep, ReadingStep, SetupPlan
from fieldlog.screens.part_editor import PartsRoom
from fieldlog.screens.part_forms import PartForm, WordsForm
from fieldlog.screens.room import Room
from fieldlog.screens.table import Cell, Span, wrapped
from fieldlog.screens.widgets.text_line import TitleLine
from fieldlog.screens.words import sentence

__all__ = ["PlanRoom"]


class PlanRoom(PartsRoom[PlanDraft]):
    """The steps of one plan."""

    part = "step"
    about = (
        "The steps of a setup plan in order. Enter edits one, a adds one below, x takes one out, [ and ] move it. All "
        "of it is a draft that is kept until the line below saves it as the next version. Setups taken before keep "
        "their version; a reading whose scale or landmark has changed no longer compares, and says so. The four "
        "safeguards stay in every plan. Common practice, not medical advice: the maker's instructions and local rules "
        "come first."
    )

    def __init__(self, plan_id: str) -> None:
        super().__init__(f"plan/{plan_id}")
        self.plan_id = plan_id

    @property
    def _plan(self) -> SetupPlan:
        return catalogue.plan(self.fieldlog.workspace, self.plan_id)

    def read_saved(self) -> PlanDraft:
        """The plan as it is walked today."""
        return PlanDraft.of(self._plan)

    def faults(self) -> dict[str, str]:
        """What is wrong, by step."""
        return plan_faults(self.work)

    def show_title(self) -> None:
        """Name and version."""
        plan = self._plan
        own = "as shipped" if plan == catalogue.shipped_plans().get(self.plan_id) else "the team's own"
        self.query_one("#title", TitleLine).show(
            f"setup plan · {self.work.words['name']}", f"version {plan.version}, {own}"
        )

    def save_words(self) -> str:
        """The version that would be saved."""
        return "save as the next version"

    def part_cells(self, part: PlanStep) -> tuple[Cell, Cell, Cell]:
        """Name, scale or choices, and what it holds."""
        return part.label, Span(_what(part), "quiet"), _does(part)

    def part_lines(self, part: PlanStep) -> list[Cell]:
        """What to do, landmark, why and caution."""
        width = self.size.width
        lines: list[Cell] = [*wrapped(sentence(part.text), width)]
        back = next((step.label for step in self.work.parts if step.key == part.back_to), "")
        for text, role in (
            (part.landmark and f"landmark: {part.landmark}", ""),
            (back and f"when it fails, back to: {back}", ""),
            (part.why, "quiet"),
            (part.caution and f"Caution: {part.caution}", "warn"),
        ):
            lines += wrapped(sentence(text), width, role) if text else []
        return lines

    def whole_lines(self) -> list[Cell]:
        """Where the plan comes from, and the setups under its versions."""
        width, words = self.size.width, self.work.words
        lines: list[Cell] = [*wrapped(f"source: {words['source']}", width, "quiet")]
        counts = setups_by_version(self.fieldlog.workspace, self.plan_id)
        if counts:
            said = ", ".join(f"{count} under version {version}" for version, count in counts.items())
            lines += wrapped(f"setups so far: {said}; each keeps its version", width, "quiet")
        plan = self._plan
        gone = changed_scales(plan, plan.model_copy(update={"steps": self.work.parts}))
        if gone:
            lines += wrapped(f"will no longer compare with those before: {', '.join(gone)}", width, "warn")
        return lines + list(wrapped(f"Caution: {words['caution']}", width, "warn"))

    def kinds(self) -> dict[str, str]:
        """Confirmation, reading, choice."""
        return {str(kind): words for kind, words in KIND_WORDS.items()}

    def part_form(self, part: Any, kind: str) -> Room:
        """The form of a step."""
        step: PlanStep | None = part
        step_kind: StepKind = kind  # type: ignore[assignment] # of KIND_WORDS
        after = self.listing.row_key
        own = [step.key] if step else []

        def take(typed: Mapping[str, str]) -> str:
            read = read_step(step_kind, typed, key=own[0] if own else None, steps=self.work.parts)
            own[:] = [read.key]
            return self.take_part(read, after)

        return PartForm(
            f"{step.label if step else 'a new step'} · {KIND_WORDS[step_kind]}",
            step_fields(step_kind),
            typed_of_step(step_kind, step, self.work.parts),
            draft=f"plan/{self.plan_id}/{step.key if step else f'new {step_kind}'}",
            take=take,
            hint_of=lambda field: field_hint(field, self.work.parts, own[0] if own else None),
        )

    def words_form(self) -> Room:
        """The form of name, unit, source and caution."""

        def take(typed: Mapping[str, str]) -> str:
            self.change(with_plan_words(self.work, typed), "")
            return "in the draft; esc goes back, the last line there saves"

        name = self.work.words["name"]
        draft = f"plan/{self.plan_id}/words"
        return WordsForm(f"setup plan · {name}", PLAN_WORDS, self.work.words, draft=draft, take=take)

    def save(self, why: str) -> str:
        """Keep the next version."""
        app, before = self.fieldlog, self._plan
        kept = save_draft(app.workspace, self.work, by=app.by, why=why)
        app.note_saved(
            f"setup plan {kept.record.name}", (app.workspace.team, SetupPlan.table, kept.record.id)
        )
        gone = changed_scales(before, kept.record)
        said = f"; no longer compares with setups before: {', '.join(gone)}" if gone else ""
        return f"saved: {kept.record.name}, version {kept.record.version}{said}"


def _what(step: PlanStep) -> str:
    if isinstance(step, ReadingStep):
        unit = UNIT_WORDS[step.unit].strip()
        low = reading_text(step, step.low).removesuffix(unit).strip()
        return f"{low} to {reading_text(step, step.high)} by {step.step:g}"
    return " / ".join(step.options) if isinstance(step, ChoiceStep) else KIND_WORDS[step.kind]


def _does(step: PlanStep) -> Span:
    if isinstance(step, ConfirmStep) and step.safeguard:
        return Span("safeguard", "accent")
    if isinstance(step, ConfirmStep) and step.holds_start:
        return Span("holds the start", "accent")
    if isinstance(step, ReadingStep) and not step.optional:
        return Span(f"retest ± {step.retest_tolerance:g}", "quiet")
    return Span("optional" if step.optional else "", "quiet")
