"""What the guided check says at once: wrong sign, a digit too many, a cold rig, a hall that warmed; keys it takes."""

import datetime as dt

import pytest

from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.rig_life.rigs import rig_named
from fieldlog.records.rig import Rig

MORNING = dt.datetime(2026, 5, 6, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))
KEYS_A_PAIR = 12


async def to_first_point(pair, tare="7,3"):
    await pair.press("enter a")
    await pair.press("2")
    await pair.press("enter")
    await pair.press("enter enter")
    await pair.type(tare)


async def test_a_reading_with_the_wrong_sign_is_named_at_once(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await to_first_point(pair)
        await pair.type("-36,8")
        assert "opposite sign" in pair.said


async def test_a_digit_too_many_is_named_at_once(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await to_first_point(pair)
        await pair.type("441")
        assert "441.0 was typed" in pair.said
        assert "44.1 N·m would be right" in pair.said


async def test_a_plain_failure_is_no_slip(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await to_first_point(pair)
        await pair.type("46,0")  # 5 % too much
        assert "typed" not in pair.said
        assert "fail" in pair.text


async def test_before_the_check_it_is_said_when_the_rig_may_not_be_warm(hands, sample):
    async with hands(sample, start=MORNING) as pair:
        await pair.press("enter a")
        await pair.press("2")
        assert "may not be warm yet" in pair.text
        await pair.press("enter")
        assert "may not be warm yet" in pair.said


async def test_a_hall_that_warmed_since_the_opening_check_is_warned_of(hands, sample):
    async with hands(sample, start=dt.datetime(2026, 3, 4, 14, 0, tzinfo=MORNING.tzinfo)) as pair:
        await pair.press("enter 4 down down enter")
        for _ in range(6):
            await pair.press("backspace")
        await pair.type("19")
        await pair.press("home")
        assert "The hall has warmed" in pair.text


async def test_the_display_step_is_asked_once_and_kept_on_the_rig(hands, sample):
    kept = rig_named(sample, "rig A")
    without = kept.record.model_copy(update={"display_step_nm": None})
    of_team(sample, Rig).save(without, by="tester", seen=kept.revision)
    async with hands(sample, start=MORNING) as pair:
        await pair.press("enter a")
        await pair.press("2")
        await pair.press("enter")
        assert "smallest step the display" in pair.text
        await pair.type("0")
        assert "display step of 0 N·m is none" in pair.said
        await pair.press("enter")
        await pair.type("0,5")
        assert type(pair.room).__name__ == "CheckRoom"
        assert rig_named(sample, "rig A").record.display_step_nm == 0.5
        await pair.press("escape enter")
        assert type(pair.room).__name__ == "CheckRoom"


@pytest.mark.parametrize(("first", "second"), [("44,1", "80,9")])
async def test_a_pair_of_points_takes_at_most_twelve_keys(hands, sample, first, second):
    async with hands(sample, start=MORNING) as pair:
        await to_first_point(pair)
        before = pair.pressed
        await pair.type(first)
        await pair.type(second)
        assert pair.pressed - before <= KEYS_A_PAIR
        assert "2 of 14 points" in pair.text


async def test_the_bare_zero_takes_one_key_and_three_drifted_ask_for_a_check(hands, sample):
    day = dt.datetime(2026, 3, 4, 14, 0, tzinfo=MORNING.tzinfo)
    async with hands(sample, start=day) as pair:
        await pair.press("enter 3")
        await pair.press("enter")
        if pair.room.query_one("AskLine").display:
            await pair.press("escape")
        assert type(pair.room).__name__ == "BenchRoom"
        for reading in ("0,1", "0,9", "1,0", "-0,8"):
            await pair.press("0")
            await pair.type(reading)
        assert "take an interim check now" in pair.said
        assert "take an interim check now" in pair.text
        await pair.press("u")
        assert "2 of 3 in a row" in pair.text
