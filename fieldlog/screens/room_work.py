"""What every room does while it reads or saves in a thread: keys wait, none is lost, nothing is shown too late."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any, cast

from textual import events

from fieldlog.screens.keys import MEANINGS
from fieldlog.screens.room_lists import RoomLists

if TYPE_CHECKING:
    from fieldlog.screens.app import FieldlogApp

__all__ = ["RoomWork"]

_NEVER_HELD_BACK = frozenset(MEANINGS[name].key for name in ("back", "help", "help_f1", "commands", "leave"))


class RoomWork(RoomLists):
    """Reading and saving beside the keys."""

    def __init__(self) -> None:
        super().__init__()
        self.ready = False
        self.reading = False
        self.saving = False
        self.handing_on = False
        self.early_keys: list[events.Key] = []

    @property
    def fieldlog(self) -> FieldlogApp:
        """The application, with the workspace and who works on it."""
        return cast("FieldlogApp", self.app)

    def _hand_on_early_keys(self) -> None:
        # After what is on its way already: a list that begins with the focus gets it later, and a key that came
        # before that would lose the line it opened.
        self.handing_on = True
        self.app.call_later(self.fieldlog.take_early_keys, self)

    def holds_back(self, key_name: str) -> bool:
        """Tell whether a key waits until the room is up, has read what it is about and has saved; no key is lost."""
        if not self.ready or self.handing_on or self.saving:
            return True
        return self.reading and key_name not in _NEVER_HELD_BACK

    def read_behind(self, work: Callable[[], None], group: str, *, first: bool) -> None:
        """Read in a thread; keys wait for the ``first`` reading, which ends with :meth:`reading_done`."""
        self.reading = self.reading or first
        self.run_worker(work, thread=True, exclusive=True, group=group)

    def reading_done(self, failure: str = "") -> None:
        """What was read is shown, or it is said why not; keys that were pressed meanwhile are taken."""
        if failure:
            self.say(failure, "bad")
        if self.reading:
            self.reading = False
            self._hand_on_early_keys()

    def save_behind(self, work: Callable[[], None]) -> None:
        """Save in a thread; every key waits until it is on disk, so nobody leaves before or saves twice."""
        self.saving = True
        self.run_worker(partial(self._save_and_release, work), thread=True, exclusive=True, group="save")

    def _save_and_release(self, work: Callable[[], None]) -> None:
        try:
            work()
        finally:
            self.fieldlog.call_from_thread(self._saving_done)

    def _saving_done(self) -> None:
        # Also where another room has taken the place of this one: it gets the keys.
        self.saving = False
        self._hand_on_early_keys()

    def from_thread(self, show: Callable[..., None], *values: Any) -> None:
        """Show what a thread has found, unless the room was left meanwhile."""
        self.fieldlog.call_from_thread(self._while_open, partial(show, *values))

    def _while_open(self, show: Callable[[], None]) -> None:
        if self.is_attached and self in self.app.screen_stack:
            show()
