"""Watching a folder for recordings: the loop around the looks of fieldwork. Runs in a thread; touches no screen."""

from __future__ import annotations

import time
from collections.abc import Generator
from pathlib import Path
from typing import Protocol

from fieldlog.fieldwork.recording.arrivals import (
    FolderLook,
    complete_files,
    first_look,
    is_being_written,
    look_at,
    still_open,
)

__all__ = ["FolderWatcher", "watch_folder"]

_TICK_MS = 100
# Without a word from the system a folder is looked at only now and then: some network folders say nothing.
_QUIET_TICKS = 20


class FolderWatcher(Protocol):
    """Who is told; each is called in the watching thread."""

    def file_complete(self, path: Path) -> None:
        """A recording is complete."""

    def folder_missing(self, why: str) -> None:
        """The folder cannot be seen any more."""

    def folder_back(self) -> None:
        """The folder is there again."""

    def watch_is_over(self) -> bool:
        """Whether to stop."""


def watch_folder(folder: Path, told: FolderWatcher) -> None:
    """Tell of each recording that becomes complete in a folder, until it is over.

    What lay there at the beginning is not told of. A folder that vanishes is waited for.
    """
    look = first_look(look_at(folder, time.monotonic()))
    if look.missing:
        told.folder_missing(look.missing)
    ticks = _ticks(folder, told)
    while not told.watch_is_over():
        if not _wait(ticks, look):
            ticks.close()
            time.sleep(_TICK_MS / 1000)
            ticks = _ticks(folder, told)
        was_missing = bool(look.missing)
        look, names = complete_files(look, look_at(folder, time.monotonic()))
        if look.missing and not was_missing:
            told.folder_missing(look.missing)
        elif was_missing and not look.missing:
            told.folder_back()
        open_yet = [name for name in names if is_being_written(folder / name)]
        look = still_open(look, open_yet)
        for name in names:
            if name not in open_yet:
                told.file_complete(folder / name)
    ticks.close()


def _wait(ticks: Generator[bool, None, None], look: FolderLook) -> bool:
    """Wait until something happened or it is time to look anyway; False where the folder cannot be watched."""
    for _ in range(1 if look.is_waiting else _QUIET_TICKS):
        happened = None if look.missing else next(ticks, None)
        if happened is None:
            return False
        if happened:
            break
    return True


def _ticks(folder: Path, told: FolderWatcher) -> Generator[bool, None, None]:
    """Every tenth of a second whether something happened in the folder; ends where it cannot be watched."""
    from watchfiles import watch

    class _Over:
        def is_set(self) -> bool:
            return told.watch_is_over()

    try:
        for changes in watch(
            folder,
            watch_filter=None,
            debounce=_TICK_MS // 2,
            step=_TICK_MS // 2,
            stop_event=_Over(),
            rust_timeout=_TICK_MS,
            yield_on_timeout=True,
            raise_interrupt=False,
            recursive=False,
        ):
            yield bool(changes)
    except (OSError, RuntimeError):
        return
