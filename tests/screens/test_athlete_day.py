"""The athlete today by keys, the body mass that is asked about, and who lets an athlete start again after a stop."""

import datetime as dt

import pytest

from fieldlog.fieldwork.athletes.athlete_days import day_of, save_day
from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.athletes.day_entry import injured_side
from fieldlog.fieldwork.batch.batches import batch_of, entry_of, make_batch
from fieldlog.fieldwork.clearance.stops import stops_today
from fieldlog.fieldwork.visit.day import choose_rig
from fieldlog.fieldwork.visit.visits import ensure_visit
from tests.screens.kept_text import assert_as_kept

MORNING = dt.datetime(2026, 5, 6, 8, 30, tzinfo=dt.timezone(dt.timedelta(hours=1)))
DAY = MORNING.date()


@pytest.fixture
def batch(sample):
    store = sample.site_named("Skarvik boathouse")
    visit = choose_rig(sample, store, ensure_visit(store, DAY, "t"), "rig A", "t").record
    ids = [athlete_named(sample, code).record.id for code in ("R01", "R07")]
    make_batch(sample, store, visit, protocol_id="trunk_standing_60_120", athlete_ids=ids, by="t")
    earlier = ensure_visit(store, dt.date(2026, 3, 1), "t").record
    noted = {"footwear": "court shoes", "dominant_side": "left", "cheering": True, "curve_visible": False}
    save_day(store, earlier, ids[0], noted, by="t", at=MORNING.replace(month=3, day=1))
    return store, visit, ids


def mass_of(store, visit, athlete_id):
    return entry_of(batch_of(store, visit, athlete_id).record, athlete_id).body_mass_kg


async def test_a_body_mass_that_cannot_be_is_asked_about_before_it_is_kept(hands, sample, batch):
    store, visit, ids = batch
    async with hands(sample, start=MORNING) as pair:
        await pair.press("enter a 3 enter")
        await pair.type("195")
        assert "pounds? 195 lb are 88.5 kg" in " ".join(pair.text.split())
        assert mass_of(store, visit, ids[0]) is None
        await pair.press("end backspace backspace backspace")
        await pair.type("195lb")
        assert mass_of(store, visit, ids[0]) == pytest.approx(88.45, abs=0.01)
        assert "K notes footwear" in pair.said
        await pair.press("k")
        await pair.type("120")
        assert "pounds? another person?" in " ".join(pair.text.split())
        await pair.press("enter")
        assert mass_of(store, visit, ids[0]) == 120


async def test_the_athlete_today_is_noted_by_keys_and_comes_back_as_last_time(hands, sample, batch):
    store, visit, ids = batch
    async with hands(sample, start=MORNING) as pair:
        await pair.press("enter a 3 K")
        assert "R01 · the athlete today" in pair.text
        await pair.press("enter")
        await pair.type("88,5")
        await pair.press("space y space")
        await pair.press("enter")
        await pair.type("r")
        await pair.press("space space - enter")
        await pair.type("9:30")
        await pair.press("enter")
        await pair.type("9:00")
        assert "available_until is not after available_from" in pair.said
        day = day_of(store, visit, ids[0]).record
        assert (day.footwear, day.warm_up_done, day.dominant_side) == ("court shoes", True, "left")
        assert (day.cheering, day.curve_visible, day.not_last, day.first_side) == (True, False, False, "left")
        assert f"{day.available_from:%H:%M}" == "09:30"
        assert day.available_until is None
        assert injured_side(sample, visit, ids[0]) == "right"
        assert "right" not in day.model_dump_json()
        await pair.press("escape u")
        assert day_of(store, visit, ids[0]).record.available_from is None
    assert mass_of(store, visit, ids[0]) == 88.5


async def test_an_injured_side_is_taken_back(hands, sample, batch):
    store, visit, ids = batch
    async with hands(sample, start=MORNING) as pair:
        await pair.press("enter a 3 K home down down down down enter")
        await pair.type("left")
        assert injured_side(sample, visit, ids[0]) == "left"
        await pair.press("up enter end backspace backspace backspace backspace")
        await pair.type("middle")
        assert "is no side" in pair.said
        await pair.press("enter end" + " backspace" * 8)
        await pair.type("none")
        assert injured_side(sample, visit, ids[0]) == ""
        assert day_of(store, visit, ids[0]).record.first_side is None


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_the_room_as_it_was_looked_at(hands, sample, batch, size):
    async with hands(sample, start=MORNING, size=size) as pair:
        await pair.press("enter a 3 K down space")
        assert_as_kept(f"athlete_day_{size[0]}x{size[1]}.txt", pair.text)


async def test_after_a_stop_a_named_qualified_person_lets_the_athlete_start_again(hands, sample, batch):
    store, visit, ids = batch
    async with hands(sample, start=MORNING) as pair:
        await pair.press("enter a 3 enter")
        await pair.type("88.5")
        await pair.press("s")
        await pair.type("3")
        await pair.type("0")
        assert "do not restart today" in pair.said
        assert "stopped today: no restart" in pair.text
        await pair.press("escape")
        assert "✗ stopped" in pair.text
        await pair.press("j")
        await pair.type("Dr Example")
        await pair.type(" ")
        assert "named, qualified person" in pair.said
        assert stops_today(store, visit, ids[0])[0].holds
        await pair.press("j")
        await pair.type("Dr Example")
        await pair.type("team physician")
        assert "lets the athlete start again today" in pair.said
        (stop,) = stops_today(store, visit, ids[0])
        assert (stop.holds, stop.released_by, stop.released_role) == (False, "Dr Example", "team physician")
        assert "✗ stopped" not in pair.text
        await pair.press("u")
        assert not stops_today(store, visit, ids[0])[0].holds


async def test_another_stop_holds_again_and_is_released_from_the_bench_and_the_clearance(
    hands, sample, batch
):
    store, visit, ids = batch
    async with hands(sample, start=MORNING) as pair:
        await pair.press("enter a 3 enter")
        await pair.type("88.5")
        for keys in ("j", "c j"):
            await pair.press("s")
            await pair.type("3")
            await pair.type("0")
            assert any(stop.holds for stop in stops_today(store, visit, ids[0]))
            await pair.press(keys)
            await pair.type("Dr Example")
            await pair.type("physician")
            assert not any(stop.holds for stop in stops_today(store, visit, ids[0]))
        assert len(stops_today(store, visit, ids[0])) == 2
