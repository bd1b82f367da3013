"""Recordings in a folder: which files there are, and reading one with a column map that lies beside it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fieldlog.errors import InputError
from fieldlog.fieldwork.recording.column_maps import read_column_map
from fieldlog.fieldwork.recording.recording_reader import read_bytes
from fieldlog.records.column_map import ColumnMap

if TYPE_CHECKING:
    from fieldlog.fieldwork.recording.recording import Recording

__all__ = [
    "SUFFIXES",
    "RecordingFile",
    "Sweep",
    "complete_path",
    "map_for",
    "maps_beside",
    "read_fitting",
    "read_sweep",
    "recording_files",
]

SUFFIXES = (".csv", ".txt", ".tsv", ".dat")
MOST_FILES = 1000


@dataclass(frozen=True)
class RecordingFile:
    """A file that may be a recording; newest first."""

    path: Path
    size_bytes: int
    changed_at: dt.datetime


def recording_files(folder: Path) -> list[RecordingFile]:
    """Return the files of a folder that may be recordings, the newest first, at most a thousand.

    Raises InputError where the folder cannot be read.
    """
    try:
        found = [path for path in folder.iterdir() if path.suffix.casefold() in SUFFIXES and path.is_file()]
        files = [
            RecordingFile(path, status.st_size, dt.datetime.fromtimestamp(status.st_mtime).astimezone())
            for path in found
            for status in (path.stat(),)
        ]
    except OSError as error:
        raise InputError(f"{folder}: {error.strerror or error}", "name a folder with recordings") from None
    return sorted(files, key=lambda file: (file.changed_at, file.path.name), reverse=True)[:MOST_FILES]


def read_fitting(path: Path) -> tuple[bytes, ColumnMap | None, Recording]:
    """Return a recording file byte for byte, the column map it is read through, and the recording; read once.

    Any JSON file beside it that is a column map is tried; the map is ``None`` for our own columns. Raises
    InputError where it can be read neither with our own columns nor with any of the maps.
    """
    data = read_bytes(path)
    return data, *map_for(data, path.name, maps_beside(path))


def map_for(data: bytes, name: str, maps: Sequence[ColumnMap]) -> tuple[ColumnMap | None, Recording]:
    """Return the first of ``maps`` whose columns a recording has, ``None`` where it has our own, and the recording.

    Raises InputError where it can be read with none: with what is wrong under the only map there is, else under
    our own columns.
    """
    from fieldlog.fieldwork.recording.recording import read_recording

    errors: list[InputError] = []
    for column_map in (None, *maps):
        try:
            return column_map, read_recording(data, name=name, column_map=column_map)
        except InputError as error:
            errors.append(error)
    raise errors[1 if len(maps) == 1 else 0]


@dataclass(frozen=True)
class Sweep:
    """A recording of the relaxed limb moved both ways, as it was on disk."""

    name: str
    data: bytes


def read_sweep(path: Path) -> Sweep:
    """Read a relaxed sweep and see that a limb can be weighed with it.

    Raises InputError where it cannot be read, or where no movement is found in it.
    """
    from fieldlog.analysis.limb_sweep import weigh_sweep

    data, _, recording = read_fitting(path)
    try:
        weigh_sweep(recording.time_s, recording.angle_deg, recording.torque_nm, recording.velocity_deg_s)
    except ValueError as error:
        raise InputError(
            f"{path.name}: {error}", "choose the recording of the relaxed limb, moved both ways"
        ) from None
    return Sweep(path.name, data)


def complete_path(typed: str) -> str | None:
    """Return ``typed`` completed to the first file or folder that begins so, or ``None``."""
    path = Path(typed).expanduser()
    folder, start = (path, "") if typed.endswith("/") else (path.parent, path.name)
    try:
        names = sorted(
            entry.name + ("/" if entry.is_dir() else "")
            for entry in folder.iterdir()
            if entry.name.startswith(start)
            and not entry.name.startswith(".")
            and (entry.is_dir() or entry.suffix.casefold() in SUFFIXES)
        )
    except OSError:
        return None
    if not names:
        return None
    return typed[: len(typed) - len(start)] + names[0]


def maps_beside(recording: Path) -> list[ColumnMap]:
    """Return the column maps that lie beside a recording, by name."""
    maps = []
    for path in sorted(recording.parent.glob("*.json")):
        try:
            maps.append(read_column_map(path))
        except InputError:
            continue
    return maps
