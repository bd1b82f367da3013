"""The active file: where this laptop appends, under the lock, one durable line a commit.

A process that finds the file longer than it remembers takes the other's lines in first; one that
finds a new header knows that the other has sealed. Whatever follows the last whole line is a torn
tail: a reader leaves it alone (somebody may be writing it), a writer, who holds the lock, sets it
aside under a name and cuts it off.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
from collections.abc import Callable
from pathlib import Path

from fieldlog.errors import NewerSchemaError, SaveError, StoreError
from fieldlog.store.disk import Disk
from fieldlog.store.lines import FORMAT, Header, LineError, Revision, unframe
from fieldlog.store.scan import Problem, first_line, scan

__all__ = ["ACTIVE", "ASIDE", "LOCK", "Journal"]

ACTIVE = "active.jsonl"
LOCK = "lock"
ASIDE = "aside"
LOCK_TIMEOUT_S = 15.0


class Journal:
    """One store's active file and its lock, as seen by one process."""

    def __init__(self, folder: Path, store_id: str, disk: Disk, take: Callable[[Revision], object]) -> None:
        self.path = folder / ACTIVE
        self.header: Header | None = None
        self._folder = folder
        self._store_id = store_id
        self._disk = disk
        self._take = take
        self._lock = -1
        self._descriptor = -1
        self._writable = False
        self._settled = False
        self._first = b""
        self._end = 0
        self._tail = 0
        self._commits = 0
        self._damaged: list[tuple[int, int]] = []
        self._refused = ""

    def acquire(self, timeout_s: float | None = None) -> None:
        """Take the lock; SaveError where the store cannot be written or stays locked."""
        try:
            if self._lock < 0:
                self._lock = self._disk.open_append(self._folder / LOCK)
            self._disk.lock(self._lock, LOCK_TIMEOUT_S if timeout_s is None else timeout_s)
        except OSError as error:
            raise save_error(self._folder, error) from error

    def release(self) -> None:
        self._disk.unlock(self._lock)

    def take_in(self, *, writing: bool, make_header: Callable[[], Header]) -> bool:
        """Read what others appended; True where the file was sealed and started anew since.

        With ``writing`` (the lock is held) a torn tail is set aside and a missing header written.
        """
        if writing and self._refused:
            raise SaveError(
                f"{self.path}: {self._refused}", "close fieldlog, open it again and look at the record"
            )
        try:
            return self._open(writing=writing) and self._catch_up(make_header if writing else None)
        except OSError as error:
            if writing:
                raise save_error(self.path, error) from error
            raise StoreError(f"{self.path}: {error.strerror or error}") from error

    def append(self, line: bytes) -> None:
        """Make one line durable; on any failure the file is as before and SaveError says so."""
        self._put(line)
        self._commits += 1

    def commits(self) -> int:
        """Return how many commits the file holds."""
        return self._commits

    def content(self) -> bytes:
        """Return the header and all undamaged lines."""
        data = self._disk.read_at(self._descriptor, 0, self._end)
        if not self._damaged:
            return data
        whole = []
        for line in data.split(b"\n")[:-1]:
            with contextlib.suppress(LineError):
                unframe(line)
                whole.append(line + b"\n")
        return b"".join(whole)

    def set_aside_damage(self) -> None:
        """Keep a copy of a file with damaged lines before it is started anew without them."""
        if self._damaged:
            self._keep_aside("damaged", self._disk.read_at(self._descriptor, 0, self._end))

    def restart(self, header: Header) -> None:
        """Empty the file, whose lines lie sealed on disk, and begin it with a new header."""
        try:
            self._disk.truncate(self._descriptor, 0)
            self._disk.fsync(self._descriptor)
        except OSError as error:
            raise save_error(self.path, error) from error
        self._forget()
        self._begin(header)

    def problems(self) -> list[Problem]:
        found = []
        if self._tail:
            found.append(Problem("torn", ACTIVE, f"{self._tail} bytes at the end are no whole line"))
        for offset, length in self._damaged:
            found.append(Problem("damaged", ACTIVE, f"the line at byte {offset} ({length} bytes) is damaged"))
        if self.header is not None and self.header.store != self._store_id:
            found.append(Problem("foreign", ACTIVE, f"it belongs to the store {self.header.store}"))
        return found

    def damaged_stretches(self) -> list[tuple[int, int]]:
        """Return offset and length of each damaged line."""
        return list(self._damaged)

    def close(self) -> None:
        for descriptor in (self._descriptor, self._lock):
            if descriptor >= 0:
                self._disk.close(descriptor)
        self._descriptor = self._lock = -1

    def _open(self, *, writing: bool) -> bool:
        if self._descriptor >= 0 and (self._writable or not writing):
            return True
        if writing:
            descriptor = self._disk.open_append(self.path)
        else:
            try:
                descriptor = self._disk.open_read(self.path)
            except FileNotFoundError:
                return False
        if self._descriptor >= 0:
            self._disk.close(self._descriptor)
        self._descriptor = descriptor
        self._writable = writing
        return True

    def _catch_up(self, make_header: Callable[[], Header] | None) -> bool:
        size = self._disk.size(self._descriptor)
        restarted = self._disk.read_at(self._descriptor, 0, len(self._first)) != self._first
        if restarted:
            self._forget()
        elif size == self._end:
            self._tail = 0
            if self._settled:
                return False  # nobody wrote since this process did
        elif size < self._end:
            raise StoreError(
                f"{self.path} is shorter than it was; it was changed from outside",
                "open the workspace again and run 'fieldlog audit'",
            )
        if size > self._end:
            self._read(size)
        if make_header is not None:
            self._make_ready(size, make_header)
        return restarted

    def _read(self, size: int) -> None:
        # A process that ended between its write and its flush left lines that are not durable yet.
        with contextlib.suppress(OSError):
            self._disk.fsync(self._descriptor)
        if self._end == 0:
            self.header, self._first = first_line(self._disk, self._descriptor)
            if not self._ours():
                self._end = size
                return
        met = scan(self._disk, self._descriptor, self._take, start=self._end, size=size, check="checksum")
        self._commits += met.commits
        self._end = met.end
        self._tail = size - met.end
        self._damaged += [stretch for stretch in met.damaged if stretch[0] < met.end]

    def _ours(self) -> bool:
        return self.header is None or (self.header.store == self._store_id and self.header.format <= FORMAT)

    def _make_ready(self, size: int, make_header: Callable[[], Header]) -> None:
        if not self._ours():
            assert self.header is not None
            if self.header.format > FORMAT:
                raise NewerSchemaError(
                    f"{self.path} was written by a newer fieldlog", "use that one to write here"
                )
            raise SaveError(f"{self.path} belongs to another store", "run 'fieldlog audit'")
        if self._tail:
            self._keep_aside("torn", self._disk.read_at(self._descriptor, self._end, size - self._end))
            self._disk.truncate(self._descriptor, self._end)
            self._disk.fsync(self._descriptor)
            self._tail = 0
        if self._end == 0:
            self._begin(make_header())
        self._settled = True

    def _begin(self, header: Header) -> None:
        line = header.line()
        self._put(line)
        self.header = header
        self._first = line
        try:
            self._disk.fsync_folder(self._folder)
        except OSError as error:
            raise save_error(self.path, error) from error

    def _put(self, line: bytes) -> None:
        try:
            self._disk.write_all(self._descriptor, line)
        except OSError as error:
            self._cut_back()
            raise save_error(self.path, error) from error
        try:
            self._disk.fsync(self._descriptor)
        except OSError as error:
            # After a failed flush nobody knows what the disk holds; a second try would lie.
            self._refused = "the disk failed while saving, nothing more is written until it was read again"
            self._cut_back()
            raise save_error(self.path, error) from error
        self._end += len(line)

    def _cut_back(self) -> None:
        try:
            self._disk.truncate(self._descriptor, self._end)
        except OSError:
            self._refused = "a half-written line could not be taken back"

    def _keep_aside(self, kind: str, data: bytes) -> None:
        name = f"{kind}-{hashlib.sha256(data).hexdigest()[:16]}.txt"
        self._disk.write_file(self._folder / ASIDE / name, data)

    def _forget(self) -> None:
        self._settled = False
        self._first = b""
        self._end = self._tail = self._commits = 0
        self._damaged = []
        self.header = None


def save_error(path: Path, error: OSError) -> SaveError:
    """Return the one clear message for a write that failed."""
    if isinstance(error, TimeoutError):
        return SaveError(
            f"{path} is locked by another fieldlog", "close the other one, or wait; nothing was changed"
        )
    if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return SaveError(
            f"{path} cannot be written (read-only)",
            "nothing was saved; copy the workspace to a disk you may write",
        )
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return SaveError(f"{path}: the disk is full", "nothing was saved; free some space and save again")
    return SaveError(f"{path}: {error.strerror or error}", "nothing was saved; try again")
