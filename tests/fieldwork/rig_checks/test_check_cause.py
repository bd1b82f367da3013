"""Where to look when a check fails, on a simulated rig with one known slip at a time."""

import copy
import re
from dataclasses import replace

import pytest

from fieldlog.fieldwork.rig_checks.check_judge import judge
from fieldlog.records.check_entry import CheckEntry
from tests.simulation.rig import Place, SimulatedRig, check_entry

RIG = SimulatedRig()
SEEDS = range(8)


def causes(body):
    verdict = judge(CheckEntry.model_validate(body))
    assert verdict["verdict"] in ("fail", "conditional fail")
    return [
        each.removeprefix("likely cause: ") for each in verdict["remarks"] if each.startswith("likely cause")
    ]


def check(rig=RIG, seed=0, **more):
    header = {"name": "rig A", "stage": "opening", "at": "2031-05-04T08:14:00+02:00", "by": "tester 1"}
    return check_entry(rig, Place(60.2, 4.0), **header, seed=seed, **more)


def edited(body, change, when=lambda point, index: True):
    body = copy.deepcopy(body)
    for index, point in enumerate(body["torque"]):
        if when(point, index):
            change(point)
    return body


@pytest.mark.parametrize("seed", SEEDS)
def test_a_lever_typed_too_short_is_all_points_by_one_percentage(seed):
    # 0.500 m typed as 0.400 gives +25 %.
    found = causes(edited(check(seed=seed), lambda point: point.update(arm_m=0.4)))
    assert len(found) == 1
    assert re.match(r"every point is off by one percentage, \+2[45]\.\d %", found[0])
    assert re.search(r"a lever of 0\.(49|50)\d m instead of 0\.400 m", found[0])


@pytest.mark.parametrize("seed", SEEDS)
def test_a_rig_that_reads_low_throughout_is_one_percentage(seed):
    found = causes(check(replace(RIG, slope_up=0.95, slope_down=0.95), seed))
    assert len(found) == 1
    assert re.match(r"every point is off by one percentage, -(4\.[89]|5\.[012]) %", found[0])


@pytest.mark.parametrize("seed", SEEDS)
def test_a_wrong_tare_is_all_points_by_one_torque(seed):
    body = check(seed=seed)
    for key in body["tare"]:
        body["tare"][key] = round(body["tare"][key] - 3.0, 1)
    found = causes(body)
    assert len(found) == 1
    assert re.match(r"every point is off by one torque, \+(2\.[89]|3\.[012])", found[0])
    assert "tare" in found[0]


def test_a_hanger_counted_twice_is_named():
    found = causes(check() | {"hanger_kg": 1.0})
    assert len(found) == 1
    assert "the hanger seems to be in the tare and in hanger_kg" in found[0]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_mislabelled_mass_is_one_mass_only_with_what_it_reads_as(seed):
    body = edited(
        check(seed=seed), lambda point: point.update(mass_kg=12.0), lambda p, _: p["mass_kg"] == 10.0
    )
    found = causes(body)
    assert len(found) == 1
    assert re.match(r"one mass only: the 12 kg one reads as (9\.9|10\.0)", found[0])


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(
    ("rig", "said"),
    [
        (replace(RIG, slope_down=0.94), r"one direction only: down reads -(5\.[89]|6\.[012]) %"),
        (replace(RIG, slope_up=1.06), r"one direction only: up reads \+(5\.[89]|6\.[012]) %"),
    ],
)
def test_one_direction_by_a_percentage(rig, said, seed):
    found = causes(check(rig, seed))
    assert len(found) == 1
    assert re.match(said, found[0])


@pytest.mark.parametrize("seed", SEEDS)
def test_one_direction_by_a_torque_is_its_tare(seed):
    body = check(seed=seed)
    for key in ("down_before_nm", "down_after_nm"):
        body["tare"][key] += 4.0
    found = causes(body)
    assert len(found) == 1
    assert found[0].startswith("one direction only: down is off by -")
    assert "read the tare down again" in found[0]


@pytest.mark.parametrize("seed", SEEDS)
def test_unloading_only_is_a_lever_not_at_rest(seed):
    body = edited(
        check(seed=seed),
        lambda point: point.update(reading_nm=point["reading_nm"] + 2.5),
        lambda point, _: point["run"] == "unloading",
    )
    found = causes(body)
    assert len(found) == 1
    assert found[0].startswith("unloading only")


@pytest.mark.parametrize("seed", SEEDS)
def test_the_first_point_only_is_a_missing_preload(seed):
    body = edited(
        check(seed=seed),
        lambda point: point.update(reading_nm=point["reading_nm"] - 2.5),
        lambda _, index: index == 0,
    )
    found = causes(body)
    assert len(found) == 1
    assert found[0].startswith("the first point only")


def test_readings_with_the_wrong_sign_are_named_by_field():
    body = edited(
        check(),
        lambda point: point.update(reading_nm=-point["reading_nm"] - 14.4),
        lambda point, _: point["direction"] == "down",
    )
    found = causes(body)
    assert found[0].startswith("torque[6], torque[7]")
    assert "opposite sign" in found[0]


def test_errors_without_a_pattern_get_no_invented_cause():
    shifts = iter([3.0, -2.5, 0.5, 2.0, -3.0, 0.0, -2.0, 3.0, 1.0, -1.0, 2.5, -3.0])
    body = edited(check(), lambda point: point.update(reading_nm=point["reading_nm"] + next(shifts)))
    assert causes(body) == [
        "no single cause explains the errors: check lever, masses and tare one by one, then repeat"
    ]


def test_one_torque_alone_cannot_tell_percentage_from_offset():
    body = edited(check(masses_kg=(20.0,)), lambda point: point.update(reading_nm=point["reading_nm"] + 5.0))
    found = causes(body)
    assert len(found) == 2
    assert any("a second mass tells them apart" in each for each in found)


def test_a_sound_check_names_no_cause():
    verdict = judge(CheckEntry.model_validate(check()))
    assert not any("likely cause" in each for each in verdict["remarks"])


def test_a_wandering_zero_is_spoken_of():
    verdict = judge(CheckEntry.model_validate(check(replace(RIG, drift_nm=1.2))))
    assert verdict["zero"]["verdict"] == "fail"
    assert any("the zero moved during the check" in each for each in verdict["remarks"])
