"""Setups walked down step by step, each step on disk, and found again at the retest."""

import datetime as dt

import pytest

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.setup import setups, steps
from fieldlog.records.setup import StepTaken
from fieldlog.records.setup_plan import ChoiceStep, ConfirmStep
from fieldlog.records.site import Site
from fieldlog.store.workspace import Workspace

PLAN = catalogue.shipped_plans()["trunk_standing"]
EARLIER = dt.date(2030, 11, 12)


def save(field, taken, *, visit=None, athlete=None, at="09:00", plan=PLAN, side="both"):
    visit = visit or field.visit
    return setups.save_step(
        field.workspace,
        field.store,
        visit,
        athlete_id=(athlete or field.adult).id,
        plan=plan,
        side=side,
        taken=taken,
        by="tester",
        at=field.clock(at, visit.date),
    )


def reading(key, value, why=""):
    return StepTaken(key=key, reading=value, why=why)


def test_every_step_is_on_disk_before_the_next(field):
    save(field, StepTaken(key="rig_cleared", confirmed=True))
    save(field, reading("foot_plate", 41.0), at="09:02")
    with Workspace.open(field.workspace.path) as again:
        store = again.site_named("Boathouse")
        kept = setups.setup_of(store, field.visit, field.adult.id, PLAN, "both")
    assert [step.key for step in kept.record.steps] == ["rig_cleared", "foot_plate"]
    assert kept.record.taken("foot_plate").at == field.clock("09:02")


def test_the_walk_goes_down_the_plan_and_ends(field):
    kept = None
    seen = []
    while (step := steps.next_step(PLAN, kept.record if kept else None)) is not None:
        seen.append(step.key)
        if isinstance(step, ConfirmStep):
            taken = StepTaken(key=step.key, confirmed=True)
        elif isinstance(step, ChoiceStep):
            taken = StepTaken(key=step.key, choice=step.options[0])
        elif step.optional:
            taken = StepTaken(key=step.key)
        else:
            taken = StepTaken(key=step.key, reading=max(step.low, 20.0))
        kept = save(field, taken)
    assert seen == [step.key for step in PLAN.steps]
    assert steps.check_setup(PLAN, kept.record) is kept.record


def test_last_time_is_the_latest_earlier_day_at_any_site(field):
    save(field, reading("foot_plate", 40.0), visit=field.visit_on(EARLIER))
    hall = field.workspace.add_site(Site(id="site02", name="Hall", latitude_deg=50.0, height_m=100.0), by="t")
    later = EARLIER + dt.timedelta(days=60)
    field.store = hall
    elsewhere = setups.save_step(
        field.workspace,
        hall,
        field.visit_on(later),
        athlete_id=field.adult.id,
        plan=PLAN,
        side="both",
        taken=reading("foot_plate", 40.5),
        by="tester",
        at=field.clock("09:00", later),
    )
    last = setups.last_setup(
        field.workspace, field.adult.id, "trunk_standing", "both", before=field.visit.date
    )
    assert last.record == elsewhere.record
    assert setups.last_setup(field.workspace, field.adult.id, "knee", "both", before=field.visit.date) is None
    assert (
        setups.last_setup(field.workspace, field.adult.id, "trunk_standing", "both", before=EARLIER) is None
    )


def test_a_reading_outside_the_tolerance_wants_a_word_why(field):
    save(field, reading("foot_plate", 40.0), visit=field.visit_on(EARLIER))
    with pytest.raises(RefusedError, match=r"42.0 cm is more than 0.5 cm from last time's 40.0 cm"):
        save(field, reading("foot_plate", 42.0))
    assert setups.setup_of(field.store, field.visit, field.adult.id, PLAN, "both") is None
    kept = save(field, reading("foot_plate", 42.0, why="new shoes"))
    assert kept.record.taken("foot_plate").why == "new shoes"


@pytest.mark.parametrize(
    ("taken", "part"),
    [
        (reading("foot_plate", 400.0), "off the scale"),
        (reading("no_such_step", 4.0), "no step"),
        (StepTaken(key="foot_plate", confirmed=True), "a confirm was given for a reading step"),
        (StepTaken(key="axis_landmark", choice="T12"), "no choice here"),
        (StepTaken(key="foot_plate"), "cannot be passed over"),
        (StepTaken(key="stop_switch"), "cannot be passed over"),
    ],
)
def test_a_step_that_does_not_fit_the_plan_is_named_and_not_kept(field, taken, part):
    with pytest.raises(InputError, match=part):
        save(field, taken)
    assert setups.setup_of(field.store, field.visit, field.adult.id, PLAN, "both") is None


def test_a_step_that_does_not_come_right_leads_one_step_back(field):
    save(field, reading("foot_plate", 41.0))
    save(field, reading("thigh_support", 17))
    kept = save(field, reading("lower_knee_pad", 4))
    back, key = steps.without_failed(
        kept.record, PLAN, "lower_knee_pad", by="tester", at=field.clock("09:05")
    )
    assert key == "thigh_support"
    assert [step.key for step in back.steps] == ["foot_plate"]


def test_the_rig_stands_as_the_athletes_before_have_left_it(field):
    save(field, reading("foot_plate", 41.0), at="09:00")
    save(field, reading("seat_pad", 6.0), at="09:01")
    save(field, reading("foot_plate", 38.5), athlete=field.minor, at="09:30")
    standing = setups.standing_on_rig(field.store, field.visit)
    assert standing.reading("foot_plate") == 38.5
    assert standing.reading("seat_pad") == 6.0
    assert setups.setup_on_rig(field.store, field.visit).record.athlete_id == field.minor.id


def test_the_dial_in_list_goes_from_the_athlete_before_to_last_time(field):
    save(field, reading("foot_plate", 41.0), visit=field.visit_on(EARLIER))
    save(field, reading("foot_plate", 38.5), athlete=field.minor)
    line = setups.dial_in_today(
        field.workspace, field.store, field.visit, athlete_id=field.adult.id, plan=PLAN, side="both"
    )[0]
    assert (line.key, line.last, line.now, line.text) == ("foot_plate", 41.0, 38.5, "+2.5 cm ↑")


def test_an_unchanged_retest_is_accepted_step_by_step_without_typing(field):
    save(field, reading("foot_plate", 41.0), visit=field.visit_on(EARLIER))
    save(field, StepTaken(key="axis_landmark", choice="L5/S1"), visit=field.visit_on(EARLIER))
    last = setups.last_setup(field.workspace, field.adult.id, PLAN.id, "both", before=field.visit.date).record
    plate = steps.accepted(PLAN.step("foot_plate"), 41.0)
    assert save(field, plate).record.reading("foot_plate") == 41.0
    landmark = steps.accepted(PLAN.step("axis_landmark"), None, last.taken("axis_landmark"))
    assert landmark.choice == "L5/S1"
    assert steps.accepted(PLAN.step("locks"), None).confirmed
    with pytest.raises(InputError, match="no reading to accept"):
        steps.accepted(PLAN.step("seat_pad"), None)


def test_an_old_setup_keeps_its_version_when_the_plan_changes(field):
    save(field, reading("foot_plate", 41.0), visit=field.visit_on(EARLIER))
    steps = tuple(
        step.model_copy(update={"low": 10.0}) if step.key == "foot_plate" else step for step in PLAN.steps
    )
    newer = catalogue.save_plan(
        field.workspace, PLAN.model_copy(update={"steps": steps}), by="lead", why="new scale"
    ).record
    kept = save(field, reading("foot_plate", 55.0), plan=newer)
    assert kept.record.plan_version == 2
    last = setups.last_setup(field.workspace, field.adult.id, PLAN.id, "both", before=field.visit.date)
    assert last.record.plan_version == 1
    line = next(
        line
        for line in setups.dial_in_today(
            field.workspace, field.store, field.visit, athlete_id=field.adult.id, plan=newer, side="both"
        )
        if line.key == "foot_plate"
    )
    assert line.last is None
    assert "version 1" in line.note
