"""Setup plans and the questions of the clearance, looked at and changed by keys."""

import datetime as dt

import pytest

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.clearance.clearances import clearance_form
from fieldlog.records.setup_plan import SetupPlan
from tests.screens.kept_text import assert_as_kept

MORNING = dt.datetime(2026, 5, 6, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))
SIZES = [(80, 24), (120, 40)]


async def clear_and_type(pair, text):
    await pair.press("end" + " backspace" * 60)
    await pair.type(text)


async def to_row(pair, selector, key):
    listing = pair.room.query_one(selector)
    place = [row.key for row in listing.rows].index(key)
    await pair.press("home" + " down" * place)
    assert listing.row_key == key


async def open_plan(pair, plan_id="trunk_standing"):
    await pair.press("E")
    await to_row(pair, "#plans", plan_id)
    await pair.press("enter")


async def change_field(pair, field, text):
    await to_row(pair, "#fields", field)
    await pair.press("enter")
    await clear_and_type(pair, text)


async def save(pair, why="our scale"):
    await to_row(pair, "#parts", " save")
    await pair.press("enter")
    await pair.type(why)


@pytest.mark.parametrize("size", SIZES)
async def test_the_rooms_as_they_were_looked_at(hands, sample, size):
    async with hands(sample, start=MORNING, size=size) as pair:
        end = f"{size[0]}x{size[1]}.txt"
        await pair.press("E")
        assert_as_kept(f"plans_{end}", pair.text)
        await to_row(pair, "#plans", "trunk_standing")
        await pair.press("enter")
        await to_row(pair, "#parts", "foot_plate")
        assert_as_kept(f"plan_{end}", pair.text)
        await pair.press("enter")
        await to_row(pair, "#fields", "back_to")
        assert_as_kept(f"plan_step_{end}", pair.text)
        await pair.press("escape escape")
        await to_row(pair, "#plans", " form")
        await pair.press("enter home")
        assert_as_kept(f"questions_{end}", pair.text)


async def test_a_shipped_plan_is_changed_into_the_teams_own_next_version(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await open_plan(pair)
        await to_row(pair, "#parts", "foot_plate")
        await pair.press("enter")
        await change_field(pair, "low", "2")
        await change_field(pair, "retest_tolerance", "0.2in")
        await pair.press("end enter")
        assert "in the draft: Foot plate" in pair.said
        await pair.press("escape")
        assert "changed, not saved" in pair.text
        await pair.press("home")
        assert "will no longer compare with those before: Foot plate" in pair.text
        assert catalogue.plan(sample, "trunk_standing").version == 1
        await save(pair)
        assert (
            "saved: Trunk, standing, version 2; no longer compares with setups before: Foot plate"
            in pair.said
        )
        plan = catalogue.plan(sample, "trunk_standing")
        assert (plan.version, plan.step("foot_plate").low) == (2, 2.0)
        assert plan.step("foot_plate").retest_tolerance == pytest.approx(0.508)
        assert catalogue.plan(sample, "trunk_standing", 1).step("foot_plate").low != 2.0
        await pair.press("u")
        assert catalogue.plan(sample, "trunk_standing").version == 1
        assert "as shipped" in pair.text


async def test_steps_are_added_moved_and_taken_out_by_keys_and_each_fault_is_named(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await open_plan(pair, "knee")
        await to_row(pair, "#parts", "stop_high")
        await pair.press("a")
        await pair.type("2")
        await change_field(pair, "label", "Knee roll")
        await change_field(pair, "text", "Set the roll.")
        await change_field(pair, "low", "60")
        await change_field(pair, "high", "0")
        await change_field(pair, "step", "0,5")
        await pair.press("end enter")
        assert "Knee roll: the scale runs from 60 to 0, which is upside down" in pair.said
        await change_field(pair, "low", "0")
        await change_field(pair, "high", "60")
        await change_field(pair, "back_to", "knee roll")
        await pair.press("end enter")
        assert "no step 'knee roll'" in pair.said
        await change_field(pair, "back_to", "stop near flexion")
        await pair.press("end enter")
        assert "in the draft: Knee roll" in pair.said
        await change_field(pair, "back_to", "Knee roll")
        await pair.press("end enter")
        assert "goes back to itself" in pair.said
        await change_field(pair, "back_to", "3")
        await pair.press("end enter escape")
        assert pair.room.work.parts[3].key == "knee_roll"

        await to_row(pair, "#parts", "knee_roll")
        await pair.press("[")
        assert "goes back to 'Stop near flexion'" in pair.text
        await to_row(pair, "#parts", " save")
        await pair.press("enter")
        assert "not saved: Knee roll goes back to 'Stop near flexion'" in pair.said
        assert pair.room.query_one("#parts").row_key == "knee_roll"
        await pair.press("]")
        await to_row(pair, "#parts", "straps")
        await pair.press("x")
        assert "straps checked; without it no set could start" in " ".join(pair.text.split())
        await pair.press("u")
        await save(pair, "roll")
        assert "saved: Knee, seated, version 2" in pair.said
    assert [step.key for step in catalogue.plan(sample, "knee").steps][2:4] == ["stop_high", "knee_roll"]


async def test_a_draft_is_there_again_and_can_be_dropped_and_brought_back(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await open_plan(pair, "hip")
        await to_row(pair, "#parts", "other_leg")
        await pair.press("x")
        await pair.press("Q")
    async with hands(sample, start=MORNING) as pair:
        await open_plan(pair, "hip")
        assert "changed, not saved" in pair.text or pair.room.is_changed
        await to_row(pair, "#parts", " drop")
        await pair.press("enter")
        assert not pair.room.is_changed
        await pair.press("u")
        assert pair.room.is_changed
        await pair.press("escape")
    assert catalogue.plan(sample, "hip").version == 1
    assert of_team(sample, SetupPlan).get("hip") is None


async def test_a_plan_is_copied_under_another_name_and_a_protocol_uses_it(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await pair.press("E")
        await to_row(pair, "#plans", "knee")
        await pair.press("a")
        await pair.type("Knee, [school] lever")
        assert "version 1, the team's own" in pair.text
        await pair.press("escape")
        await to_row(pair, "#plans", "knee_school_lever")
        await pair.press("p")
        await pair.type("trunk seated")
        assert "protocols that begin with" in pair.said or "of the trunk" in pair.said
        name = next(each.name for each in catalogue.protocols(sample).values() if each.id == "knee_60_180")
        await pair.type(name)
        assert f"saved: {name} is set up under Knee, [school] lever" in pair.said
    assert catalogue.protocol(sample, "knee_60_180").plan_id == "knee_school_lever"
    assert "(common practice)" in catalogue.plan(sample, "knee_school_lever").source


async def test_the_questions_are_changed_and_what_no_team_can_do_without_stays(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await pair.press("E end enter")
        assert "not medical advice" in pair.text
        await to_row(pair, "#parts", "chaperone")
        await pair.press("x")
        await to_row(pair, "#parts", " save")
        await pair.press("enter")
        assert "no question asks for: chaperone" in pair.said
        await pair.press("u")
        await to_row(pair, "#parts", "systolic_mmhg")
        await pair.press("enter")
        await change_field(pair, "holds_above", "300")
        await pair.press("end enter")
        assert "no answer lies above 300" in pair.said
        await change_field(pair, "holds_above", "139")
        await pair.press("end enter escape")
        await to_row(pair, "#parts", "anything_else")
        await pair.press("a")
        await pair.type("1")
        await change_field(pair, "label", "Slept")
        await change_field(pair, "question", "Slept at least six hours?")
        await change_field(pair, "holds_on", "no")
        await pair.press("end enter escape")
        await save(pair, "rule 4 of the club")
        assert "version 2" in pair.said
    form = clearance_form(sample)
    assert form.version == 2
    items = {item.key: item for item in form.items}
    assert items["systolic_mmhg"].holds_above == 139
    assert (items["slept"].holds_on, items["slept"].must_answer) == ("no", True)
    assert [item.key for item in form.items][list(items).index("anything_else") + 1] == "slept"
