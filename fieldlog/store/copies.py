"""Another copy of a workspace, looked at with doubt: what it offers, and lines of it that fit a damaged file."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable
from pathlib import Path

from fieldlog.errors import FieldlogError
from fieldlog.store.disk import Disk
from fieldlog.store.journal import ACTIVE
from fieldlog.store.lines import Header, LineError, Revision, read_commit, unframe
from fieldlog.store.persons import PERSON_NAME
from fieldlog.store.sealed import SEALED_NAME
from fieldlog.store.store_file import STORE_FILE, read_store_file
from fieldlog.store.traces import TRACE_NAME

__all__ = ["Copy", "bad_stretches", "fitting_lines", "revisions_of", "whole_lines"]


class Copy:
    """What a folder tree offers: files whose names say what they are."""

    def __init__(self, source: Path, disk: Disk) -> None:
        self._disk = disk
        self._named: dict[str, list[Path]] = {}
        self.active: list[Path] = []
        self.store_ids: set[str] = set()
        for folder, _, files in os.walk(source):
            for name in files:
                if name == ACTIVE:
                    self.active.append(Path(folder) / name)
                elif name == STORE_FILE:
                    self._note_store(Path(folder))
                elif SEALED_NAME.fullmatch(name) or TRACE_NAME.fullmatch(name) or PERSON_NAME.fullmatch(name):
                    self._named.setdefault(name, []).append(Path(folder) / name)

    def versions(self, name: str) -> Iterable[bytes]:
        for path in self._named.get(name, ()):
            yield self.read(path)

    def sealed(self) -> list[str]:
        return sorted(name for name in self._named if SEALED_NAME.fullmatch(name))

    def line_files(self) -> Iterable[bytes]:
        for path in self.active:
            yield self.read(path)
        for name in self.sealed():
            yield from self.versions(name)

    def _note_store(self, folder: Path) -> None:
        with contextlib.suppress(FieldlogError):
            self.store_ids.add(read_store_file(folder, self._disk)[0])

    def read(self, path: Path) -> bytes:
        try:
            return self._disk.read_file(path)
        except OSError:
            return b""


def fitting_lines(
    data: bytes, stretches: list[tuple[int, int]], candidates: Iterable[bytes]
) -> dict[int, bytes]:
    """Return whole lines for damaged stretches, from files that agree with ``data`` everywhere else."""
    found: dict[int, bytes] = {}
    for candidate in candidates:
        for offset, length in stretches:
            line = candidate[offset : offset + length]
            if offset in found or not line.endswith(b"\n") or not _agrees(data, candidate, stretches):
                continue
            try:
                unframe(line[:-1])
            except LineError:
                continue
            found[offset] = line
    return found


def _agrees(data: bytes, candidate: bytes, stretches: list[tuple[int, int]]) -> bool:
    position, agreed = 0, 0
    for offset, length in [*stretches, (min(len(data), len(candidate)), 0)]:
        if data[position:offset] != candidate[position:offset]:
            return False
        agreed += max(offset - position, 0)
        position = offset + length
    return agreed > 0


def whole_lines(data: bytes) -> tuple[Header | None, list[bytes], list[Revision]]:
    header: Header | None = None
    lines: list[bytes] = []
    revisions: list[Revision] = []
    for number, line in enumerate(data.split(b"\n")[:-1]):
        try:
            payload = unframe(line)
            if number == 0:
                header = Header.read(payload)
            elif payload.startswith(b"["):
                revisions += read_commit(payload)
        except LineError:
            continue
        lines.append(line + b"\n")
    return header, lines, revisions


def bad_stretches(data: bytes) -> list[tuple[int, int]]:
    found, offset = [], 0
    for line in data.split(b"\n")[:-1]:
        try:
            unframe(line)
        except LineError:
            found.append((offset, len(line) + 1))
        offset += len(line) + 1
    return found


def revisions_of(line: bytes) -> list[Revision]:
    payload = unframe(line[:-1])
    return read_commit(payload) if payload.startswith(b"[") else []
