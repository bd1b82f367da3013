"""Habits that hold in every room: the footer, live filters, copies, an athlete by typing."""

import os

import pytest
from rich.cells import cell_len
from textual.app import App

from fieldlog.screens.keys import FOOTER_KEYS

# Keys from the first room of the sample workspace into each room.
WAYS = {
    "places": "",
    "day, arrive": "enter 1",
    "day, check": "enter 2",
    "day, test": "enter 3",
    "day, hand over": "enter 5",
    "bench": "enter 3 enter",
    "batch": "enter 3 p",
    "clearance": "enter 3 c",
    "check shown": "l enter",
    "rig log": "l",
    "standards": "l h",
    "touched": "l t",
    "squad": "q",
    "exchange": "d",
    "settings": "f9",
    "plans": "E",
}


@pytest.fixture
def clipboard(monkeypatch):
    copied = []
    monkeypatch.setattr(App, "copy_to_clipboard", lambda _self, text: copied.append(text))
    return copied


@pytest.mark.parametrize("way", WAYS)
async def test_the_footer_has_seven_keys_at_most_and_help_explains_in_place(hands, sample, way):
    async with hands(sample) as pair:
        await pair.press(WAYS[way])
        room = pair.room
        shown = room.query_one("KeysLine").keys
        assert 1 <= len(shown) <= FOOTER_KEYS
        assert ("?", "help") in shown
        await pair.press("?")
        assert pair.room is room
        assert "closes this help" in pair.text
        await pair.press("escape")
        assert pair.room is room
        await pair.press("f1")
        assert "closes this help" in pair.text
        await pair.press("escape")
        await pair.press("ctrl+p")
        commands = {row.key for row in pair.room.query_one("Listing").rows}
        assert {"undo", "filter", "copy", "back", "help"} <= commands
        await pair.press("escape")
        assert pair.room is room


@pytest.mark.parametrize("way", WAYS)
async def test_a_filter_counts_as_it_is_typed_and_esc_shows_all(hands, sample, way):
    async with hands(sample) as pair:
        await pair.press(WAYS[way])
        room = pair.room
        listing = room._list_in_focus()
        total = len(listing.rows)
        await pair.press("/")
        await pair.type("zzz", enter=False)
        assert room.said == f"0 of {total}"
        await pair.press("f1")
        assert "closes this help" in pair.text
        await pair.press("escape escape")
        assert listing.needle == ""
        assert pair.room is room


async def test_a_line_its_cells_and_the_table_go_to_the_clipboard(hands, sample, clipboard):
    async with hands(sample) as pair:
        await pair.press("ctrl+y")
        assert clipboard[-1].startswith("Skarvik boathouse\t")
        await pair.press("ctrl+y")
        assert clipboard[-1] == "Skarvik boathouse"
        assert "copied: Skarvik boathouse" in pair.said
        await pair.press("ctrl+t")
        assert clipboard[-1].splitlines()[0].startswith("site\tlast visit")
        assert len(clipboard[-1].splitlines()) == 4
        assert "3 of 3" in pair.said


async def test_an_athlete_is_reached_from_anywhere_by_typing_the_code(hands, sample):
    async with hands(sample) as pair:
        await pair.press("d ctrl+p")
        await pair.type("R07")
        assert type(pair.room).__name__ == "BenchRoom"
        assert "R07" in pair.text
        await pair.press("escape")
        assert type(pair.room).__name__ == "ExchangeRoom"


async def test_digits_are_the_stages_of_a_day(hands, sample):
    async with hands(sample) as pair:
        await pair.press("enter")
        for number in range(1, 6):
            await pair.press(str(number))
            assert pair.room.stage_index == number - 1


SIZES = ((60, 20), (30, 8), (120, 40))
if os.environ.get("FIELDLOG_LONG"):
    SIZES += ((40, 12), (60, 20), (80, 24), (200, 60), (60, 20))


@pytest.mark.parametrize("way", WAYS)
async def test_a_window_of_any_size_is_whole_and_one_too_small_says_so(hands, sample, way):
    async with hands(sample) as pair:
        await pair.press(WAYS[way])
        room = pair.room
        for width, height in SIZES:
            await pair.pilot.resize_terminal(width, height)
            await pair.settle()
            lines = pair.text.split("\n")
            assert len(lines) == height
            assert {cell_len(line) for line in lines} == {width}
            assert ("too small" in pair.text) == (width < 60 or height < 20)
            if height >= 20:
                assert "? help" in lines[-1]
                await pair.press("?")
                assert "closes this help" in pair.text
                await pair.press("escape")
        assert pair.room is room
