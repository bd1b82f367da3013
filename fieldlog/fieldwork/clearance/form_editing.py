"""Editing the clearance form: its questions as fields of text, a draft of the form, and what is wrong with it.

What comes with fieldlog is common practice, not medical advice; a team writes its local rules into it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Literal, get_args

from pydantic import TypeAdapter, ValidationError

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.clearance.clearances import save_form
from fieldlog.fieldwork.entry import parse_number
from fieldlog.fieldwork.setup.ordered import new_key, read_yes_no
from fieldlog.records.base import first_fault
from fieldlog.records.clearance import Paper
from fieldlog.records.clearance_form import ClearanceForm, ClearanceItem
from fieldlog.store.repo import Kept
from fieldlog.store.workspace import Workspace

__all__ = [
    "FORM_WORDS",
    "QUESTION_KINDS",
    "FormDraft",
    "QuestionKind",
    "form_faults",
    "question_fields",
    "read_question",
    "save_form_draft",
    "typed_of_question",
    "with_form_words",
]

QuestionKind = Literal["yes_no", "number", "text"]
QUESTION_KINDS: Mapping[QuestionKind, str] = MappingProxyType(
    {"yes_no": "yes or no", "number": "number", "text": "text"}
)
FORM_WORDS: Mapping[str, str] = MappingProxyType(
    {"name": "name of the form", "source": "where it comes from", "caution": "caution"}
)
PAIN = "pain_now"
# Consent is looked up, not asked; the others are asked of every minor, and none can be decided away.
_PAPERS_ASKED: tuple[str, ...] = tuple(paper for paper in get_args(Paper) if paper != "consent")
_ITEMS: TypeAdapter[tuple[ClearanceItem, ...]] = TypeAdapter(tuple[ClearanceItem, ...])

_BY_KIND: Mapping[QuestionKind, Mapping[str, str]] = MappingProxyType(
    {
        "yes_no": {"holds_on": "holds the athlete on (yes, no or nothing)"},
        "number": {
            "unit": "unit, or nothing",
            "low": "smallest answer, or nothing",
            "high": "largest answer, or nothing",
            "holds_above": "holds the athlete above, or nothing",
        },
        "text": {},
    }
)


@dataclass(frozen=True)
class FormDraft:
    """The form while it is edited."""

    words: Mapping[str, str]
    parts: tuple[ClearanceItem, ...]

    @classmethod
    def of(cls, form: ClearanceForm) -> FormDraft:
        """The draft that a form begins as."""
        return cls({name: getattr(form, name) for name in FORM_WORDS}, form.items)

    def with_parts(self, parts: Sequence[ClearanceItem]) -> FormDraft:
        """The draft with other questions."""
        return replace(self, parts=tuple(parts))

    def to_body(self) -> dict[str, Any]:
        """The draft as the JSON object that is kept."""
        return {"words": dict(self.words), "items": _ITEMS.dump_python(self.parts, mode="json")}

    def from_body(self, body: Mapping[str, Any]) -> FormDraft:
        """The draft that was kept. Raises InputError where it cannot be read."""
        try:
            words = {name: str(body["words"][name]) for name in FORM_WORDS}
            return FormDraft(words, _ITEMS.validate_python(body["items"]))
        except (KeyError, TypeError, ValidationError):
            raise InputError("the draft of the clearance form cannot be read", "edit it anew") from None


def form_faults(draft: FormDraft) -> dict[str, str]:
    """Return what is wrong with a draft; all of it is of the form as a whole and stands under ``""``."""
    asked = {item.paper for item in draft.parts if item.paper}
    lost = [paper for paper in _PAPERS_ASKED if paper not in asked]
    if not any(item.key == PAIN and item.kind == "number" for item in draft.parts):
        lost.insert(0, "pain now, as a number: a stop is judged by it")
    return {"": f"no question asks for: {', '.join(lost)}"} if lost else {}


def with_form_words(draft: FormDraft, typed: Mapping[str, str]) -> FormDraft:
    """Return the draft under other words. Raises InputError where it has no name or one is too long."""
    changed = replace(draft, words={name: typed[name].strip() for name in FORM_WORDS})
    _form_of(changed)
    return changed


def save_form_draft(workspace: Workspace, draft: FormDraft, *, by: str, why: str) -> Kept[ClearanceForm]:
    """Keep a draft as the next version of the team's form.

    Raises RefusedError where it has lost a question that no team can do without, or where no reason is given.
    """
    for fault in form_faults(draft).values():
        raise RefusedError(fault, "put it back, then save; nothing was saved")
    if not why.strip():
        raise RefusedError("no reason given for another form", "name the local rule it follows")
    return save_form(workspace, _form_of(draft), by=by, why=why.strip())


def question_fields(kind: QuestionKind) -> dict[str, str]:
    """Return the fields of a question of this kind in words, in the order they are asked for."""
    return {
        "label": "name of the question",
        "question": "question, as it is asked",
        **_BY_KIND[kind],
        "minors_only": "of minors only (yes or no)",
        "must_answer": "must be answered (yes or no)",
        "paper": "what it asks to be there, or nothing",
        "caution": "caution, or nothing",
    }


def typed_of_question(kind: QuestionKind, item: ClearanceItem | None) -> dict[str, str]:
    """Return a question as the text of each field, to be edited."""
    typed = dict.fromkeys(question_fields(kind), "") | {"minors_only": "no", "must_answer": "yes"}
    if item is None:
        return typed | ({"holds_on": "yes"} if kind == "yes_no" else {})
    body = item.model_dump()
    for name in typed:
        value = body.get(name)
        typed[name] = "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
    return typed | {
        "minors_only": "yes" if item.for_whom == "minors" else "no",
        "must_answer": "yes" if item.must_answer else "no",
    }


def read_question(
    kind: QuestionKind, typed: Mapping[str, str], *, key: str | None, items: Sequence[ClearanceItem]
) -> ClearanceItem:
    """Return a question from what was typed; ``key`` is its own where it is on the form already.

    Raises InputError naming the field that cannot be.
    """
    fields = question_fields(kind)
    given = {name: typed.get(name, "").strip() for name in fields}
    if not given["label"]:
        raise InputError("name of the question: nothing was typed", "name the question")
    body: dict[str, Any] = {
        "kind": kind,
        "key": key or new_key(given["label"], [item.key for item in items]),
        "label": given["label"],
        "question": given["question"],
        "unit": given.get("unit", ""),
        "for_whom": "minors" if read_yes_no(given["minors_only"], fields["minors_only"]) else "everyone",
        "must_answer": read_yes_no(given["must_answer"], fields["must_answer"]),
        "caution": given["caution"],
        "paper": _paper(given["paper"]),
    }
    if kind == "yes_no" and given["holds_on"]:
        body["holds_on"] = "yes" if read_yes_no(given["holds_on"], fields["holds_on"]) else "no"
    for name in ("low", "high", "holds_above"):
        if given.get(name):
            body[name] = parse_number(given[name], fields[name])
    low, high, above = (body.get(name) for name in ("low", "high", "holds_above"))
    if low is not None and high is not None and low >= high:
        raise InputError(
            f"{given['label']}: answers run from {low:g} to {high:g}, which is upside down",
            "the smaller value comes first",
        )
    if above is not None and high is not None and above >= high:
        raise InputError(
            f"{given['label']}: no answer lies above {above:g}, the largest is {high:g}",
            "correct one of the two",
        )
    try:
        return ClearanceItem.model_validate(body)
    except ValidationError as error:
        raise InputError(f"{given['label']}: {first_fault(error)}", "correct it") from None


def _paper(text: str) -> str | None:
    if not text:
        return None
    found = next((paper for paper in _PAPERS_ASKED if paper.casefold() == text.casefold()), None)
    if found is None:
        raise InputError(
            f"what it asks to be there: {text[:20]!r} is none",
            f"one of {', '.join(_PAPERS_ASKED)}, or nothing",
        )
    return found


def _form_of(draft: FormDraft) -> ClearanceForm:
    try:
        return ClearanceForm.model_validate({"id": "clearance_form", **draft.words, "items": draft.parts})
    except ValidationError as error:
        raise InputError(f"clearance form: {first_fault(error)}", "correct it and save again") from None
