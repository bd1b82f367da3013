"""What only several sets of a day give: who brakes whom, torque over speed, and weight left in the figures."""

import pytest

from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.results.across_sets import (
    Peak,
    across_sets,
    control_ratios,
    speed_curves,
    weight_tell_tales,
)
from fieldlog.fieldwork.results.sets import sets_of
from fieldlog.fieldwork.visit.visits import find_visit
from fieldlog.records.base import new_id
from fieldlog.records.effort_set import EffortSet
from fieldlog.store.workspace import Workspace

KNEE = {"up": "flexion", "down": "extension"}


@pytest.fixture
def day(sample: Workspace):
    store = sample.site_named("Tarn academy")
    visit = find_visit(store).record
    athlete = athlete_named(sample, "T04").record
    return sample, store, visit, athlete.id


@pytest.fixture
def one(day) -> EffortSet:
    """A set of the right knee at 60°/s, from which others are made."""
    _, store, visit, athlete_id = day
    return next(kept.record for kept in sets_of(store, visit.id, athlete_id) if kept.record.side == "right")


def like(
    record: EffortSet, *, gravity: str | None = None, cutoff_hz: float | None = None, **changes
) -> EffortSet:
    recipe = dict(record.measures["recipe"])
    recipe |= {} if gravity is None else {"gravity": gravity}
    recipe |= {} if cutoff_hz is None else {"cutoff_hz": cutoff_hz}
    measures = {**record.measures, "recipe": recipe}
    return record.model_copy(update={"id": new_id(), "measures": measures, **changes})


def peaks(record: EffortSet, up_nm: float, down_nm: float, against: str = "", **changes) -> list[Peak]:
    made = like(record, **changes)
    return [Peak(made, "up", up_nm, against), Peak(made, "down", down_nm, against)]


def test_the_muscle_that_brakes_stands_over_the_muscle_that_moves_the_lever(one: EffortSet) -> None:
    # Lever towards extension: extensors move it with 200, flexors brake it with 150.
    found = control_ratios([*peaks(one, 110.0, 200.0), *peaks(one, 240.0, 150.0, mode="eccentric")], KNEE)
    by_name = {ratio.name: ratio.ratio_pct for ratio in found}
    assert by_name == {
        "flexion eccentric/extension concentric": pytest.approx(75.0),
        "extension eccentric/flexion concentric": pytest.approx(100 * 240 / 110),
    }


@pytest.mark.parametrize("changes", [{"speed_deg_s": 120.0}, {"side": "left"}])
def test_another_speed_or_side_is_no_partner(one: EffortSet, changes: dict) -> None:
    ecc = peaks(one, 240.0, 150.0, mode="eccentric")
    assert control_ratios([*peaks(one, 110.0, 200.0, **changes), *ecc], KNEE) == ()


def test_the_partner_is_of_the_same_batch_where_there_is_one(one: EffortSet) -> None:
    other = peaks(one, 1.0, 1.0, batch_id="another", at=one.at.replace(hour=23))
    ecc = peaks(one, 240.0, 150.0, mode="eccentric")
    ratio = control_ratios([*other, *peaks(one, 110.0, 200.0), *ecc], KNEE)[0]
    assert ratio.ratio_pct == pytest.approx(75.0)
    alone = control_ratios([*peaks(one, 110.0, 200.0, batch_id="another"), *ecc], KNEE)[0]
    assert alone.ratio_pct == pytest.approx(75.0)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"gravity": "none"}, "weight corrected only once"),
        ({"cutoff_hz": 8.0}, "another recipe (low-pass)"),
        ({"rig_id": "another"}, "on two rigs"),
        ({"against": "poor data"}, "poor data"),
    ],
)
def test_figures_taken_in_two_ways_give_no_ratio_and_say_why(one: EffortSet, changes: dict, why: str) -> None:
    ecc = peaks(one, 240.0, 150.0, mode="eccentric", **changes)
    for ratio in control_ratios([*peaks(one, 110.0, 200.0), *ecc], KNEE):
        assert (ratio.ratio_pct, ratio.against) == (None, why)


def test_torque_against_the_effort_gives_no_ratio(one: EffortSet) -> None:
    ecc = peaks(one, 240.0, 150.0, mode="eccentric")
    ratio = control_ratios([*peaks(one, 110.0, -3.0), *ecc], KNEE)[0]
    assert ratio.ratio_pct is None
    assert "no torque" in ratio.against


def speeds(record: EffortSet, figures: dict[float, tuple[float, float]], **changes) -> list[Peak]:
    return [
        peak
        for speed, (up_nm, down_nm) in figures.items()
        for peak in peaks(record, up_nm, down_nm, speed_deg_s=speed, **changes)
    ]


THREE = {60.0: (110.0, 200.0), 180.0: (80.0, 140.0), 300.0: (60.0, 100.0)}


def test_three_speeds_give_a_table_and_a_curve_that_ends_with_them(one: EffortSet) -> None:
    curves = {curve.name: curve for curve in speed_curves(speeds(one, THREE), KNEE)}
    extension = curves["extension"]
    assert [(peak.signed_speed_deg_s, peak.torque_nm) for peak in extension.points] == [
        (60.0, 200.0),
        (180.0, 140.0),
        (300.0, 100.0),
    ]
    assert extension.curve.at(180.0) == pytest.approx(140.0)
    assert 140.0 < extension.curve.at(120.0) < 200.0
    assert extension.curve.at(59.0) is None
    assert extension.curve.at(301.0) is None


def test_two_speeds_give_none(one: EffortSet) -> None:
    assert speed_curves(speeds(one, {60.0: (110.0, 200.0), 180.0: (80.0, 140.0)}), KNEE) == ()


def test_eccentric_speeds_stand_with_the_same_muscles_on_the_other_side_of_zero(one: EffortSet) -> None:
    both = [
        *speeds(one, {60.0: (110.0, 200.0), 180.0: (80.0, 140.0)}),
        *peaks(one, 240.0, 150.0, mode="eccentric"),
    ]
    curves = {curve.name: curve for curve in speed_curves(both, KNEE)}
    first = curves["extension"].points[0]
    assert (first.signed_speed_deg_s, first.torque_nm) == (-60.0, 240.0)
    assert curves["flexion"].curve.torques_nm == (150.0, 110.0, 80.0)


def test_holds_are_no_speed(one: EffortSet) -> None:
    held = peaks(one, 120.0, 220.0, speed_deg_s=0.0, mode="isometric")
    assert speed_curves([*speeds(one, {60.0: (110.0, 200.0), 180.0: (80.0, 140.0)}), *held], KNEE) == ()


def test_a_set_that_is_not_to_be_used_is_listed_and_no_part_of_the_curve(one: EffortSet) -> None:
    bad = peaks(one, 70.0, 500.0, "poor data", speed_deg_s=240.0)
    curve = speed_curves([*speeds(one, THREE), *bad], KNEE)[0]
    assert len(curve.points) == 4
    assert 240.0 not in curve.curve.speeds_deg_s
    few = speed_curves([*speeds(one, {60.0: (110.0, 200.0), 180.0: (80.0, 140.0)}), *bad], KNEE)[0]
    assert few.curve is None
    assert few.against == "fewer than 3 usable speeds: poor data at 240°/s"


def test_one_speed_without_the_weight_gives_no_curve(one: EffortSet) -> None:
    two = {speed: THREE[speed] for speed in (60.0, 180.0)}
    mixed = [*speeds(one, two), *speeds(one, {300.0: THREE[300.0]}, gravity="none")]
    curve = speed_curves(mixed, KNEE)[0]
    assert (curve.curve, curve.against) == (None, "weight corrected only once")


def uncorrected(record: EffortSet, weight_nm: float, **changes) -> list[Peak]:
    """The same muscles over three speeds, with the weight of the limb left in both directions."""
    corrected = {30.0: (100.0, 200.0), 120.0: (75.0, 150.0), 240.0: (50.0, 100.0)}
    left_in = {v: (up + weight_nm, down - weight_nm) for v, (up, down) in corrected.items()}
    return speeds(record, left_in, **changes)


def test_weight_left_in_shows_in_a_ratio_that_climbs_over_speed(one: EffortSet) -> None:
    (remark,) = weight_tell_tales(uncorrected(one, 14.0, gravity="none"), KNEE, "knee")
    assert (remark.code, remark.level) == ("gravity_missing", "note")
    assert remark.text.startswith("right: flexion over extension climbs 21 % from 30 to 240°/s")


@pytest.mark.parametrize(
    ("weight_nm", "gravity", "region"),
    [(3.0, "none", "knee"), (14.0, "sweep", "knee"), (14.0, "none", "shoulder"), (14.0, "none", "other")],
)
def test_nothing_is_told_of_a_flat_ratio_a_weighed_limb_or_an_unknown_position(
    one: EffortSet, weight_nm: float, gravity: str, region: str
) -> None:
    assert weight_tell_tales(uncorrected(one, weight_nm, gravity=gravity), KNEE, region) == ()


def test_the_sample_day_tells_no_tale_and_has_too_few_speeds(day) -> None:
    workspace, store, visit, athlete_id = day
    (found,) = across_sets(workspace, store, visit, athlete_id)
    assert (found.plan_id, found.control_ratios, found.speed_curves, found.remarks) == ("knee", (), (), ())


def test_an_eccentric_set_of_the_day_is_read_with_its_partner_and_its_curve(day, one: EffortSet) -> None:
    workspace, store, visit, athlete_id = day
    figures = {
        way: {
            **one.measures["set"][way],
            "best_peak_torque_nm": 1.2 * one.measures["set"][way]["best_peak_torque_nm"],
        }
        for way in ("up", "down")
    }
    measures = {**one.measures, "set": {**one.measures["set"], **figures}}
    braked = one.model_copy(update={"id": new_id(), "mode": "eccentric", "number": 9, "measures": measures})
    at_site(store, EffortSet).save(braked, by="tester 1")
    (found,) = across_sets(workspace, store, visit, athlete_id)
    assert [ratio.ratio_pct for ratio in found.control_ratios] == [pytest.approx(120.0)] * 2
    assert [len(curve.points) for curve in found.speed_curves] == [3, 3]
    assert all(curve.curve for curve in found.speed_curves)
    others = across_sets(workspace, store, visit, "somebody")
    assert others == ()
