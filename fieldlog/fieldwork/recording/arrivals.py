"""A folder in which recordings arrive: what lies in it, which files are complete, and which were never taken in.

Nothing here waits or watches: each function is given one look at the folder, or two.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from fieldlog.errors import InputError
from fieldlog.fieldwork.books import everywhere
from fieldlog.fieldwork.drafts import Drafts
from fieldlog.fieldwork.recording.recording_files import SUFFIXES, recording_files
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = [
    "STILL_S",
    "FileLook",
    "FolderLook",
    "complete_files",
    "first_look",
    "is_being_written",
    "is_recording_name",
    "keep_watched_folder",
    "look_at",
    "still_open",
    "unused_files",
    "watched_folder",
]

STILL_S = 0.25
"""A file is complete once it has not changed for so many seconds, or for longer where it was seen to grow slowly."""

_SLOWER = 1.5
_LONGEST_STILL_S = 10.0
_UNFINISHED = (".part", ".partial", ".tmp", ".temp", ".crdownload", ".download", ".filepart", ".new")
MOST_LOOKED_AT = 100


@dataclass(frozen=True)
class FileLook:
    """A file at one moment. ``since_s`` is when it was first seen as it is, ``pause_s`` how long it paused before."""

    size_bytes: int
    changed_ns: int
    since_s: float
    pause_s: float = 0.0
    told: bool = False

    def is_as(self, other: FileLook) -> bool:
        """Whether nothing was written between the two looks."""
        return (self.size_bytes, self.changed_ns) == (other.size_bytes, other.changed_ns)


@dataclass(frozen=True)
class FolderLook:
    """The recordings of a folder at the moment ``at_s``, by name; ``missing`` says why it cannot be seen.

    ``ever_seen``: whether it could be seen at this look or an earlier one.
    """

    at_s: float
    files: Mapping[str, FileLook]
    missing: str = ""
    ever_seen: bool = True

    @property
    def is_waiting(self) -> bool:
        """Whether a file is there that is not known to be complete yet."""
        return not self.missing and any(not file.told for file in self.files.values())


def is_recording_name(name: str) -> bool:
    """Whether a file of this name may be a recording, and is not one that is still being copied."""
    small = Path(name.casefold())
    return (
        small.suffix in SUFFIXES
        and not name.startswith((".", "~", "$"))
        and not small.stem.endswith((*_UNFINISHED, "~"))
    )


def look_at(folder: Path, at_s: float) -> FolderLook:
    """Return what lies in a folder now; a folder that is not there (a stick pulled out) is said, not raised."""
    files = {}
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if is_recording_name(entry.name) and entry.is_file():
                    status = entry.stat()
                    files[entry.name] = FileLook(status.st_size, status.st_mtime_ns, at_s)
    except FileNotFoundError as error:
        # A file that vanished between listing and looking is no reason to give the folder up.
        if folder.is_dir():
            return FolderLook(at_s, files)
        return FolderLook(at_s, {}, missing=error.strerror or "not there", ever_seen=False)
    except OSError as error:
        return FolderLook(at_s, {}, missing=error.strerror or str(error), ever_seen=False)
    return FolderLook(at_s, files)


def first_look(look: FolderLook) -> FolderLook:
    """The look a watch begins with: what lies there already is known, and never taken in unasked."""
    return replace(look, files={name: replace(file, told=True) for name, file in look.files.items()})


def complete_files(before: FolderLook, now: FolderLook) -> tuple[FolderLook, tuple[str, ...]]:
    """Return the look to compare the next one with, and the names of the files that are complete since ``before``.

    Complete is a file with content that stayed the same for ``STILL_S``, or one and a half times the longest
    pause it made while it grew. Each state of a file is told once; one that grows later is told again. While the
    folder is missing nothing is forgotten, so that only what is new is told when it is back; what lies in one
    that was never seen before lay there before.
    """
    if now.missing:
        return replace(now, files=before.files, ever_seen=before.ever_seen), ()
    if not before.ever_seen:
        return first_look(now), ()
    files: dict[str, FileLook] = {}
    complete = []
    for name, file in now.files.items():
        earlier = before.files.get(name)
        if earlier is None:
            files[name] = file
        elif not earlier.is_as(file):
            pause_s = 0.0 if earlier.told else max(earlier.pause_s, now.at_s - earlier.since_s)
            files[name] = replace(file, since_s=now.at_s, pause_s=pause_s)
        else:
            still_s = min(max(STILL_S, _SLOWER * earlier.pause_s), _LONGEST_STILL_S)
            if not earlier.told and earlier.size_bytes and now.at_s - earlier.since_s >= still_s:
                complete.append(name)
                earlier = replace(earlier, told=True)
            files[name] = earlier
    return replace(now, files=files), tuple(sorted(complete, key=lambda name: files[name].changed_ns))


def still_open(look: FolderLook, names: Iterable[str]) -> FolderLook:
    """Return the look with these files not told of yet: a program still has them open for writing."""
    files = {
        **look.files,
        **{name: replace(look.files[name], told=False, since_s=look.at_s) for name in names},
    }
    return replace(look, files=files)


def is_being_written(path: Path) -> bool:
    """Whether a program still has the file open for writing; False where the system does not tell.

    Linux tells by refusing a read lease. Elsewhere a file counts as complete once it stays as it is.
    """
    try:
        import fcntl
        import signal

        set_lease, set_signal = fcntl.F_SETLEASE, fcntl.F_SETSIG
    except (ImportError, AttributeError):
        return False
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    except OSError:
        return False
    try:
        # Who opens the file during this moment is told to the lease holder by a signal; this one does nothing.
        fcntl.fcntl(handle, set_signal, signal.SIGURG)
        fcntl.fcntl(handle, set_lease, fcntl.F_RDLCK)
        fcntl.fcntl(handle, set_lease, fcntl.F_UNLCK)
    except BlockingIOError:
        return True
    except OSError:
        return False
    finally:
        os.close(handle)
    return False


def unused_files(workspace: Workspace, folder: Path, visit: Visit) -> list[Path]:
    """Return the recordings of the visit's day in a folder that belong to no set and no weighing, the newest first.

    At most a hundred are looked at. Raises InputError where the folder cannot be read.
    """
    unused = []
    for file in recording_files(folder)[:MOST_LOOKED_AT]:
        if file.changed_at.date() != visit.date or not is_recording_name(file.path.name):
            continue
        try:
            digest = hashlib.sha256(file.path.read_bytes()).hexdigest()
        except OSError:
            continue
        if not any(
            True
            for field in ("trace", "sweep_trace")
            for _ in everywhere(workspace, EffortSet, **{field: digest})
        ):
            unused.append(file.path)
    return unused


def watched_folder(workspace: Workspace, store: Store, visit: Visit) -> Path | None:
    """The folder this laptop watches during a visit, or None where none was named."""
    kept = Drafts(workspace.path).load(_draft_name(store, visit)) or {}
    folder = kept.get("folder")
    return Path(folder) if isinstance(folder, str) and folder else None


def keep_watched_folder(workspace: Workspace, store: Store, visit: Visit, typed: str) -> Path | None:
    """Keep which folder this laptop watches during a visit; an empty text ends it.

    Raises InputError where there is no such folder.
    """
    folder = Path(typed.strip()).expanduser() if typed.strip() else None
    if folder is not None and not folder.is_dir():
        raise InputError(f"{folder}: there is no such folder", "type the folder the rig's files arrive in")
    Drafts(workspace.path).save(
        _draft_name(store, visit), {"folder": str(folder.absolute()) if folder else ""}
    )
    return folder.absolute() if folder else None


def _draft_name(store: Store, visit: Visit) -> str:
    return f"watched/{store.id}/{visit.id}"
