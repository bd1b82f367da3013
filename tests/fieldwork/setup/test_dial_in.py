"""What to change for the next athlete: last time, now on the rig, the way between, the biggest first."""

import datetime as dt

import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork.catalogue import shipped_plans
from fieldlog.fieldwork.setup.dial_in import check_reading, dial_in, no_longer_compares, outside_tolerance
from fieldlog.records.setup import Setup, StepTaken

PLAN = shipped_plans()["trunk_standing"]
DAY = dt.datetime.fromisoformat("2031-05-04T09:00:00+02:00")


def setup(version=1, plan_id="trunk_standing", **readings):
    steps = tuple(StepTaken(key=key, reading=reading) for key, reading in readings.items())
    return Setup(
        id="s",
        visit_id="v",
        athlete_id="a",
        side="both",
        plan_id=plan_id,
        plan_version=version,
        at=DAY,
        by="t",
        steps=steps,
    )


def by_key(lines):
    return {line.key: line for line in lines}


def test_each_scale_says_last_now_and_the_change_in_its_own_unit():
    lines = dial_in(
        PLAN,
        setup(foot_plate=38.5, thigh_support=16, seat_pad=7.0, back_pad=30.0),
        setup(foot_plate=42.0, thigh_support=17, seat_pad=6.5, back_pad=30.0),
    )
    found = by_key(lines)
    assert found["foot_plate"].text == "+3.5 cm ↑"
    assert (found["foot_plate"].last, found["foot_plate"].now, found["foot_plate"].target) == (
        42.0,
        38.5,
        42.0,
    )
    assert found["thigh_support"].text == "+1 hole ↑"
    assert found["seat_pad"].text == "−0.5 cm"
    assert found["back_pad"].unchanged
    assert found["back_pad"].text == "unchanged"


def test_the_biggest_change_for_its_scale_comes_first_and_the_unchanged_last():
    lines = dial_in(
        PLAN,
        setup(foot_plate=38.5, thigh_support=16, seat_pad=7.0, back_pad=30.0, stop_high=80),
        setup(foot_plate=42.0, thigh_support=17, seat_pad=6.5, back_pad=30.0, stop_high=80),
    )
    with_target = [line.key for line in lines if line.target is not None]
    assert with_target == ["foot_plate", "thigh_support", "seat_pad", "stop_high", "back_pad"]


def test_what_nobody_has_dialled_today_is_shown_as_the_value_to_go_to():
    line = dial_in(PLAN, None, setup(foot_plate=42.0))[0]
    assert (line.key, line.now, line.change, line.text) == ("foot_plate", None, None, "to 42.0 cm")


def test_a_new_athlete_gets_starting_values_and_no_last():
    line = dial_in(PLAN, setup(foot_plate=38.5), None, starting={"foot_plate": 40.0})[0]
    assert (line.key, line.last, line.target, line.text) == ("foot_plate", None, 40.0, "+1.5 cm ↑")


def test_body_measures_are_no_scales_to_dial():
    assert "crest_height" not in by_key(dial_in(PLAN, None, setup(crest_height=101.0)))


def test_readings_of_another_plan_are_not_taken_for_this_one():
    line = by_key(dial_in(PLAN, setup(plan_id="trunk_seated", back_pad=20.0), setup(back_pad=30.0)))[
        "back_pad"
    ]
    assert line.now is None


def newer_plan(**change):
    steps = tuple(step.model_copy(update=change) if step.key == "foot_plate" else step for step in PLAN.steps)
    return PLAN.model_copy(update={"version": 2, "steps": steps})


@pytest.mark.parametrize(
    ("change", "compares"),
    [
        ({"high": 95.0}, True),
        ({"text": "clearer words"}, True),
        ({"unit": "mm"}, False),
        ({"low": 10.0}, False),
        ({"landmark": "third lumbar vertebra"}, False),
    ],
)
def test_after_a_change_of_the_plan_only_readings_on_the_same_scale_compare(change, compares):
    plan = newer_plan(**change)
    old = setup(version=1, foot_plate=42.0, seat_pad=6.5)
    line = by_key(dial_in(plan, None, old, last_plan=PLAN))["foot_plate"]
    assert (line.last is not None) is compares
    assert bool(line.note) is not compares
    assert ("Foot plate" in no_longer_compares(plan, old, PLAN)) is not compares
    assert "Seat pad" not in no_longer_compares(plan, old, PLAN)


def test_without_the_old_version_nothing_compares_and_it_says_so():
    plan = newer_plan(text="clearer words")
    old = setup(version=1, foot_plate=42.0)
    line = by_key(dial_in(plan, None, old))["foot_plate"]
    assert line.last is None
    assert "version 1" in line.note
    assert no_longer_compares(plan, old, None) == ("Foot plate",)


@pytest.mark.parametrize(
    ("reading", "part"),
    [
        (80.5, "off the scale, which runs from 0.0 cm to 80.0 cm"),
        (-1.0, "−1.0 cm"),
        (float("nan"), "no reading"),
    ],
)
def test_a_reading_off_its_scale_is_named_with_the_scale(reading, part):
    with pytest.raises(InputError, match=part):
        check_reading(PLAN.step("foot_plate"), reading)


def test_holes_are_whole_and_the_ends_of_the_scale_belong_to_it():
    assert check_reading(PLAN.step("foot_plate"), 80.0) == 80.0
    assert check_reading(PLAN.step("foot_plate"), 3.556) == 3.556
    with pytest.raises(InputError, match="between two holes"):
        check_reading(PLAN.step("thigh_support"), 16.5)


def test_the_retest_tolerance_includes_its_limit():
    step = PLAN.step("foot_plate")
    assert not outside_tolerance(step, None, 55.0)
    assert not outside_tolerance(step, 41.2, 41.7)
    assert outside_tolerance(step, 41.2, 41.8)
