"""Shipped plans and protocols hold together, and a team's own stand in for them, each version kept."""

import pytest

from fieldlog.errors import NotFoundError, RefusedError
from fieldlog.fieldwork import catalogue
from fieldlog.records.setup_plan import SAFEGUARDS, ConfirmStep, ReadingStep


def test_every_shipped_plan_is_marked_as_common_practice():
    plans = catalogue.shipped_plans()
    assert plans.keys() >= {"trunk_standing", "trunk_seated", "knee", "shoulder_rotation", "ankle", "hip"}
    for plan in plans.values():
        assert plan.source == "common practice"
        assert "local rules" in plan.caution
        assert "not medical advice" in plan.caution


@pytest.mark.parametrize("plan", catalogue.shipped_plans().values(), ids=lambda plan: plan.id)
def test_every_shipped_plan_confirms_the_four_safeguards_each_time(plan):
    assert {step.safeguard for step in plan.safeguards} == set(SAFEGUARDS)
    assert all(step.each_time for step in plan.safeguards)


@pytest.mark.parametrize("plan", catalogue.shipped_plans().values(), ids=lambda plan: plan.id)
def test_in_every_shipped_plan_the_stops_are_locked_before_the_drive_is_powered(plan):
    keys = [step.key for step in plan.steps]
    assert keys[0] == "rig_cleared"
    assert keys.index("range_stops") < keys.index("powered") < keys.index("passive_trial")
    assert keys.index("straps") < keys.index("passive_trial")
    groups = [step.group for step in plan.steps]
    assert groups == sorted(groups)


def test_the_standing_trunk_plan_covers_the_whole_way():
    plan = catalogue.plan(None, "trunk_standing")
    keys = [step.key for step in plan.steps]
    for key in [
        "stop_low",
        "stop_high",
        "tilt_locked",
        "rough_position",
        "axis_height",
        "rig_rotation",
        "coupling",
        "locks",
        "lever_free",
        "powered",
        "belts_open",
        "stance",
        "heel_placement",
        "axis_landmark",
        "foot_plate",
        "thigh_support",
        "lower_knee_pad",
        "upper_knee_pad",
        "seat_pad",
        "pelvic_belt",
        "back_pad",
        "chest_belt",
        "handle",
        "passive_trial",
        "stop_switch",
    ]:
        assert key in keys
    assert {step.key for step in plan.steps if step.optional} == {
        "heel_placement",
        "crest_height",
        "lower_knee_pad",
        "upper_knee_pad",
        "handle",
    }
    assert plan.step("lower_knee_pad").back_to == "thigh_support"
    assert plan.step("axis_landmark").options == ("L5/S1", "L3")


@pytest.mark.parametrize("protocol", catalogue.shipped_protocols().values(), ids=lambda protocol: protocol.id)
def test_every_shipped_protocol_starts_easy_and_names_a_plan_that_exists(protocol):
    plan = catalogue.plan(None, protocol.plan_id)
    assert plan.region == protocol.region
    first = protocol.sets[0]
    assert (first.purpose, first.effort) == ("familiarisation", "submaximal")
    assert first.mode != "eccentric"
    assert "local rules" in protocol.caution
    for planned in protocol.sets:
        if planned.mode == "eccentric":
            assert planned.extra_allowed == 0
    assert protocol.weight_correction == ("none" if protocol.region == "trunk" else "sweep")


def test_ratios_name_numerator_and_denominator():
    protocols = catalogue.shipped_protocols()
    assert protocols["knee_60_180"].ratio_name == "flexion/extension"
    assert protocols["trunk_standing_60_120"].ratio_name == "extension/flexion"
    assert protocols["shoulder_rotation_60_180"].ratio_name == "external rotation/internal rotation"
    assert protocols["knee_isometric_60"].ratio_name is None


def test_an_unknown_plan_names_those_there_are():
    with pytest.raises(NotFoundError, match="trunk_standing"):
        catalogue.plan(None, "elbow")


def with_taller_plate(plan):
    steps = [
        step.model_copy(update={"high": 90.0}) if step.key == "foot_plate" else step for step in plan.steps
    ]
    return plan.model_copy(update={"steps": tuple(steps)})


def test_a_teams_plan_is_the_next_version_and_the_older_ones_stay_readable(field):
    shipped = catalogue.plan(field.workspace, "trunk_standing")
    second = catalogue.save_plan(field.workspace, with_taller_plate(shipped), by="lead").record
    renamed = second.model_copy(update={"name": "Trunk, our way"})
    third = catalogue.save_plan(field.workspace, renamed, by="lead", why="clearer").record
    assert (second.version, third.version) == (2, 3)
    assert catalogue.plan(field.workspace, "trunk_standing").name == "Trunk, our way"
    assert catalogue.plan(field.workspace, "trunk_standing", 2) == second
    assert catalogue.plan(field.workspace, "trunk_standing", 1) == shipped
    with pytest.raises(NotFoundError, match="version 9"):
        catalogue.plan(field.workspace, "trunk_standing", 9)


def test_saving_an_unchanged_plan_adds_no_version(field):
    shipped = catalogue.plan(field.workspace, "knee")
    saved = catalogue.save_plan(field.workspace, shipped.model_copy(update={"name": "Knee"}), by="lead")
    again = catalogue.save_plan(field.workspace, saved.record, by="lead")
    assert again.record.version == saved.record.version == 2


def test_a_plan_cannot_lose_a_safeguard(field):
    shipped = catalogue.plan(field.workspace, "knee")
    bare = tuple(
        step
        for step in shipped.steps
        if not (isinstance(step, ConfirmStep) and step.safeguard == "stop_switch")
    )
    with pytest.raises(RefusedError, match="stop switch"):
        catalogue.save_plan(field.workspace, shipped.model_copy(update={"steps": bare}), by="lead")


def test_a_teams_protocol_stands_in_for_the_shipped_one(field):
    shipped = catalogue.protocol(field.workspace, "knee_60_180")
    own = shipped.model_copy(update={"note": "ours"})
    catalogue.save_protocol(field.workspace, own, by="lead")
    assert catalogue.protocol(field.workspace, "knee_60_180").note == "ours"
    assert catalogue.protocols(field.workspace)["knee_60_180"].version == 2
    assert catalogue.protocol(None, "knee_60_180") == shipped
    with pytest.raises(NotFoundError, match="no-such-plan"):
        catalogue.save_protocol(
            field.workspace, own.model_copy(update={"plan_id": "no-such-plan"}), by="lead"
        )


def test_scales_are_named_with_a_tolerance_for_the_retest():
    for plan in catalogue.shipped_plans().values():
        for step in plan.steps:
            if isinstance(step, ReadingStep):
                assert step.retest_tolerance >= step.step
