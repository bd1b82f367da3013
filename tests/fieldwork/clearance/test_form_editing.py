"""Editing the clearance form: what can be typed, and what no team can do without."""

import dataclasses

import pytest

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.clearance import form_editing
from fieldlog.fieldwork.clearance.clearances import clearance_form
from fieldlog.fieldwork.setup.ordered import without
from fieldlog.records.clearance_form import ClearanceForm

FORM = clearance_form(None)
DRAFT = form_editing.FormDraft.of(FORM)


def test_the_form_that_comes_with_fieldlog_says_what_it_is():
    assert FORM.caution.startswith("Common practice, not medical advice; follow local rules")


@pytest.mark.parametrize("item", FORM.items, ids=lambda item: item.key)
def test_a_question_typed_as_it_stands_is_the_same_question(item):
    typed = form_editing.typed_of_question(item.kind, item)
    assert form_editing.read_question(item.kind, typed, key=item.key, items=FORM.items) == item


@pytest.mark.parametrize(
    ("kind", "key", "fields", "part"),
    [
        ("number", "pain_now", {"low": "10", "high": "0"}, "upside down"),
        ("number", "pain_now", {"holds_above": "10"}, "no answer lies above 10"),
        ("number", "pain_now", {"holds_above": "much"}, "is no number"),
        ("yes_no", "injury", {"holds_on": "maybe"}, "neither yes nor no"),
        ("yes_no", "injury", {"question": ""}, "question"),
        ("yes_no", "injury", {"label": ""}, "name the question"),
        ("yes_no", "assent", {"holds_on": "yes"}, "must hold the athlete when the answer is no"),
        ("yes_no", "assent", {"paper": "a note"}, "guardian's consent, assent"),
    ],
)
def test_each_fault_of_a_question_is_named(kind, key, fields, part):
    item = next(item for item in FORM.items if item.key == key)
    typed = form_editing.typed_of_question(kind, item) | fields
    with pytest.raises(InputError) as caught:
        form_editing.read_question(kind, typed, key=key, items=FORM.items)
    assert part in str(caught.value)


@pytest.mark.parametrize("key", ["pain_now", "guardian_consent", "assent", "chaperone", "lever_fits"])
def test_what_a_minor_or_a_stop_needs_stays_on_every_form(field, key):
    draft = DRAFT.with_parts(without(DRAFT.parts, key))
    with pytest.raises(RefusedError, match="no question asks for"):
        form_editing.save_form_draft(field.workspace, draft, by="t", why="shorter")
    assert clearance_form(field.workspace).version == 1


def test_another_form_is_a_version_with_a_reason_and_an_undone_one_keeps_its_number(field):
    draft = DRAFT.with_parts(without(DRAFT.parts, "pregnancy"))
    with pytest.raises(RefusedError, match="no reason"):
        form_editing.save_form_draft(field.workspace, draft, by="t", why=" ")
    kept = form_editing.save_form_draft(field.workspace, draft, by="t", why="rule 4")
    assert (kept.record.version, kept.revision.why) == (2, "rule 4")
    field.workspace.team.undo(ClearanceForm.table, kept.record.id, by="t")
    again = form_editing.save_form_draft(field.workspace, draft, by="t", why="rule 5")
    assert again.record.version == 3


def test_a_draft_comes_back_from_its_body_and_a_broken_one_is_named():
    edited = dataclasses.replace(DRAFT, words={**DRAFT.words, "name": "Club form"})
    assert DRAFT.from_body(edited.to_body()) == edited
    with pytest.raises(InputError, match="cannot be read"):
        DRAFT.from_body({"words": {"name": 3}})
    with pytest.raises(InputError, match="clearance form"):
        form_editing.with_form_words(DRAFT, {**DRAFT.words, "name": " "})
