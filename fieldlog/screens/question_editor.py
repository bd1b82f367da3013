"""The questions of the clearance and their editor, saved as a new version of the team's form."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fieldlog.fieldwork.clearance.clearances import clearance_form
from fieldlog.fieldwork.clearance.form_editing import (
    FORM_WORDS,
    QUESTION_KINDS,
    FormDraft,
    QuestionKind,
    form_faults,
    question_fields,
    read_question,
    save_form_draft,
    typed_of_question,
    with_form_words,
)
from fieldlog.records.clearance_form import ClearanceForm, ClearanceItem
from fieldlog.screens.part_editor import PartsRoom
from fieldlog.screens.part_forms import PartForm, WordsForm
from fieldlog.screens.room import Room
from fieldlog.screens.table import Cell, Span, wrapped
from fieldlog.screens.widgets.text_line import TitleLine

__all__ = ["QuestionsRoom"]

NOT_ADVICE = "Common practice, not medical advice: follow local rules."


class QuestionsRoom(PartsRoom[FormDraft]):
    """The questions of the form."""

    part = "question"
    about = (
        "The questions asked of an athlete on the day, and which answer holds them. Enter edits one, a adds one below, "
        "x takes one out, [ and ] move it; the line below saves all of it as the next version. Clearances taken before "
        "keep their version. Pain now, and what must be there for a minor, stay on every form. Common practice, not "
        "medical advice: follow local rules."
    )

    def __init__(self) -> None:
        super().__init__("clearance form")

    @property
    def _form(self) -> ClearanceForm:
        return clearance_form(self.fieldlog.workspace)

    def read_saved(self) -> FormDraft:
        """The form as it is asked today."""
        return FormDraft.of(self._form)

    def faults(self) -> dict[str, str]:
        """What is wrong with the form."""
        return form_faults(self.work)

    def show_title(self) -> None:
        """Name and version."""
        form = self._form
        own = "as shipped" if form.version == 1 else "the team's own"
        self.query_one("#title", TitleLine).show(
            f"questions · {self.work.words['name']}", f"version {form.version}, {own}"
        )

    def save_words(self) -> str:
        """The version that would be saved."""
        return "save as the next version"

    def part_cells(self, part: ClearanceItem) -> tuple[Cell, Cell, Cell]:
        """Name, how it is answered, and what holds the athlete."""
        return part.label, Span(_answers(part), "quiet"), _holds(part)

    def part_lines(self, part: ClearanceItem) -> list[Cell]:
        """The question as it is asked, and its caution."""
        width = self.size.width
        lines: list[Cell] = [*wrapped(part.question, width)]
        if part.paper:
            lines += wrapped(f"no decision can stand in for it: {part.paper}", width, "accent")
        lines += wrapped(f"Caution: {part.caution}", width, "warn") if part.caution else []
        return [*lines, *wrapped(NOT_ADVICE, width, "quiet")]

    def whole_lines(self) -> list[Cell]:
        """Where the form comes from, and its caution."""
        width, words = self.size.width, self.work.words
        return [
            *wrapped(f"source: {words['source']}", width, "quiet"),
            *wrapped(NOT_ADVICE, width, "warn"),
            *(wrapped(f"Caution: {words['caution']}", width, "warn") if words["caution"] else []),
        ]

    def kinds(self) -> dict[str, str]:
        """Yes or no, number, text."""
        return {str(kind): words for kind, words in QUESTION_KINDS.items()}

    def part_form(self, part: Any, kind: str) -> Room:
        """The form of a question."""
        item: ClearanceItem | None = part
        item_kind: QuestionKind = kind  # type: ignore[assignment] # of QUESTION_KINDS
        after = self.listing.row_key
        own = [item.key] if item else []

        def take(typed: Mapping[str, str]) -> str:
            read = read_question(item_kind, typed, key=own[0] if own else None, items=self.work.parts)
            own[:] = [read.key]
            return self.take_part(read, after)

        return PartForm(
            f"{item.label if item else 'a new question'} · {QUESTION_KINDS[item_kind]}",
            question_fields(item_kind),
            typed_of_question(item_kind, item),
            draft=f"clearance form/{item.key if item else f'new {item_kind}'}",
            take=take,
            hint_of=lambda _: NOT_ADVICE,
        )

    def words_form(self) -> Room:
        """The form of name, source and caution."""

        def take(typed: Mapping[str, str]) -> str:
            self.change(with_form_words(self.work, typed), "")
            return "in the draft; esc goes back, the last line there saves"

        return WordsForm("clearance", FORM_WORDS, self.work.words, draft="clearance form/words", take=take)

    def save(self, why: str) -> str:
        """Keep the next version."""
        app = self.fieldlog
        kept = save_form_draft(app.workspace, self.work, by=app.by, why=why)
        app.note_saved("the clearance form", (app.workspace.team, ClearanceForm.table, kept.record.id))
        return f"saved: {kept.record.name}, version {kept.record.version}; u takes it back"


def _answers(item: ClearanceItem) -> str:
    whom = "minors only · " if item.for_whom == "minors" else ""
    open_ = "" if item.must_answer else " · may stay open"
    if item.kind == "number" and item.low is not None and item.high is not None:
        return f"{whom}{item.low:g} to {item.high:g} {item.unit}".rstrip() + open_
    return f"{whom}{QUESTION_KINDS[item.kind]}{open_}"


def _holds(item: ClearanceItem) -> Span:
    if item.paper:
        return Span(f"no test without {item.paper}", "accent")
    if item.holds_on:
        return Span(f"{item.holds_on} holds")
    if item.holds_above is not None:
        return Span(f"above {item.holds_above:g} holds")
    return Span("noted only", "quiet")
