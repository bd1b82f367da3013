"""A new athlete's starting values: the crest rule, and the line through the team's own setups."""

import numpy as np
import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork.catalogue import shipped_plans
from fieldlog.fieldwork.setup.starting_values import CREST_TO_JOINT_CM, crest_rule, from_own_setups

PLATE = shipped_plans()["trunk_standing"].step("foot_plate")


def test_the_crest_rule_lies_within_one_to_one_and_a_half_inches():
    """Check value: common practice."""
    assert 1.0 * 2.54 <= CREST_TO_JOINT_CM <= 1.5 * 2.54


def test_the_plate_brings_the_joint_level_with_the_axis():
    value = crest_rule(PLATE, axis_height_cm=120.0, crest_height_cm=103.0)
    assert value.reading == 20.5
    assert 20.5 + 103.0 - CREST_TO_JOINT_CM == 120.0
    assert "by eye" in value.confirm
    assert "common practice" in value.text
    assert "taken to show 0" in value.text


def test_a_scale_that_does_not_start_at_the_floor_is_allowed_for():
    plate = PLATE.model_copy(update={"at_floor": 6.0})
    value = crest_rule(plate, axis_height_cm=120.0, crest_height_cm=103.0)
    assert value.reading == 26.5
    assert "taken to show" not in value.text


@pytest.mark.parametrize(
    ("axis", "crest", "landmark", "part"),
    [
        (120.0, 103.0, "L3", "stated for L5/S1"),
        (1.2, 103.0, "L5/S1", "axis height"),
        (120.0, 40.5, "L5/S1", "crest height"),
        (float("nan"), 103.0, "L5/S1", "axis height"),
        (70.0, 103.0, "L5/S1", "off the scale"),
    ],
)
def test_the_crest_rule_refuses_what_it_cannot_answer(axis, crest, landmark, part):
    with pytest.raises(InputError, match=part):
        crest_rule(PLATE, axis_height_cm=axis, crest_height_cm=crest, landmark=landmark)


def own_setups(n, scatter_cm=0.6, seed=4):
    random = np.random.default_rng(seed)
    crest = random.normal(100, 6, n)
    return crest, 130 - crest + 3.5 + random.normal(0, scatter_cm, n)


def test_ten_athletes_are_enough_and_nine_are_not():
    crest, readings = own_setups(10)
    value, _ = from_own_setups(PLATE, crest, readings, 100.0)
    assert value.reading == pytest.approx(33.5, abs=1.0)
    assert value.text.endswith("from 10 setups")
    refused, reason = from_own_setups(PLATE, crest[:9], readings[:9], 100.0)
    assert refused is None
    assert reason.startswith("9 of 10")


def test_one_mistyped_setup_does_not_move_the_value():
    crest, readings = own_setups(31)
    straight, _ = from_own_setups(PLATE, crest, readings, 101.0)
    readings = readings.copy()
    readings[5] = 79.0
    bent, _ = from_own_setups(PLATE, crest, readings, 101.0)
    assert bent.reading == pytest.approx(straight.reading, abs=0.5)
    assert bent.half_width < 2 * straight.half_width


def test_nothing_is_offered_where_height_says_nothing():
    random = np.random.default_rng(8)
    value, reason = from_own_setups(PLATE, random.normal(100, 6, 30), random.normal(33, 4, 30), 100.0)
    assert value is None
    assert "spread" in reason


def test_nothing_is_offered_beyond_the_heights_seen():
    crest, readings = own_setups(20)
    value, reason = from_own_setups(PLATE, crest, readings, 135.0)
    assert value is None
    assert "outside" in reason


def test_the_text_reads_as_a_value_with_its_interval():
    crest, readings = own_setups(31)
    value, _ = from_own_setups(PLATE, crest, readings, 100.0)
    assert value.text == f"{value.reading:.1f} ± {value.half_width:.1f} cm, from 31 setups"
