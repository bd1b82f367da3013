"""One letter, one meaning, in every room; every key explained and remappable."""

import importlib
import pkgutil

import pytest
from textual.screen import Screen

import fieldlog.screens
from fieldlog.screens.keys import MEANINGS, key
from fieldlog.screens.room import Room

TAKEN_BY_TERMINALS = {f"ctrl+{letter}" for letter in "ijmhsqz"}


def every_room():
    for module in pkgutil.walk_packages(fieldlog.screens.__path__, "fieldlog.screens."):
        importlib.import_module(module.name)

    def below(kind):
        for sub in kind.__subclasses__():
            yield sub
            yield from below(sub)

    return sorted(set(below(Room)), key=lambda kind: kind.__name__)


def bindings_of(room):
    return [
        binding
        for kind in room.__mro__
        for binding in vars(kind).get("BINDINGS", ())
        if issubclass(kind, Screen)
    ]


ROOMS = every_room()


def test_there_are_rooms_to_look_at():
    assert len(ROOMS) >= 10


@pytest.mark.parametrize("room", ROOMS, ids=lambda room: room.__name__)
def test_every_key_of_a_room_is_explained_and_can_be_remapped(room):
    for binding in bindings_of(room):
        if isinstance(binding, tuple) or binding.action.startswith("screen."):
            continue
        if binding.id is None:
            continue
        assert binding.tooltip, binding
        assert binding.key == MEANINGS[binding.id].key


def test_a_letter_has_one_meaning_in_all_rooms():
    meanings = {}
    for room in ROOMS:
        for binding in bindings_of(room):
            if not isinstance(binding, tuple) and binding.id and len(binding.key) == 1:
                meanings.setdefault(binding.key, set()).add(binding.id)
    assert {letter: ids for letter, ids in meanings.items() if len(ids) > 1} == {}


def test_the_letters_of_haste_mean_what_they_must():
    wanted = {
        "n": "note",
        "s": "stop",
        "u": "undo",
        "0": "zero",
        "x": "leave_out",
        "w": "weigh",
        "t": "touched",
    }
    assert {meaning.key: name for name, meaning in MEANINGS.items() if meaning.key in wanted} == wanted
    assert MEANINGS["next_athlete"].key == "greater_than_sign"


def test_no_key_is_one_that_terminals_take_for_themselves():
    assert not TAKEN_BY_TERMINALS & {meaning.key for meaning in MEANINGS.values()}


def test_every_meaning_has_a_word_and_a_sentence():
    for meaning in MEANINGS.values():
        assert meaning.word
        assert meaning.help[-1] in ".?"


def test_an_unknown_meaning_is_refused():
    with pytest.raises(KeyError):
        key("surprise")
