"""The guided check by keys: drafts, repeats, signs, corrections, pasted columns, and what a slip brings."""

import pytest

from fieldlog.fieldwork.books import at_site
from fieldlog.records.rig_check import RigCheck

UP = ["7.3", "31.9", "56.4", "105.5", "56.4", "31.9", "7.3"]
DOWN = ["7.2", "31.7", "56.2", "105.3", "56.3", "31.7", "7.2"]


async def name_rig(pair):
    """Rig A stands there; its display step is asked once."""
    await pair.press("enter enter")
    await pair.type("A")
    await pair.press("2 enter")
    await pair.type("0,1")


async def begin(pair, masses="5 10 20"):
    """A lever of half a metre and some masses; stands on the first reading."""
    await name_rig(pair)
    await pair.type("")
    await pair.type(masses)
    await pair.press("enter enter")


async def read(pair, values):
    for value in values:
        await pair.type(value)


def kept(workspace):
    return [each.record for each in at_site(workspace.site_named("Boathouse"), RigCheck).all()]


async def test_each_error_is_seen_against_its_tolerance_at_once(hands, workspace):
    async with hands(workspace) as pair:
        await begin(pair)
        await read(pair, UP[:2])
        line = next(line for line in pair.text.split("\n") if " 31.90 " in line)
        assert "24.54" in line
        assert "+0.06" in line
        assert "■" in line
        assert line.rstrip().endswith("pass")


async def test_a_finished_check_is_on_disk_before_the_screen_says_so(hands, workspace):
    async with hands(workspace) as pair:
        await begin(pair)
        await read(pair, UP)
        await pair.press("enter enter")
        await read(pair, DOWN)
        assert pair.said.startswith("saved: opening check")
        assert "✓ pass" in pair.text
        (check,) = kept(workspace)
        assert check.verdict == "pass"
        assert len(check.entry.torque) == 10
        assert check.entry.tare.down_before_nm == -7.2 or check.entry.tare.down_before_nm == 7.2
        await pair.press("u")
        assert kept(workspace) == []


async def test_each_accepted_point_survives_esc_and_a_killed_program(hands, workspace):
    async with hands(workspace) as pair:
        await begin(pair)
        await read(pair, UP[:3])
        await pair.press("escape")
        assert "2 of 10 points are read" in pair.text
    async with hands(workspace) as other:
        await other.press("enter 2 enter")
        assert "2 of 10 points" in other.text
        await read(other, UP[3:4])
        assert "3 of 10 points" in other.text
        assert kept(workspace) == []


async def test_a_point_can_be_read_once_more_and_corrected(hands, workspace):
    async with hands(workspace) as pair:
        await begin(pair)
        await read(pair, UP[:2])
        await pair.press("r")
        await read(pair, ["32.0"])
        assert "×2" in pair.text
        assert pair.room.check.readings["up.loading.0"] == (31.9, 32.0)
        await pair.press("up")
        await read(pair, ["31.8"])
        assert pair.room.check.readings["up.loading.0"] == (31.8,)


async def test_undo_takes_the_last_answer_back(hands, workspace):
    async with hands(workspace) as pair:
        await begin(pair)
        await read(pair, UP[:3])
        await pair.press("u")
        assert "1 of 10 points" in pair.text
        await read(pair, UP[2:3])
        assert "2 of 10 points" in pair.text


async def test_a_pasted_column_answers_one_point_after_the_other(hands, workspace):
    from textual import events

    async with hands(workspace) as pair:
        await begin(pair)
        pair.room.query_one("#asks").post_message(events.Paste("7,3\n31,9\n56,4\n105,5"))
        await pair.settle()
        assert "3 of 10 points" in pair.text


async def test_a_display_with_minus_is_read_in_the_direction_under_test(hands, workspace):
    async with hands(workspace) as pair:
        await begin(pair)
        await read(pair, UP)
        await pair.press("enter enter")
        assert "[−" in pair.text
        await read(pair, ["7.2"])
        assert pair.room.check.tare_nm("down") == 7.2
        await pair.press("up")
        await read(pair, ["+7.2"])
        assert pair.room.check.tare_nm("down") == -7.2


async def test_a_display_without_sign_has_each_turn_over_confirmed(hands, workspace):
    async with hands(workspace) as pair:
        await name_rig(pair)
        await pair.type("")
        await pair.type("5 10")
        await pair.type("0")
        assert pair.room.check.next_ask.kind == "turned"
        assert "The display shows no sign. Is the lever" in pair.text


async def test_what_the_uncertainty_is_made_of_is_one_key_away(hands, workspace):
    async with hands(workspace) as pair:
        await begin(pair)
        await read(pair, UP[:1])
        await pair.press("b")
        assert "lever length" in pair.text, pair.text
        assert "together u" in pair.text
        await pair.press("b")
        assert "together u" not in pair.text


async def test_a_note_stays_with_its_point(hands, workspace):
    async with hands(workspace) as pair:
        await begin(pair)
        await read(pair, UP[:1])
        await pair.press("n")
        await pair.type("mass swings")
        assert pair.room.check.notes == {"up.loading.0": "mass swings"}


@pytest.mark.parametrize(
    ("typed", "word"),
    [
        ("", "nothing typed"),
        ("9..8", "two decimal signs"),
        ("5kg", "does not measure"),
        ("1e9", ""),
        ("99999999", "less than"),
    ],
)
async def test_a_slip_is_named_and_accepts_nothing(hands, workspace, typed, word):
    async with hands(workspace) as pair:
        await begin(pair)
        await read(pair, UP[:1])
        await pair.type(typed)
        assert word in pair.said
        assert "0 of 10 points" in pair.text


@pytest.mark.parametrize(
    ("lever", "masses", "word"),
    [("40", "5 10", "40 m is longer"), ("0,5", "0", "pulls nothing"), ("0,5", "", "masses"), ("-1", "5", "")],
)
async def test_a_lever_in_centimetres_or_a_mass_of_nothing_is_named_at_once(
    hands, workspace, lever, masses, word
):
    async with hands(workspace) as pair:
        await name_rig(pair)
        line = pair.room.query_one("AskLine")
        await pair.press("backspace backspace backspace")
        await pair.type(lever)
        if line.display:
            await pair.type(masses)
        assert word in pair.said
        assert type(pair.room).__name__ == "DayRoom"


async def test_up_and_down_read_alike_asks_whether_the_lever_was_turned(hands, workspace):
    async with hands(workspace) as pair:
        await begin(pair)
        await read(pair, UP)
        await pair.type("+")
        await pair.press("enter")
        await read(pair, UP[:3])
        assert "really turned" in pair.said


async def test_the_quick_check_is_tare_and_two_masses(hands, workspace):
    async with hands(workspace) as pair:
        await begin(pair)
        await pair.press("escape down enter")
        assert pair.room.check.plan.stage == "interim"
        assert pair.room.check.plan.masses_kg == (5.0, 20.0)
        assert "0 of 4 points" in pair.text


async def test_a_failed_check_says_where_to_look_and_holds_the_rig(hands, workspace):
    async with hands(workspace) as pair:
        await begin(pair)
        await read(pair, ["7.3", "38.0", "68.7", "130.0", "68.7", "38.0", "7.3"])
        await pair.press("enter enter")
        await read(pair, ["7.2", "37.9", "68.6", "129.9", "68.6", "37.9", "7.2"])
        assert "✗ fail" in pair.text
        assert "likely cause" in pair.text
        await pair.press("enter")
        assert "not for use" in pair.text


async def test_the_other_direction_can_be_looked_at_and_corrected(hands, workspace):
    async with hands(workspace) as pair:
        await begin(pair)
        await read(pair, UP)
        await pair.press("enter enter")
        await read(pair, DOWN[:2])
        await pair.press("[")
        assert "105.50" in pair.text
        pair.room.query_one("#asks").to_key("up.loading.2")
        await read(pair, ["105.4"])
        assert pair.room.check.readings["up.loading.2"] == (105.4,)
        assert pair.room.asked.key == "down.loading.1"


async def test_angles_and_speeds_are_typed_after_the_masses_or_passed_over(hands, workspace):
    async with hands(workspace) as pair:
        await name_rig(pair)
        await pair.type(" 3°")
        await pair.type("5 10 20 30° 90° 60°/s")
        await pair.press("enter enter")
        await read(pair, UP)
        await pair.press("enter enter")
        await read(pair, DOWN)
        assert "Set the lever to 30°" in pair.text
        await pair.type("30.4")
        line = next(line for line in pair.text.split("\n") if " 30.4 " in line)
        assert "+0.4" in line
        assert "tolerance 1.0°" in line
        await pair.press("enter")
        assert "angle not read" in pair.said
        assert "Set 60°/s, time the lever" in pair.text
        await pair.type("59,5")
        assert pair.said.startswith("saved: opening check")
        (check,) = kept(workspace)
        assert [(point.reference_deg, point.reading_deg) for point in check.entry.angle] == [(30.0, 30.4)]
        assert [point.reference_deg_s for point in check.entry.speed] == [59.5]
        assert {point.arm_angle_deg for point in check.entry.torque} == {3.0}
