"""The rooms as text at 80×24 and 120×40, as they were looked at, and a few of them as pictures."""

import datetime as dt
import html

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


# Room → keys from the first room.
OTHERS = {
    "batch": "enter 3 p",
    "batch_athletes": "enter 3 p enter",
    "clearance": "enter 3 c",
    "setup": "enter 3 enter space",
    "check_shown": "l enter",
    "touched_results": "l t",
    "standards": "l h",
    "people": "q",
    "history": "q enter",
    "shared": "d",
    "settings": "f9",
    "athletes_by_typing": "ctrl+p R 0",
}


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("room", OTHERS)
async def test_the_other_rooms(hands, sample, size, room, monkeypatch):
    monkeypatch.setenv("FIELDLOG_SETTINGS", "settings.toml")
    async with hands(sample, start=NOW, size=size) as pair:
        await pair.press(OTHERS[room])
        assert_as_kept(name_of(room, size), pair.text)


@pytest.mark.parametrize(
    ("keys", "words"),
    [("", "Skarvik"), ("enter 3", "athlete"), ("l", "rig"), ("d", "exchange")],
)
async def test_a_picture_of_a_room_shows_what_its_text_says(hands, sample, keys, words):
    async with hands(sample, start=NOW, size=(120, 40)) as pair:
        await pair.press(keys)
        picture = pair.app.export_screenshot()
        assert picture.startswith("<svg")
        drawn = html.unescape(picture).replace("\xa0", " ")
        assert words in drawn
        title = pair.room.query_one("#title").text.split("  ")[0]
        assert title in drawn


async def test_every_state_is_in_words_without_colour(hands, sample, monkeypatch):
    async def looked_at():
        texts = []
        async with hands(sample, start=NOW) as pair:
            for keys in ("enter 2", "3", "4", "escape l", "escape q"):
                await pair.press(keys)
                texts.append(pair.text)
        return texts

    coloured = await looked_at()
    monkeypatch.setenv("NO_COLOR", "1")
    assert await looked_at() == coloured
