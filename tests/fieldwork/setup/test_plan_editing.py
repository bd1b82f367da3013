"""Editing a plan: every fault named, old versions kept, and a copy that a protocol can use."""

import dataclasses

import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.setup import plan_editing
from fieldlog.fieldwork.setup.ordered import moved, new_key, put, without
from fieldlog.fieldwork.setup.step_fields import read_step, typed_of_step
from fieldlog.records.setup_plan import SetupPlan

PLAN = catalogue.shipped_plans()["trunk_standing"]
DRAFT = plan_editing.PlanDraft.of(PLAN)


def changed(key, **fields):
    return dataclasses.replace(
        DRAFT,
        parts=tuple(step.model_copy(update=fields) if step.key == key else step for step in DRAFT.parts),
    )


@pytest.mark.parametrize("step", PLAN.steps, ids=lambda step: step.key)
def test_a_step_typed_as_it_stands_is_the_same_step(step):
    typed = typed_of_step(step.kind, step, PLAN.steps)
    assert read_step(step.kind, typed, key=step.key, steps=PLAN.steps) == step


@pytest.mark.parametrize(
    ("kind", "key", "fields", "part"),
    [
        ("reading", "foot_plate", {"low": "80", "high": "0"}, "upside down"),
        ("reading", "foot_plate", {"step": "0"}, "step of the scale"),
        ("reading", "foot_plate", {"step": "200"}, "longer than the scale"),
        ("reading", "foot_plate", {"retest_tolerance": "-1"}, "tolerance at a retest"),
        ("reading", "foot_plate", {"unit": "furlong"}, "one of cm"),
        ("reading", "foot_plate", {"low": "two"}, "is no number"),
        ("reading", "foot_plate", {"vertical": "perhaps"}, "neither yes nor no"),
        ("reading", "foot_plate", {"group": "behind"}, "before or with"),
        ("reading", "foot_plate", {"back_to": "foot plate"}, "goes back to itself"),
        ("reading", "foot_plate", {"back_to": "nowhere"}, "no step 'nowhere'"),
        ("reading", "foot_plate", {"label": " "}, "name the step"),
        ("reading", "foot_plate", {"text": ""}, "what to do"),
        ("choice", "handle", {"options": "down"}, "choices"),
        ("choice", "handle", {"options": "down; down"}, "share one name"),
        ("confirm", "straps", {"safeguard": "luck"}, "range stops, passive trial"),
        ("confirm", "straps", {"optional": "yes"}, "cannot be optional"),
    ],
)
def test_each_fault_of_a_step_is_named_with_its_field(kind, key, fields, part):
    typed = typed_of_step(kind, PLAN.step(key), PLAN.steps) | fields
    with pytest.raises(InputError) as caught:
        read_step(kind, typed, key=key, steps=PLAN.steps)
    assert part in str(caught.value)


def test_faults_of_the_order_are_named_by_step():
    faults = plan_editing.plan_faults
    assert faults(DRAFT) == {}
    assert faults(changed("foot_plate", back_to="foot_plate")) == {"foot_plate": "goes back to itself"}
    assert "not in the plan" in faults(changed("foot_plate", back_to="gone"))["foot_plate"]
    early = DRAFT.with_parts(moved(DRAFT.parts, "coupling", -6))
    assert faults(early)["coupling"] == "goes back to 'Roughly in place', which does not come before it"
    assert "straps checked" in faults(DRAFT.with_parts(without(DRAFT.parts, "straps")))[""]
    assert faults(DRAFT.with_parts(()))[""] == "the plan has no step"


def test_a_faulty_draft_is_not_saved(field):
    with pytest.raises(InputError, match="Foot plate: it goes back to itself"):
        plan_editing.save_draft(field.workspace, changed("foot_plate", back_to="foot_plate"), by="t", why="x")
    assert catalogue.plan(field.workspace, PLAN.id) == PLAN


def test_an_undone_version_keeps_its_number_for_itself(field):
    second = plan_editing.save_draft(field.workspace, changed("foot_plate", low=1.0), by="t", why="x")
    assert second.record.version == 2
    field.workspace.team.undo(SetupPlan.table, PLAN.id, by="t")
    assert catalogue.plan(field.workspace, PLAN.id).version == 1
    third = plan_editing.save_draft(field.workspace, changed("foot_plate", low=3.0), by="t", why="x")
    assert third.record.version == 3
    assert catalogue.plan(field.workspace, PLAN.id, 2).step("foot_plate").low == 1.0
    assert plan_editing.changed_scales(PLAN, third.record) == ("Foot plate",)


def test_a_draft_comes_back_from_its_body_and_a_broken_one_is_named():
    edited = changed("foot_plate", low=1.0)
    assert DRAFT.from_body(edited.to_body()) == edited
    for body in (
        {},
        {"words": {}, "steps": []},
        {"words": edited.to_body()["words"], "steps": [{"kind": "?"}]},
    ):
        with pytest.raises(InputError, match="cannot be read"):
            DRAFT.from_body(body)


def test_a_copy_has_a_name_of_its_own_and_a_protocol_of_its_region_uses_it(field):
    workspace = field.workspace
    with pytest.raises(InputError, match="already"):
        plan_editing.copied_plan(workspace, PLAN, PLAN.name.upper())
    with pytest.raises(InputError, match="needs a name"):
        plan_editing.copied_plan(workspace, PLAN, "  ")
    copy = plan_editing.save_draft(
        workspace, plan_editing.copied_plan(workspace, PLAN, "École 7"), by="t", why="copied"
    ).record
    assert (copy.version, copy.steps) == (1, PLAN.steps)
    with pytest.raises(InputError, match="of the knee"):
        plan_editing.use_plan(workspace, copy.id, catalogue.protocol(workspace, "knee_60_180").name, by="t")
    with pytest.raises(InputError, match="begin with"):
        plan_editing.use_plan(workspace, copy.id, "", by="t")
    trunk = catalogue.protocol(workspace, "trunk_standing_60_120")
    assert plan_editing.use_plan(workspace, copy.id, trunk.name, by="t").record.plan_id == copy.id


def test_keys_of_parts_are_told_apart_and_their_order_is_kept():
    assert new_key("Foot plate", {"foot_plate"}) == "foot_plate_2"
    assert new_key("1. Ölung?", ()) == "step_1_lung"
    assert len(new_key("x" * 90, ())) <= 40
    first, second, *others = PLAN.steps
    assert moved(PLAN.steps, first.key, -1) == PLAN.steps
    assert moved(PLAN.steps, first.key, 1)[:2] == (second, first)
    assert put((first, second), others[0], after=first.key) == (first, others[0], second)
    assert put((first, second), first.model_copy(update={"label": "x"}), after=None)[0].label == "x"
