"""Sealed files: immutable, named by the SHA-256 of their bytes, from any laptop."""

from __future__ import annotations

import contextlib
import hashlib
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from fieldlog.errors import InputError, StoreError
from fieldlog.store.disk import Disk, is_leftover
from fieldlog.store.lines import FORMAT, Header, LineError, Revision, read_line, unframe
from fieldlog.store.scan import Problem, first_line, scan, scan_checked

__all__ = ["SEALED", "SEALED_NAME", "SealedFiles", "check_sealed", "sealed_name"]

SEALED = "sealed"
SEALED_NAME = re.compile(r"[0-9a-f]{64}\.jsonl")
SUFFIX = ".jsonl"
# Names of files whose every line was read and checked once. A name stands for its content, so the
# list is true wherever it is copied to; without it, files are checked in full again.
CHECKED = ".checked"


@dataclass(frozen=True, slots=True)
class Known:
    """A sealed file as it was last read."""

    header: Header | None
    problem: Problem | None = None
    note: str = ""
    stamp: tuple[int, int] = (0, 0)


class SealedFiles:
    """The sealed files of one store."""

    def __init__(self, folder: Path, store_id: str, disk: Disk, take: Callable[[Revision], object]) -> None:
        self.folder = folder / SEALED
        self._store_id = store_id
        self._disk = disk
        self._take = take
        self._known: dict[str, Known] = {}
        self._checked: set[str] | None = None
        self._strangers: list[str] = []

    def names(self) -> list[str]:
        """Return the file names, sorted."""
        return sorted(self._known)

    def path(self, name: str) -> Path:
        return self.folder / name

    def rescan(self) -> bool:
        """Read the files not read yet, and damaged ones that were healed; True where there were any."""
        try:
            names = [name for name in self._disk.names(self.folder) if not is_leftover(name)]
        except OSError as error:
            raise StoreError(f"{self.folder}: {error.strerror or error}") from error
        self._strangers = [name for name in names if not SEALED_NAME.fullmatch(name)]
        present = set(names)
        for name in [name for name in self._known if name not in present]:
            del self._known[name]
        fresh = [name for name in names if SEALED_NAME.fullmatch(name) and self._unread(name)]
        if not fresh:
            return False
        headers = {name: self._header(name) for name in fresh}
        # In the order of writing, so that tables list documents as they came.
        fresh.sort(key=lambda name: (header.clock if (header := headers[name]) else 0, name))
        for name in fresh:
            stamp = self._disk.stamp(self.folder / name)
            self._known[name] = replace(self._load(name, headers[name]), stamp=stamp)
        self._remember([name for name in fresh if self._known[name].problem is None])
        return True

    def add(self, data: bytes, header: Header) -> str:
        """Write a file whose lines are known already, under its name, durably."""
        name = sealed_name(data)
        self._disk.write_file(self.folder / name, data)
        self._known[name] = Known(header)
        return name

    def receive(self, name: str, data: bytes) -> list[Revision]:
        """Keep a file that came from elsewhere, after every check; return its revisions.

        A file written by a newer fieldlog is kept and passed on, and gives none.
        """
        header, revisions = check_sealed(name, data, self._store_id)
        known = self._known.get(name)
        if known is not None and known.problem is None and self._disk.stamp(self.path(name)) != (0, 0):
            return []
        self._disk.write_file(self.folder / name, data)
        note = "" if header.format <= FORMAT else _newer(name)
        self._known[name] = Known(header, note=note)
        self._remember([] if note else [name])
        return revisions

    def last_of(self, device: str) -> tuple[str, ...]:
        """Return the files of a laptop that no later file of it names."""
        own = {name: known.header for name, known in self._known.items() if known.header}
        own = {name: header for name, header in own.items() if header.device == device}
        named = {previous for header in own.values() for previous in header.previous}
        return tuple(
            sorted(name.removesuffix(SUFFIX) for name in own if name.removesuffix(SUFFIX) not in named)
        )

    def problems(self, active: Header | None) -> list[Problem]:
        found = [known.problem for known in self._known.values() if known.problem]
        found += [
            Problem("foreign", f"{SEALED}/{name}", "no sealed file has such a name")
            for name in self._strangers
        ]
        headers = [known.header for known in self._known.values() if known.header and not known.problem]
        for header in [*headers, *([active] if active else [])]:
            for previous in header.previous:
                if previous + SUFFIX not in self._known:
                    text = f"a file of the laptop {header.device} has not arrived or was lost"
                    found.append(Problem("missing", f"{SEALED}/{previous}{SUFFIX}", text))
        return list(dict.fromkeys(found))

    def notes(self) -> list[str]:
        return [known.note for known in self._known.values() if known.note]

    def _unread(self, name: str) -> bool:
        known = self._known.get(name)
        if known is None:
            return True
        return known.problem is not None and known.stamp != self._disk.stamp(self.folder / name)

    def _header(self, name: str) -> Header | None:
        try:
            descriptor = self._disk.open_read(self.folder / name)
            try:
                return first_line(self._disk, descriptor)[0]
            finally:
                self._disk.close(descriptor)
        except OSError:
            return None

    def _load(self, name: str, header: Header | None) -> Known:
        file = f"{SEALED}/{name}"
        # A newer fieldlog's lines are not read here, but its file matches its name; else the number is damage.
        if header is not None and header.format > FORMAT and self._is_whole(name):
            return Known(header, note=_newer(file))
        if header is not None and header.store != self._store_id:
            return Known(header, Problem("foreign", file, f"it belongs to the store {header.store}"))
        try:
            descriptor = self._disk.open_read(self.folder / name)
            try:
                if name in self._checked_names() and self._load_checked(name, descriptor):
                    return Known(header)
                return self._load_anew(name, header, descriptor)
            finally:
                self._disk.close(descriptor)
        except OSError as error:
            return Known(header, Problem("damaged", file, f"it cannot be read ({error.strerror or error})"))

    def _is_whole(self, name: str) -> bool:
        try:
            return sealed_name(self._disk.read_file(self.folder / name)) == name
        except OSError:
            return False

    def _load_checked(self, name: str, descriptor: int) -> bool:
        digest = hashlib.sha256()
        try:
            revisions = scan_checked(self._disk, descriptor, self._disk.size(descriptor), digest)
        except ValueError:
            return False
        if digest.hexdigest() + SUFFIX != name:
            return False
        for revision in revisions:
            self._take(revision)
        return True

    def _load_anew(self, name: str, header: Header | None, descriptor: int) -> Known:
        file = f"{SEALED}/{name}"
        digest = hashlib.sha256()
        kept: list[Revision] = []
        size = self._disk.size(descriptor)
        met = scan(self._disk, descriptor, kept.append, size=size, digest=digest)
        whole = digest.hexdigest() + SUFFIX == name
        if whole and header is None:
            return Known(None, Problem("foreign", file, "it has no header"))
        for revision in kept:
            self._take(revision)
        if whole and not met.damaged:
            return Known(header)
        text = f"its content does not match its name; {len(met.damaged)} lines are unreadable, {met.commits} were read"
        return Known(header, Problem("damaged", file, text))

    def _checked_names(self) -> set[str]:
        if self._checked is None:
            try:
                listed = self._disk.read_file(self.folder / CHECKED).decode("ascii", "replace")
            except OSError:
                listed = ""
            self._checked = set(listed.split("\n"))
        return self._checked

    def _remember(self, names: list[str]) -> None:
        new = [name for name in names if name not in self._checked_names()]
        if not new:
            return
        self._checked_names().update(new)
        with contextlib.suppress(OSError):  # the list only saves time
            descriptor = self._disk.open_append(self.folder / CHECKED)
            try:
                # A line end first: the last writer may have ended in mid-name.
                self._disk.write_all(descriptor, "\n".join(["", *new, ""]).encode())
            finally:
                self._disk.close(descriptor)


def sealed_name(data: bytes) -> str:
    """Return the name that a sealed file of this content bears."""
    return hashlib.sha256(data).hexdigest() + SUFFIX


def check_sealed(name: str, data: bytes, store_id: str) -> tuple[Header, list[Revision]]:
    """Return header and revisions of a whole sealed file; InputError says what is wrong with it."""
    if not SEALED_NAME.fullmatch(name) or sealed_name(data) != name:
        raise InputError(f"{name}: its content does not match its name")
    first, _, rest = data.partition(b"\n")
    try:
        header = Header.read(unframe(first))
    except LineError as error:
        raise InputError(f"{name}: {error}") from None
    if header.store != store_id:
        raise InputError(f"{name}: it belongs to the store {header.store}")
    if header.format > FORMAT:
        return header, []
    if not rest.endswith(b"\n"):
        raise InputError(f"{name}: its last line has no end")
    try:
        pool: dict[bytes, str] = {}
        return header, [r for line in rest[:-1].split(b"\n") for r in read_line(line, pool)]
    except LineError as error:
        raise InputError(f"{name}: {error}") from None


def _newer(file: str) -> str:
    return f"{file} was written by a newer fieldlog; it is kept and passed on"
