"""When the disk fills, a workspace cannot be written, or something is missing: a word, no traceback, nothing lost."""

import errno

import pytest

from fieldlog.errors import NotFoundError, SaveError
from fieldlog.fieldwork.visit.visits import visits_of
from fieldlog.screens.room import Room
from fieldlog.store.store import Store
from tests.screens.test_check_by_keys import UP, begin, read


@pytest.fixture
def full_disk(monkeypatch):
    def no_room(*_args, **_options):
        raise OSError(errno.ENOSPC, "No space left on device", "drafts")

    return lambda: monkeypatch.setattr("fieldlog.fieldwork.drafts.os.fsync", no_room)


async def test_a_disk_that_fills_while_typing_keeps_the_reading_in_its_row(
    hands, workspace, full_disk, monkeypatch
):
    async with hands(workspace) as pair:
        await begin(pair)
        await read(pair, UP[:2])
        full_disk()
        await pair.type("56.4")
        assert "No space left" in pair.said
        assert "[56.4" in pair.text
        assert "1 of 10 points" in pair.text
        monkeypatch.undo()
        await pair.press("enter")
        assert "2 of 10 points" in pair.text


async def test_a_record_that_cannot_be_saved_is_said_and_not_shown_as_saved(hands, workspace, monkeypatch):
    def refuse(*_args, **_options):
        raise SaveError("boathouse: the disk is read-only", "free it, then do it again")

    async with hands(workspace) as pair:
        await pair.press("enter down")
        monkeypatch.setattr(Store, "commit", refuse)
        await pair.press("enter")
        assert "read-only" in pair.said
        assert "✓ confirmed" not in pair.text
    assert visits_of(workspace.site_named("Boathouse")) == []


async def test_a_finished_check_that_cannot_be_saved_is_kept_as_a_draft_and_tried_again(
    hands, workspace, monkeypatch
):
    async with hands(workspace) as pair:
        await begin(pair, masses="5")
        await read(pair, ["7.3", "31.9", "7.3"])
        await pair.press("enter enter")
        await read(pair, ["7.2", "31.7"])
        with monkeypatch.context() as patched:

            def refuse(*_args, **_options):
                raise SaveError("boathouse: no space left", "free some")

            patched.setattr(Store, "commit", refuse)
            await read(pair, ["7.2"])
            assert "not saved" in pair.said
        await pair.press("enter")
        assert "saved: opening check" in pair.said


async def test_a_room_that_cannot_open_says_why_in_the_room_before(hands, workspace):
    class Missing(Room):
        def prepare(self):
            raise NotFoundError("setup plan 'x' is not on this laptop", "exchange first")

    async with hands(workspace) as pair:
        pair.app.push_screen(Missing())
        await pair.settle()
        assert type(pair.room).__name__ == "PlacesRoom"
        assert "not on this laptop" in pair.said


async def test_a_workspace_that_cannot_be_opened_ends_the_application_with_the_reason(hands, tmp_path):
    def opener():
        raise NotFoundError("no such workspace", "make one")

    async with hands(opener) as pair:
        for _ in range(100):
            if pair.app.failure:
                break
            await pair.pilot.pause()
    assert isinstance(pair.app.failure, NotFoundError)
    assert pair.app.return_code == 2


async def test_the_workspace_is_opened_behind_the_first_paint(hands, workspace):
    async with hands(lambda: workspace) as pair:
        assert "Boathouse" in pair.text
        await pair.press("enter")
        assert type(pair.room).__name__ == "DayRoom"
