"""The guided check as data: what is asked, in which order, and what the answers become."""

import datetime as dt

import pytest

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.rig_checks.check_plan import CheckPlan, asks_of, plan_from, read_lever, read_plan
from fieldlog.fieldwork.rig_checks.guided_check import GuidedCheck

AT = dt.datetime(2031, 5, 4, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))
PLAN = CheckPlan(rig="A", stage="opening", arm_m=0.5, masses_kg=(5.0, 10.0, 20.0))


def begun(plan=PLAN):
    return GuidedCheck(plan=plan, started_at=AT, readings={}, signs={})


def finished(check, reading=lambda ask: 10.0 if ask.mass_kg is None else 10.0 + 4.9 * ask.mass_kg):
    while (ask := check.next_ask) is not None:
        if ask.kind == "sign":
            check = check.with_sign(ask, "+")
        elif ask.wants_reading:
            check = check.with_reading(ask, reading(ask))
        else:
            check = check.with_confirmed(ask)
    return check


def test_each_direction_goes_up_the_masses_and_down_again_between_two_tares():
    asked = [(ask.direction, ask.kind, ask.run, ask.mass_kg) for ask in asks_of(PLAN, {})]
    up = [entry[1:] for entry in asked if entry[0] == "up"]
    assert [kind for kind, *_ in up] == ["sign", "preload", "tare_before", *["point"] * 5, "tare_after"]
    assert [mass for kind, _, mass in up if kind == "point"] == [5, 10, 20, 10, 5]
    assert [run for kind, run, _ in up if kind == "point"] == ["loading"] * 3 + ["unloading"] * 2
    assert len(asked) == 2 * len(up)


def test_a_display_without_sign_has_each_turn_over_confirmed():
    kinds = [ask.kind for ask in asks_of(PLAN, {"up": "none"})]
    assert kinds.count("turned") == 1


def test_the_instruction_says_how_to_hang_the_mass():
    first = next(ask for ask in asks_of(PLAN, {}) if ask.kind == "point")
    assert first.text.startswith("Hang 5 kg so that it pulls towards larger angles")


def test_a_finished_check_becomes_the_entry_that_is_judged():
    entry = finished(begun()).entry(at=AT, by="Kim")
    assert len(entry.torque) == 10
    assert {(point.direction, point.run) for point in entry.torque} == {
        (direction, run) for direction in ("up", "down") for run in ("loading", "unloading")
    }
    assert entry.tare.up_before_nm == 10.0
    assert entry.hanger_kg == 0.0


def test_an_unfinished_check_is_no_entry():
    with pytest.raises(RefusedError, match="not finished"):
        begun().entry(at=AT, by="Kim")


def test_a_minus_on_the_display_is_read_in_the_direction_under_test():
    check = begun()
    sign = next(ask for ask in check.asks if ask.kind == "sign" and ask.direction == "down")
    check = check.with_sign(sign, "-")
    tare = next(ask for ask in check.asks if ask.kind == "tare_before" and ask.direction == "down")
    assert check.with_reading(tare, -7.2).tare_nm("down") == 7.2


def test_a_repeated_point_keeps_both_readings_and_both_are_judged():
    check = finished(begun())
    ask = next(ask for ask in check.asks if ask.kind == "point")
    check = check.with_reading(ask, 34.6, again=True)
    assert check.readings[ask.key] == (34.5, 34.6)
    assert len(check.entry(at=AT, by="Kim").torque) == 11
    assert check.with_reading(ask, 34.4).readings[ask.key] == (34.4,)


def test_an_answer_taken_back_is_asked_again():
    check = finished(begun())
    ask = check.asks[4]
    assert check.without(ask).next_ask == ask


def test_a_draft_gives_the_same_check_again():
    check = finished(begun())
    check = check.with_note(check.asks[3], "swings")
    assert GuidedCheck.from_draft(check.to_draft()) == check


@pytest.mark.parametrize(
    "draft", [{}, {"plan": 3}, {"plan": {}, "started_at": "x"}, {"plan": PLAN.model_dump()}]
)
def test_a_damaged_draft_is_refused_in_words(draft):
    with pytest.raises(InputError, match="draft"):
        GuidedCheck.from_draft(draft)


def test_the_next_check_follows_the_last_full_one():
    entry = finished(begun()).entry(at=AT, by="Kim")
    plan = plan_from(entry, rig="A", stage="closing")
    assert plan == PLAN.model_copy(update={"stage": "closing"})


def test_the_quick_form_is_the_lightest_and_the_heaviest_without_preloads():
    plan = PLAN.for_stage("interim", state="as-found", rig="A")
    assert plan.masses_kg == (5.0, 20.0)
    asks = asks_of(plan, {})
    assert sum(ask.kind == "point" for ask in asks) == 4
    assert not any(ask.kind == "preload" for ask in asks)


def test_up_and_down_alike_in_two_masses_looks_unturned():
    check = finished(begun())
    assert check.looks_unturned()
    other = next(ask for ask in check.asks if ask.key == "down.loading.1")
    assert not check.with_reading(other, 50.0).looks_unturned()


def test_masses_are_typed_with_blanks_and_units_in_any_order():
    plan = read_plan(rig="A", stage="opening", arm_m=0.5, masses="20 5,0 10kg 500g")
    assert plan.masses_kg == (0.5, 5.0, 10.0, 20.0)


@pytest.mark.parametrize(
    ("arm_m", "masses", "word"),
    [
        (40, "5", "longer than 3 m"),
        (0.5, "0", "pulls nothing"),
        (0.5, "", "masses"),
        (0.5, "five", "no number"),
        (0.0, "5", "arm_m"),
    ],
)
def test_a_plan_that_cannot_be_is_named(arm_m, masses, word):
    with pytest.raises(InputError, match=word):
        read_plan(rig="A", stage="opening", arm_m=arm_m, masses=masses)


def test_angles_and_speeds_stand_among_the_masses_with_their_unit_and_the_lever_with_its_angle():
    arm_m, angle_deg = read_lever("50cm 3°")
    plan = read_plan(
        rig="A",
        stage="opening",
        arm_m=arm_m,
        arm_angle_deg=angle_deg,
        masses="5 10kg 90° 30deg 60°/s 120deg/s",
    )
    assert (plan.arm_m, plan.arm_angle_deg, plan.masses_kg) == (0.5, 3.0, (5.0, 10.0))
    assert (plan.angles_deg, plan.speeds_deg_s) == ((30.0, 90.0), (60.0, 120.0))
    assert read_lever("0,45") == (0.45, 0.0)
    for wrong in ("", "0.5 3° 4°", "0.5 3kg"):
        with pytest.raises(InputError):
            read_lever(wrong)


GEOMETRY = PLAN.model_copy(update={"angles_deg": (30.0,), "speeds_deg_s": (60.0,), "arm_angle_deg": 3.0})


def test_angles_and_speeds_are_asked_once_the_masses_are_off_and_become_points():
    check = begun(GEOMETRY).with_sign(begun(GEOMETRY).asks[0], "-")
    assert [ask.kind for ask in check.asks][-3:] == ["tare_after", "angle", "speed"]
    readings = {"angle": 30.4, "speed": 59.5}
    check = finished(check, lambda ask: readings.get(ask.kind, 10.0 + 4.9 * (ask.mass_kg or 0.0)))
    entry = check.entry(at=AT, by="Kim")
    assert [(point.reference_deg, point.reading_deg) for point in entry.angle] == [(30.0, 30.4)]
    # The timer is the reference; the speed that was set is what the rig says of itself.
    assert [(point.reference_deg_s, point.reading_deg_s) for point in entry.speed] == [(59.5, 60.0)]
    assert {point.arm_angle_deg for point in entry.torque} == {3.0}
    again = plan_from(entry, rig="A", stage="closing")
    assert (again.angles_deg, again.speeds_deg_s, again.arm_angle_deg) == ((30.0,), (60.0,), 3.0)
    assert again.for_stage("interim", state="as-found", rig="A").angles_deg == ()


def test_an_angle_may_be_passed_over_and_read_after_all():
    check = begun(GEOMETRY)
    while (ask := check.next_ask) is not None:
        if ask.kind == "sign":
            check = check.with_sign(ask, "+")
        elif ask.wants_reading and not ask.may_be_passed_over:
            check = check.with_reading(ask, 10.0)
        else:
            check = check.with_confirmed(ask)
    entry = check.entry(at=AT, by="Kim")
    assert entry.angle == entry.speed == ()
    angle = next(ask for ask in check.asks if ask.kind == "angle")
    again = GuidedCheck.from_draft(check.with_reading(angle, 30.2).to_draft())
    assert [point.reading_deg for point in again.entry(at=AT, by="Kim").angle] == [30.2]
