"""Names that would break a terminal or a markup reader, over every room of the tester's way."""

import datetime as dt
import itertools
import os

import pytest
from rich.cells import cell_len

from fieldlog.fieldwork.athletes.athletes import add_athlete
from fieldlog.fieldwork.batch.batches import make_batch
from fieldlog.fieldwork.visit.day import choose_rig
from fieldlog.fieldwork.visit.visits import ensure_visit
from fieldlog.records.site import Site
from fieldlog.store.workspace import Workspace

DAY = dt.date(2031, 5, 4)
NAMES = [
    "Ann [/x]",
    "[bold red]Bo[/bold red] [link=http://x]y[/link]",
    "\x1b[31m\x1b]0;title\x07red",
    "\u202eevil\u202c \u2066x\u2069",
    "👩‍🚀🏳️‍🌈 " * 4,
    "日本語の名前" * 6,
    "x" * 300,
    "$(rm -rf ~) `id` %n",
]
if not os.environ.get("FIELDLOG_LONG"):
    # The same kinds of harm in three names, for the daily run.
    NAMES = [
        "[bold red]Bo[/bold red] [link=http://x]y[/link] [/x] $(id) %n",
        "\x1b[31m\x1b]0;t\x07red \u202eevil\u202c 👩‍🚀🏳️‍🌈 日本語の名前",
        "x" * 300,
    ]


def made_with(path, name):
    """A workspace in which everything that can be named is named so."""
    workspace = Workspace.create(path / "w")
    store = workspace.add_site(Site(id="s1", name=name[:120], latitude_deg=60, height_m=4), by="t")
    visit = choose_rig(workspace, store, ensure_visit(store, DAY, "t"), name[:120], "t").record
    athlete = add_athlete(workspace, name[:40], by="t", squad=name[:80]).record
    batch = make_batch(
        workspace, store, visit, protocol_id="knee_60_180", athlete_ids=[athlete.id], by="t", squad=name[:80]
    )
    return workspace, store, visit, batch.record, athlete


def whole(pair):
    """The screen is whole: every line as wide as the window, and nothing in it steers the terminal."""
    width, height = pair.size
    lines = pair.text.split("\n")
    assert len(lines) == height
    for line in lines:
        assert cell_len(line) == width, line
        assert all(ord(character) >= 32 and not 0x7F <= ord(character) < 0xA0 for character in line)
        assert "\u202e" not in line
    return lines


@pytest.mark.parametrize(
    ("name", "size"), list(zip(NAMES, itertools.cycle([(80, 24), (60, 20)]), strict=False))
)
async def test_a_hostile_name_harms_no_room(hands, tmp_path, name, size):
    from fieldlog.screens.bench import BenchRoom
    from fieldlog.screens.clearance_entry import ClearanceRoom

    workspace, store, visit, batch, athlete = made_with(tmp_path, name)
    async with hands(workspace, size=size) as pair:
        whole(pair)
        for keys in ("enter", "2", "3", "4", "5", "3", "p", "escape", "ctrl+p", "escape", "?", "escape"):
            await pair.press(keys)
            whole(pair)
        pair.app.push_screen(BenchRoom(store, visit, batch.id, athlete.id, site_name=name))
        await pair.settle()
        whole(pair)
        await pair.type("70")
        await pair.press("space")
        whole(pair)
        await pair.press("space space")
        whole(pair)
        await pair.press("escape escape")
        pair.app.push_screen(ClearanceRoom(store, visit, athlete.id, site_name=name))
        await pair.settle()
        whole(pair)
        await pair.press("enter")
        whole(pair)
        await pair.press("escape escape escape escape")
        for keys in ("q", "d", "l", "l h", "f9", "E", "ctrl+p", "enter 3 K", "enter 3 B"):
            await pair.press(f"escape escape escape {keys}")
            whole(pair)
            await pair.press("?")
            whole(pair)
            await pair.press("escape down enter")
            whole(pair)
    workspace.close()
