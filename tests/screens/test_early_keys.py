"""Keys pressed while a room still reads: none is lost, and the way back is always open."""

import asyncio
import threading

import pytest

import fieldlog.screens.exchange as exchange_module
import fieldlog.screens.rig_log as rig_log_module


@pytest.fixture
def slow(monkeypatch):
    """Make a reading wait until it is let go."""

    def hold(module, name):
        gate, real = threading.Event(), getattr(module, name)

        def held(*arguments, **options):
            gate.wait(10)
            return real(*arguments, **options)

        monkeypatch.setattr(module, name, held)
        return gate

    return hold


async def strike(pair, *keys):
    """Press keys without waiting for what works in threads."""
    for key in keys:
        await pair._strike(key)
    for _ in range(40):
        await asyncio.sleep(0.01)


async def test_a_key_pressed_while_the_rig_log_reads_is_taken_when_it_has_read(hands, sample, slow):
    gate = slow(rig_log_module, "rig_log")
    async with hands(sample) as pair:
        await strike(pair, "l")
        assert "reading the checks" in pair.text
        await strike(pair, "enter")
        assert type(pair.room).__name__ == "RigLogRoom"
        gate.set()
        await pair.settle()
        assert type(pair.room).__name__ == "CheckShown"


async def test_the_way_back_is_open_while_a_room_reads(hands, sample, slow):
    gate = slow(rig_log_module, "rig_log")
    async with hands(sample) as pair:
        await strike(pair, "l", "p", "escape")
        assert type(pair.room).__name__ == "PlacesRoom"
        gate.set()
        await pair.settle()
        assert type(pair.room).__name__ == "PlacesRoom"


async def test_what_is_read_after_the_room_was_left_is_shown_nowhere(hands, sample):
    async with hands(sample) as pair:
        await pair.press("l")
        left = pair.room
        await pair.press("escape")
        await asyncio.to_thread(left.from_thread, left.show_log)
        assert type(pair.room).__name__ == "PlacesRoom"


async def test_nobody_leaves_a_room_while_it_saves_and_the_keys_are_taken_afterwards(hands, sample):
    on_disk = threading.Event()
    async with hands(sample) as pair:
        await pair.press("l")
        pair.room.save_behind(lambda: on_disk.wait(10))
        await strike(pair, "escape", "q")
        assert type(pair.room).__name__ == "RigLogRoom"
        on_disk.set()
        await pair.settle()
        assert type(pair.room).__name__ == "SquadRoom"


async def test_help_comes_while_a_room_reads(hands, sample, slow):
    gate = slow(exchange_module, "standing")
    async with hands(sample) as pair:
        await strike(pair, "d", "question_mark")
        assert "closes this help" in pair.text
        gate.set()
        await pair.settle()


async def test_a_reading_that_fails_says_why_and_lets_the_keys_go(hands, sample, monkeypatch):
    from fieldlog.errors import InputError

    def refuse(*_arguments):
        raise InputError("the notes cannot be read", "look at them")

    monkeypatch.setattr(exchange_module, "standing", refuse)
    async with hands(sample) as pair:
        await pair.press("d")
        assert "cannot be read" in pair.said
        await pair.press("X")
        assert pair.room.query_one("AskLine").display


async def test_function_keys_go_from_list_to_list(hands, sample):
    async with hands(sample) as pair:
        assert "Places F5" in pair.text
        assert "Due F6" in pair.text
        await pair.press("f6")
        assert pair.room.focused.id == "due"
        await pair.press("f5")
        assert pair.room.focused.id == "places"
