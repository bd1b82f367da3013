"""The rig log as it stands on the screen and as plain text, letter by letter.

FIELDLOG_WRITE_GOLDENS=1 writes the files anew; look at the difference before keeping it.
"""

import datetime as dt
import os
from pathlib import Path

import pytest

from fieldlog.screens.text_view import room_lines

GOLDENS = Path(__file__).parent / "goldens"
MORNING = dt.datetime(2026, 5, 6, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))


def as_kept(name, text):
    """What the golden file of this name holds; with the switch set, it is written first."""
    path = GOLDENS / f"{name}.txt"
    text = "\n".join(line.rstrip() for line in text.splitlines()) + "\n"
    if os.environ.get("FIELDLOG_WRITE_GOLDENS"):
        path.write_text(text, encoding="utf-8")
    assert text == path.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("name", "size", "keys", "options"),
    [
        ("rig_log_80x24", (80, 24), (), {}),
        ("rig_log_80x24_points", (80, 24), ("p", "]"), {}),
        ("rig_log_80x24_ascii", (80, 24), (), {"ascii_only": True}),
        ("rig_log_120x40", (120, 40), (), {}),
        ("touched_80x24", (80, 24), ("t",), {}),
    ],
)
async def test_the_room_stands_as_it_was_kept(hands, sample, name, size, keys, options):
    async with hands(sample, start=MORNING, size=size, **options) as pair:
        await pair.press("l")
        for key in keys:
            await pair.press(key)
        as_kept(name, pair.text)


async def test_without_colour_the_room_reads_the_same(hands, sample, monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    async with hands(sample, start=MORNING) as pair:
        await pair.press("l")
        as_kept("rig_log_80x24", pair.text)


def test_as_plain_text_every_figure_is_said(sample):
    lines = room_lines(sample, "rig-log", clock=lambda: MORNING, rig="rig A", width=100)
    as_kept("rig_log_text", "\n".join(lines))
