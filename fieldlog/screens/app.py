"""The application: the workspace, who works on it, the clock, and what was saved last."""

from __future__ import annotations

import datetime as dt
import gc
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import App
from textual.binding import BindingType
from textual.widgets import Input

from fieldlog.errors import FieldlogError, RefusedError
from fieldlog.screens.arrival_desk import ArrivalDesk
from fieldlog.screens.keys import key
from fieldlog.screens.palette import DEFAULT_THEME, THEMES
from fieldlog.screens.places import PlacesRoom
from fieldlog.screens.room import Room
from fieldlog.screens.widgets.entry_listing import EntryListing
from fieldlog.screens.widgets.line_input import LineInput
from fieldlog.screens.words import SHOWN, Shown

if TYPE_CHECKING:
    from fieldlog.fieldwork.recording.recording_files import Sweep
    from fieldlog.store.store import Store
    from fieldlog.store.workspace import Workspace

__all__ = ["FieldlogApp", "Saved"]

COLLECT_AFTER = (20_000, 20, 200)


@dataclass(frozen=True)
class Saved:
    """Something that was saved: in words, and the records an undo takes back, the latest first."""

    words: str
    records: tuple[tuple[Store, str, str], ...]


class FieldlogApp(App[None]):
    """fieldlog on one workspace."""

    TITLE = "fieldlog"
    ENABLE_COMMAND_PALETTE = False
    CSS = """
    Screen { background: $background; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [key("leave", "quit", show=False)]

    def __init__(
        self,
        workspace: Workspace | Callable[[], Workspace],
        *,
        by: str,
        clock: Callable[[], dt.datetime],
        theme: str = DEFAULT_THEME,
        keymap: dict[str, str] | None = None,
        ascii_only: bool = False,
        shown: Shown | None = None,
    ) -> None:
        super().__init__()
        SHOWN.set(shown or Shown())
        self._workspace: Workspace | None = None
        self._opener: Callable[[], Workspace] | None = None
        self.failure: BaseException | None = None
        self.recordings_folder = Path.cwd()
        self.by = by
        self.clock = clock
        self.animation_level = "none"
        self._saved: list[Saved] = []
        self.unfinished_answers: dict[tuple[str, str], dict[str, bool | float | str | None]] = {}
        self.sweeps: dict[tuple[str, str, str], Sweep] = {}
        self.arrivals = ArrivalDesk()
        self.ascii_only = ascii_only
        if callable(workspace):
            self._opener = workspace
        else:
            self._take_workspace(workspace)
        for known in THEMES:
            self.register_theme(known)
        self.theme = theme
        if keymap:
            self.set_keymap(keymap)

    @property
    def workspace(self) -> Workspace:
        """The workspace; the first room opens it where that was left to it."""
        assert self._workspace is not None
        return self._workspace

    @property
    def is_open(self) -> bool:
        """Whether the workspace is open."""
        return self._workspace is not None

    def open_workspace(self) -> None:
        """Open the workspace. Raises what the opener raises."""
        assert self._opener is not None
        self._take_workspace(self._opener())

    def _take_workspace(self, workspace: Workspace) -> None:
        self._workspace = workspace
        beside = workspace.path / "recordings"
        if beside.is_dir():
            self.recordings_folder = beside

    def fail(self, failure: BaseException) -> None:
        """Leave, and hand the failure to who started the application."""
        self.failure = failure
        self.exit(return_code=2)

    def get_default_screen(self) -> PlacesRoom:
        """The first room."""
        return PlacesRoom()

    def spare_the_collector(self) -> None:
        """Take what is loaded out of the collector's way, which takes 0.2 s to go through a large workspace."""
        gc.freeze()
        gc.set_threshold(*COLLECT_AFTER)

    async def on_event(self, event: events.Event) -> None:
        """Keep keys in order, also those that come before a room is up for them."""
        room = self.screen_stack[-1] if self._running and self.screen_stack else None
        if not isinstance(event, events.Key) or event.is_forwarded or room is None:
            await super().on_event(event)
        elif isinstance(room, Room) and room.holds_back(event.key):
            room.early_keys.append(event)
        elif not await self._take_key(event):
            await super().on_event(event)

    async def take_early_keys(self, room: Room) -> None:
        """Take the keys that came before a room was up for them, in their order."""
        early, room.early_keys = room.early_keys, []
        room.handing_on = False
        for event in early:
            await self.on_event(events.Key(event.key, event.character))

    async def _take_key(self, event: events.Key) -> bool:
        """Let what has the focus, then the bindings, have a key at once.

        Textual passes a key on from widget to widget; one typed while the room changes would be lost on the way.
        """
        focused, room = self.focused, self.screen
        if isinstance(focused, LineInput | EntryListing) and focused.take_key(event):
            return True
        with room.telling() if isinstance(room, Room) else nullcontext():
            for priority in (True, False):
                if await self._check_bindings(event.key, priority=priority):
                    return True
            if isinstance(room, Room) and event.is_printable and not isinstance(focused, Input):
                room.say(f"{event.character} does nothing here; ? lists the keys", "quiet")
            return False
        return True

    def turn_back(self, error: FieldlogError) -> None:
        """A room cannot be opened: go back to the one before and say why there."""
        if len(self.screen_stack) > 1:
            self.pop_screen()
            if isinstance(self.screen, Room):
                self.screen.say(str(error), "bad")
        else:
            self.fail(error)

    @property
    def today(self) -> dt.date:
        """The date at the tester's place."""
        return self.clock().date()

    def note_saved(self, words: str, *records: tuple[Store, str, str]) -> None:
        """Remember what an undo would take back: store, table and id of each record."""
        self._saved.append(Saved(words, records))

    def undo_if_last(self, document: str) -> bool:
        """Take back what was saved last if this record was among it; say whether it was."""
        if not self._saved or document not in {key for _, _, key in self._saved[-1].records}:
            return False
        self.undo_last()
        return True

    def undo_last(self) -> str:
        """Take back what was saved last in this session, and say what it was.

        Raises RefusedError where there is nothing.
        """
        if not self._saved:
            raise RefusedError("nothing to undo", "nothing was saved since fieldlog was opened")
        saved = self._saved[-1]
        for store, table, document in saved.records:
            store.undo(table, document, by=self.by)
        self._saved.pop()
        return f"undone: {saved.words}"
