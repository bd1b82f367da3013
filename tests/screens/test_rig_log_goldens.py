"""The rig log as it stands on the screen and as plain text, letter by letter.

FIELDLOG_WRITE_GOLDENS=1 writes the files anew; look at the difference before keeping it.
"""

import datetime as dt

import pytest

from fieldlog.screens.text_view import room_lines
from tests.screens.kept_text import assert_as_kept

MORNING = dt.datetime(2026, 5, 6, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))


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
        assert_as_kept(f"{name}.txt", pair.text)


async def test_without_colour_the_room_reads_the_same(hands, sample, monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    async with hands(sample, start=MORNING) as pair:
        await pair.press("l")
        assert_as_kept("rig_log_80x24.txt", pair.text)


def test_as_plain_text_every_figure_is_said(sample):
    lines = room_lines(sample, "rig-log", clock=lambda: MORNING, rig="rig A", width=100)
    assert_as_kept("rig_log_text.txt", "\n".join(lines))
