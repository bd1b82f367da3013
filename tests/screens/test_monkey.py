"""A monkey at the keyboard: no key sequence ends the application or loses a record."""

import os
import random

import pytest

from fieldlog.records.site import Site
from fieldlog.store.workspace import Workspace

KEYS = [
    *"abcdefghijklmnoprstuvwxyz0123456789",
    *(
        [
            "enter",
            "space",
            "escape",
            "tab",
            "up",
            "down",
            "left",
            "right",
            "home",
            "end",
            "pageup",
            "pagedown",
            "backspace",
            "delete",
            "f1",
            "ctrl+p",
        ]
    ),
    *(
        [
            "slash",
            "question_mark",
            "greater_than_sign",
            "left_square_bracket",
            "right_square_bracket",
            "minus",
            "plus",
            "comma",
            "full_stop",
        ]
    ),
]
HOW_MANY = 20_000 if os.environ.get("FIELDLOG_LONG") else 120
STARTS = {
    "places": "",
    "day": "enter",
    "bench": "enter 3 enter",
    "rig log": "l",
    "squad": "q",
    "exchange": "d",
}


@pytest.mark.parametrize("start", STARTS)
async def test_no_random_keys_end_the_application_or_lose_a_record(hands, sample, start):
    chance = random.Random(start)
    site = sample.site_named("Skarvik boathouse")
    before = {revision.id for revision in site.revisions()}
    async with hands(sample) as pair:
        await pair.press(STARTS[start])
        for _ in range(HOW_MANY):
            await pair._strike(chance.choice(KEYS))
            if chance.random() < 0.3:
                await pair.settle()
            if chance.random() < 0.02:
                await pair.pilot.resize_terminal(
                    chance.choice([30, 60, 80, 120]), chance.choice([10, 20, 24, 40])
                )
        await pair.settle()
        assert pair.app._exception is None
    assert before <= {revision.id for revision in site.revisions()}
    with Workspace.open(sample.path) as again:
        assert {revision.id for revision in again.site_named("Skarvik boathouse").revisions()} == {
            revision.id for revision in site.revisions()
        }


async def test_what_was_saved_is_there_for_the_next_who_opens(hands, tmp_path):
    workspace = Workspace.create(tmp_path / "w")
    store = workspace.add_site(Site(id="s1", name="Hall", latitude_deg=60, height_m=4), by="t")
    async with hands(workspace) as pair:
        await pair.press("enter down enter enter enter")
        saved = len(store.revisions())
    with Workspace.open(tmp_path / "w") as again:
        assert len(again.site_named("Hall").revisions()) == saved
    workspace.close()
