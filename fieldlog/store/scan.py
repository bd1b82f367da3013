"""Reading a file of lines from disk: in chunks, every checksum verified, damage named and stepped over."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Literal, Protocol

from fieldlog.store.disk import Disk
from fieldlog.store.lines import (
    MAX_LINE_BYTES,
    Check,
    Header,
    LineError,
    Revision,
    read_line,
    unframe,
)

__all__ = ["Kind", "Problem", "Scan", "first_line", "quiet_collector", "scan", "scan_checked"]

CHUNK_BYTES = 1 << 20
HEADER_BYTES = 64 << 10
MANY_OBJECTS = 50_000

Kind = Literal["torn", "damaged", "missing", "foreign", "orphan_trace", "missing_trace"]


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing an audit finds wrong: what kind, in which file (inside the store), in words."""

    kind: Kind
    file: str
    text: str


@dataclass(slots=True)
class Scan:
    """What a scan met: the end of the last whole line, how many commits, and the stretches of damage."""

    end: int
    commits: int = 0
    damaged: list[tuple[int, int]] = field(default_factory=list)


class Digest(Protocol):
    """What hashlib's objects do."""

    def update(self, data: bytes, /) -> None: ...


def scan(
    disk: Disk,
    descriptor: int,
    take: Callable[[Revision], object],
    *,
    size: int,
    start: int = 0,
    digest: Digest | None = None,
    check: Check = "all",
) -> Scan:
    """Read the lines between two offsets, hand each revision to ``take`` and return what was met.

    Bytes after the last whole line are left to the caller: they end beyond ``Scan.end``.
    """
    met = Scan(end=start)
    pool: dict[bytes, str] = {}
    for offset, line in _lines(disk, descriptor, start, size, digest):
        after = offset + len(line) + 1
        try:
            if after > size:
                break  # a line without its end is none
            revisions = read_line(line, pool, check)
        except LineError:
            met.damaged.append((offset, after - offset))
        else:
            for revision in revisions:
                take(revision)
            met.commits += bool(revisions)
            met.end = after
    return met


def scan_checked(disk: Disk, descriptor: int, size: int, digest: Digest) -> list[Revision]:
    """Return the revisions of a file that was checked in full before.

    The caller compares ``digest`` with the file's name before believing any of them. Raises
    LineError or ValueError where the file cannot be the one that was checked.
    """
    found: list[Revision] = []
    pool: dict[bytes, str] = {}
    lines = _lines(disk, descriptor, 0, size, digest)
    next(lines, None)  # the header
    for _, line in lines:
        found += read_line(line, pool, "nothing")
    return found


def first_line(disk: Disk, descriptor: int) -> tuple[Header | None, bytes]:
    """Return a file's header, None where its first line is none, and the bytes of the first line."""
    line, end, _ = disk.read_at(descriptor, 0, HEADER_BYTES).partition(b"\n")
    try:
        return (Header.read(unframe(line)) if end else None), line + end
    except LineError:
        return None, line + end


@contextmanager
def quiet_collector() -> Iterator[None]:
    """Hold back the garbage collector while many revisions are made, none of which is garbage."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            if gc.get_count()[0] > MANY_OBJECTS:
                # They stay as long as the store: the collector need not walk them again and again.
                gc.freeze()
            gc.enable()


def _lines(
    disk: Disk, descriptor: int, start: int, size: int, digest: Digest | None
) -> Iterator[tuple[int, bytes]]:
    position = offset = start
    carry = b""
    while position < size:
        chunk = disk.read_at(descriptor, position, min(CHUNK_BYTES, size - position))
        if not chunk:
            break
        position += len(chunk)
        if digest is not None:
            digest.update(chunk)
        lines = (carry + chunk).split(b"\n")
        carry = lines.pop()
        for line in lines:
            yield offset, line
            offset += len(line) + 1
        if len(carry) > MAX_LINE_BYTES:
            # No line is that long: give it up in pieces, which no checksum will fit.
            yield offset, carry
            offset += len(carry)
            carry = b""
    if carry:
        yield offset, carry
