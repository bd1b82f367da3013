"""Who tells the bench what happens in a watched folder; its methods run in the watching thread."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from textual.worker import get_current_worker

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.recording.arrivals import unused_files

if TYPE_CHECKING:
    from fieldlog.screens.arrivals import ArrivalRoom

__all__ = ["RoomWatcher"]


class RoomWatcher:
    """Tells the room what happens in the folder, from the watching thread."""

    def __init__(self, room: ArrivalRoom, folder: Path) -> None:
        self.room = room
        self.folder = folder
        self.worker = get_current_worker()

    def offer(self) -> None:
        """Tell of the recordings that lay there before."""
        room = self.room
        try:
            found = unused_files(room.fieldlog.workspace, self.folder, room.visit)
        except FieldlogError:
            return  # a folder that is not there is told of by the watch
        self._call(partial(room.offered, found))

    def file_complete(self, path: Path) -> None:
        """Take it in; a file that cannot be is said in one line and left where it is."""
        try:
            self.room.take_in(path)
        except (FieldlogError, OSError) as error:
            self._call(partial(self.room.say_arrival, f"not taken in: {error}", "bad"))

    def folder_missing(self, why: str) -> None:
        """The folder is gone."""
        self._call(partial(self.room.gone, self.folder, why))

    def folder_back(self) -> None:
        """The folder is there again, and perhaps recordings that were made meanwhile."""
        self._call(partial(self.room.back, self.folder))
        self.offer()

    def watch_is_over(self) -> bool:
        """Whether the room was left."""
        return self.worker.is_cancelled or not self.room.is_attached

    def _call(self, what: partial[None]) -> None:
        if not self.watch_is_over():
            self.room.app.call_from_thread(what)
