"""A monkey at the keyboard: no key sequence ends the application or loses a record."""

import asyncio
import errno
import os
import random
import sys

import pytest

from fieldlog.records.site import Site
from fieldlog.store.disk import Disk
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
LONG = bool(os.environ.get("FIELDLOG_LONG"))
HOW_MANY = int(os.environ.get("FIELDLOG_MONKEY_KEYS") or (20_000 if LONG else 40))
# Capital letters and combinations belong to the keys too.
KEYS += [*"ABCDEFIKMPRSTUVWX", "ctrl+y", "ctrl+t", "f5", "f6", "f7", "f8", "f9", "backspace", "escape"]
STARTS = {
    "places": "",
    "day": "enter",
    "check": "enter a 2 enter enter enter",
    "bench": "enter 3 enter",
    "setup": "enter 3 enter space",
    "batch": "enter 3 p enter",
    "clearance": "enter 3 c",
    "rig log": "l",
    "check shown": "l enter",
    "touched": "l t",
    "standards": "l h",
    "squad": "q",
    "exchange": "d",
    "plans": "E",
    "plan": "E enter",
    "questions": "E end enter",
    "timetable": "enter 3 B",
    "athlete today": "enter 3 K",
    "settings": "f9",
    "commands": "ctrl+p",
}


def known(workspace):
    """Every revision of every store: what is on the disk and must stay there."""
    return {store.name: {revision.id for revision in store.revisions()} for store in workspace.stores()}


async def mash(pair, chance, count, seen=None):
    """Press keys at random, now and then another size; ``seen`` is called now and then."""
    for number in range(count):
        await pair._strike(chance.choice(KEYS))
        if chance.random() < 0.3:
            await pair.settle()
        if chance.random() < 0.02:
            await pair.pilot.resize_terminal(
                chance.choice([30, 60, 80, 120]), chance.choice([10, 20, 24, 40])
            )
        if seen is not None and number % 20 == 0:
            await seen()
        if pair.app._exit:
            return
    await pair.settle()


@pytest.mark.parametrize("start", STARTS)
async def test_no_random_keys_end_the_application_or_lose_a_record(hands, sample, start, monkeypatch):
    # A monkey types no address; what it would reach is not its own.
    monkeypatch.chdir(sample.path)
    chance = random.Random(start)
    before = known(sample)
    async with hands(sample) as pair:
        await pair.press(STARTS[start])
        left = HOW_MANY
        while left > 0:
            await mash(pair, chance, min(left, 500))
            left -= 500
            assert pair.app._exception is None
            if pair.app._exit:
                break
    after = known(sample)
    for name, revisions in before.items():
        assert revisions <= after[name], name
    with Workspace.open(sample.path) as again:
        assert known(again) == after


async def test_a_monkey_loses_nothing_while_another_process_syncs_the_same_workspace(
    hands, sample, tmp_path, monkeypatch
):
    monkeypatch.chdir(sample.path)
    before, chance = known(sample), random.Random("sync")
    program = (
        "import sys; from fieldlog.cli.main import main; main(sys.argv[1:])",
        "--workspace",
        str(sample.path),
        "sync",
        str(tmp_path / "depot"),
        "--json",
    )
    ends = []

    async def sync_once():
        environment = os.environ | {"PYTHONPATH": os.pathsep.join(entry for entry in sys.path if entry)}
        process = await asyncio.create_subprocess_exec(
            sys.executable, "-c", *program, env=environment, stdout=asyncio.subprocess.PIPE, stderr=None
        )
        await process.communicate()
        ends.append(process.returncode)

    async with hands(sample) as pair:
        await pair.press("enter 3")
        for _ in range(20 if LONG else 1):
            syncing = asyncio.create_task(sync_once())
            while not syncing.done() and not pair.app._exit:
                await mash(pair, chance, 5)
            await syncing
        assert pair.app._exception is None
    assert ends
    assert set(ends) <= {0, 1}
    after = known(sample)
    with Workspace.open(sample.path) as again:
        reread = known(again)
    for name, revisions in before.items():
        assert revisions <= after[name]
        assert after[name] <= reread[name]


async def test_a_monkey_in_a_workspace_that_cannot_be_written_is_told_so_and_changes_nothing(
    hands, sample, monkeypatch
):
    def refuse(*_args, **_options):
        raise OSError(errno.EROFS, "Read-only file system", str(sample.path))

    before = known(sample)
    for name in ("open_append", "write_file", "make_folder"):
        monkeypatch.setattr(Disk, name, refuse)
    monkeypatch.setattr("fieldlog.fieldwork.drafts.os.fsync", refuse)
    monkeypatch.chdir(sample.path)
    async with hands(sample) as pair:
        for start in ("enter", "enter 3 enter", "q"):
            await pair.press(f"escape escape escape {start}")
            await mash(pair, random.Random(start), 2_000 if LONG else 60)
            assert pair.app._exception is None
            if pair.app._exit:
                break
    assert known(sample) == before


async def test_what_was_saved_is_there_for_the_next_who_opens(hands, tmp_path):
    workspace = Workspace.create(tmp_path / "w")
    store = workspace.add_site(Site(id="s1", name="Hall", latitude_deg=60, height_m=4), by="t")
    async with hands(workspace) as pair:
        await pair.press("enter down enter enter enter")
        saved = len(store.revisions())
    with Workspace.open(tmp_path / "w") as again:
        assert len(again.site_named("Hall").revisions()) == saved
    workspace.close()
