"""A walk down a plan: every step on disk at once, the record written when the walk is whole or left."""

import pytest

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.drafts import Drafts
from fieldlog.fieldwork.setup import walk as walks
from fieldlog.fieldwork.setup.setups import setup_of, standing_on_rig
from fieldlog.fieldwork.setup.steps import next_step
from fieldlog.records.setup import Setup, StepTaken
from fieldlog.records.setup_plan import ChoiceStep, ConfirmStep
from fieldlog.store.workspace import Workspace

PLAN = catalogue.shipped_plans()["trunk_standing"]


def answer(step):
    if isinstance(step, ConfirmStep):
        return StepTaken(key=step.key, confirmed=True)
    if isinstance(step, ChoiceStep):
        return StepTaken(key=step.key, choice=step.options[0])
    return StepTaken(key=step.key) if step.optional else StepTaken(key=step.key, reading=max(step.low, 20.0))


@pytest.fixture
def place(field):
    return walks.WalkPlace(field.workspace, field.store, field.visit, field.adult.id, PLAN, "both")


def walked(field, place, steps, start=None):
    walk = start or walks.take_up_walk(place)
    for _ in range(steps):
        step = next_step(PLAN, walk.setup)
        walk = walks.take_step(place, walk, answer(step), by="t", at=field.clock("09:00"))
    return walk


def bytes_written(field):
    return (field.store.path / "active.jsonl").stat().st_size


def test_a_killed_program_loses_no_step(field, place):
    walked(field, place, 7)
    with Workspace.open(field.workspace.path) as again:
        store = again.site_named("Boathouse")
        there = walks.WalkPlace(again, store, field.visit, field.adult.id, PLAN, "both")
        taken_up = walks.take_up_walk(there)
        assert [step.key for step in taken_up.setup.steps] == [step.key for step in PLAN.steps[:7]]
        assert not taken_up.is_kept


def test_a_setup_costs_a_few_revisions_and_not_one_a_step(field, place):
    before = bytes_written(field)
    walk = walked(field, place, len(PLAN.steps))
    kept = walks.keep_walk(place, walk, by="t")
    assert len(kept.record.steps) == len(PLAN.steps)
    assert len(at_site(field.store, Setup).history(kept.record.id)) == 3
    assert bytes_written(field) - before < 15_000
    assert Drafts(field.workspace.path).load(place.draft) is None


def test_from_the_first_step_on_everybody_sees_that_the_rig_is_being_changed(field, place):
    walk = walked(field, place, 1)
    assert walk.is_kept
    assert standing_on_rig(field.store, field.visit).athlete_id == field.adult.id


def test_an_undo_of_the_record_takes_one_step_back(field, place):
    kept = walks.keep_walk(place, walked(field, place, len(PLAN.steps)), by="t")
    field.store.undo(Setup.table, kept.record.id, by="t")
    assert (
        len(setup_of(field.store, field.visit, field.adult.id, PLAN, "both").record.steps)
        == len(PLAN.steps) - 1
    )


def test_the_last_step_is_taken_back_on_disk_too(field, place):
    walk = walks.walk_again(place, walked(field, place, 5))
    assert len(walk.setup.steps) == 4
    assert len(walks.take_up_walk(place).setup.steps) == 4
    while walk.earlier is not None:
        walk = walks.walk_again(place, walk)
    assert Drafts(field.workspace.path).load(place.draft) is None
    assert walks.take_up_walk(place).is_kept


def test_a_walk_taken_up_again_goes_on_and_opens_its_last_step_on_undo(field, place):
    walked(field, place, 5)
    walk = walks.take_up_walk(place)
    assert len(walk.earlier.setup.steps) == 4
    further = walked(field, place, 1, start=walk)
    assert len(further.setup.steps) == 6
    kept = walks.keep_walk(place, further, by="t")
    assert walks.keep_walk(place, walks.take_up_walk(place), by="t") is None
    assert len(kept.record.steps) == 6


def test_a_step_that_does_not_come_right_is_open_again_on_disk(field, place):
    walk = walked(field, place, 9)
    walk, target = walks.go_back(place, walk, "coupling", by="t", at=field.clock("09:05"))
    assert target == "rough_position"
    assert [step.key for step in walks.take_up_walk(place).setup.steps] == [
        step.key for step in PLAN.steps[:5]
    ]


def test_what_does_not_fit_is_refused_and_leaves_the_draft_as_it_is(field, place):
    walk = walked(field, place, 3)
    with pytest.raises(InputError, match="off the scale"):
        walks.take_step(
            place, walk, StepTaken(key="foot_plate", reading=900), by="t", at=field.clock("09:05")
        )
    assert len(walks.take_up_walk(place).setup.steps) == 3


def test_a_reading_off_last_time_wants_a_word_in_the_walk_too(field, place):
    import datetime as dt

    earlier = field.visit_on(dt.date(2030, 11, 12))
    then = walks.WalkPlace(field.workspace, field.store, earlier, field.adult.id, PLAN, "both")
    taken = StepTaken(key="foot_plate", reading=41.0)
    walks.take_step(then, walks.take_up_walk(then), taken, by="t", at=field.clock("09:00", earlier.date))
    walk = walked(field, place, 2)
    off = StepTaken(key="foot_plate", reading=36.0)
    with pytest.raises(RefusedError, match="from last time"):
        walks.take_step(place, walk, off, by="t", at=field.clock("09:05"))
    why = off.model_copy(update={"why": "new shoes"})
    kept = walks.keep_walk(place, walks.take_step(place, walk, why, by="t", at=field.clock("09:05")), by="t")
    assert kept.revision.why == "new shoes"


@pytest.mark.parametrize(
    "body",
    [{}, {"setup": 3, "seen": "x"}, {"setup": {"id": "?"}, "seen": None}, {"setup": {}, "seen": ["x"]}],
)
def test_a_draft_that_makes_no_sense_is_left_out(field, place, body):
    walked(field, place, 1)
    Drafts(field.workspace.path).save(place.draft, body)
    assert len(walks.take_up_walk(place).setup.steps) == 1


def test_two_changes_of_one_setup_are_a_conflict_and_never_merged(field, place):
    walk = walked(field, place, 3)
    seen = at_site(field.store, Setup).get(walk.setup.id)
    other = seen.record.model_copy(update={"by": "another laptop"})
    at_site(field.store, Setup).save(other, by="other", seen=seen.revision)
    walks.keep_walk(place, walks.take_up_walk(place), by="t")
    assert [conflict.document for conflict in field.store.conflicts()] == [walk.setup.id]
