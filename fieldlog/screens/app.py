"""The application: the workspace, who works on it, the clock, and what was saved last."""

from __future__ import annotations

import datetime as dt
import gc
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from textual import events
from textual.app import App
from textual.binding import BindingType

from fieldlog.errors import RefusedError
from fieldlog.fieldwork.recording_files import Sweep
from fieldlog.screens.keys import key
from fieldlog.screens.palette import DEFAULT_THEME, THEMES
from fieldlog.screens.places import PlacesRoom
from fieldlog.screens.room import Room
from fieldlog.screens.widgets.entry_listing import EntryListing
from fieldlog.screens.widgets.line_input import LineInput
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
        workspace: Workspace,
        *,
        by: str,
        clock: Callable[[], dt.datetime],
        theme: str = DEFAULT_THEME,
        keymap: dict[str, str] | None = None,
        ascii_only: bool = False,
    ) -> None:
        super().__init__()
        self.workspace = workspace
        self.by = by
        self.clock = clock
        self.animation_level = "none"
        self._saved: list[Saved] = []
        self.unfinished_answers: dict[tuple[str, str], dict[str, bool | float | str | None]] = {}
        self.sweeps: dict[tuple[str, str, str], Sweep] = {}
        self.ascii_only = ascii_only
        beside = workspace.path / "recordings"
        self.recordings_folder = beside if beside.is_dir() else Path.cwd()
        for known in THEMES:
            self.register_theme(known)
        self.theme = theme
        if keymap:
            self.set_keymap(keymap)

    def get_default_screen(self) -> PlacesRoom:
        """The first room."""
        return PlacesRoom()

    def on_ready(self) -> None:
        """Once the first room is painted: a process of its own keeps what it has loaded."""
        if not self.is_headless:
            self.spare_the_collector()

    def spare_the_collector(self) -> None:
        """Take what is loaded out of the collector's way, which takes 0.2 s to go through a large workspace."""
        gc.freeze()
        gc.set_threshold(*COLLECT_AFTER)

    async def on_event(self, event: events.Event) -> None:
        """Keep keys in order, also those that come before a room is up for them."""
        room = self.screen_stack[-1] if self._running and self.screen_stack else None
        if not isinstance(event, events.Key) or event.is_forwarded or room is None:
            await super().on_event(event)
        elif isinstance(room, Room) and not room.ready:
            room.early_keys.append(event)
        elif not await self._take_key(event):
            await super().on_event(event)

    async def _take_key(self, event: events.Key) -> bool:
        """Let what has the focus, then the bindings, have a key at once.

        Textual passes a key on from widget to widget; one typed while the room changes would be lost on the way.
        """
        focused = self.focused
        if isinstance(focused, LineInput | EntryListing) and focused.take_key(event):
            return True
        return await self._check_bindings(event.key, priority=True) or await self._check_bindings(event.key)

    @property
    def today(self) -> dt.date:
        """The date at the tester's place."""
        return self.clock().date()

    def note_saved(self, words: str, *records: tuple[Store, str, str]) -> None:
        """Remember what an undo would take back: store, table and id of each record."""
        self._saved.append(Saved(words, records))

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
