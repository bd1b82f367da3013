"""The tester's rooms as text at 80×24 and 120×40, as they were looked at."""

import datetime as dt

import pytest

from fieldlog.fieldwork.books import site_of
from fieldlog.fieldwork.visit.visits import visits_of
from tests.screens.kept_text import assert_as_kept

NOW = dt.datetime(2026, 5, 6, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))
SIZES = [(80, 24), (120, 40)]


def name_of(room, size):
    return f"{room}_{size[0]}x{size[1]}.txt"


@pytest.mark.parametrize("size", SIZES)
async def test_places(hands, sample, size):
    async with hands(sample, start=NOW, size=size) as pair:
        assert_as_kept(name_of("places", size), pair.text)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("stage", [1, 2, 3, 4, 5])
async def test_the_day_in_each_stage(hands, sample, size, stage):
    async with hands(sample, start=NOW, size=size) as pair:
        await pair.press(f"enter {stage}")
        assert_as_kept(name_of(f"day_{stage}", size), pair.text)


@pytest.mark.parametrize("size", SIZES)
async def test_the_bench_and_a_set(hands, sample, size):
    from fieldlog.screens.bench import BenchRoom

    store = sample.site_named("Skarvik boathouse")
    visit = visits_of(store)[0].record
    async with hands(sample, start=NOW, size=size) as pair:
        await pair.press("enter 3")
        rows = pair.room.query_one("#rows").rows
        batch, _, athlete = rows[5].key.partition(" ")
        pair.app.push_screen(BenchRoom(store, visit, batch, athlete, site_name=site_of(store).name))
        await pair.settle()
        await pair.press("down")
        assert_as_kept(name_of("bench", size), pair.text)
        await pair.press("enter")
        assert_as_kept(name_of("set", size), pair.text)


@pytest.mark.parametrize("size", SIZES)
async def test_a_check_under_way(hands, sample, size):
    async with hands(sample, start=NOW, size=size) as pair:
        await pair.press("enter a 2 enter enter enter")
        for reading in ("7.2", "44.2", "81.5", "152"):
            await pair.type(reading)
        assert_as_kept(name_of("check", size), pair.text)


@pytest.mark.parametrize("size", SIZES)
async def test_help_and_commands_over_a_room(hands, sample, size):
    async with hands(sample, start=NOW, size=size) as pair:
        await pair.press("?")
        assert_as_kept(name_of("help", size), pair.text)
        await pair.press("escape ctrl+p")
        assert_as_kept(name_of("commands", size), pair.text)
