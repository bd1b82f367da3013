"""The seam to the disk: every call the store makes, in one small class that tests can record or break.

Durable means flushed to the medium: ``F_FULLFSYNC`` where the system has it (macOS), ``fdatasync``
or ``fsync`` elsewhere, and a flush of the folder after a file was made. Nothing here relies on a rename being
atomic: whatever is read back is checked against its checksum or its name.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import sys
import time
from pathlib import Path

__all__ = ["PART_SUFFIX", "Disk", "is_leftover"]

PART_SUFFIX = ".part"
LOCK_PAUSE_S = 0.002
BUSY = (errno.EAGAIN, errno.EACCES, errno.EDEADLK)

if sys.platform == "win32":
    import msvcrt

    OPEN_FLAGS = os.O_BINARY | os.O_NOINHERIT

    def _try_lock(descriptor: int) -> None:
        os.lseek(descriptor, 0, os.SEEK_SET)
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)

    def _unlock(descriptor: int) -> None:
        os.lseek(descriptor, 0, os.SEEK_SET)
        msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)

    def _flush(descriptor: int) -> None:
        os.fsync(descriptor)

    def _flush_folder(path: Path) -> None:
        """Windows cannot flush a folder; NTFS journals its entries."""

    def _read_at(descriptor: int, offset: int, count: int) -> bytes:
        os.lseek(descriptor, offset, os.SEEK_SET)
        return os.read(descriptor, count)

else:
    import fcntl

    OPEN_FLAGS = os.O_CLOEXEC
    FULL_FLUSH = getattr(fcntl, "F_FULLFSYNC", None)
    # Data and length; the time of the last change, which nothing here relies on, may follow later.
    FLUSH = getattr(os, "fdatasync", os.fsync)

    def _try_lock(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def _unlock(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_UN)

    def _flush(descriptor: int) -> None:
        if FULL_FLUSH is not None:
            try:
                fcntl.fcntl(descriptor, FULL_FLUSH)
            except OSError as error:
                # Some file systems (network shares, FAT) do not know the full flush.
                if error.errno not in (errno.ENOTSUP, errno.EINVAL, errno.ENOTTY):
                    raise
            else:
                return
        FLUSH(descriptor)

    def _flush_folder(path: Path) -> None:
        descriptor = os.open(path, os.O_RDONLY | OPEN_FLAGS)
        try:
            os.fsync(descriptor)
        except OSError as error:
            # A few file systems refuse to flush a folder; they offer nothing better.
            if error.errno not in (errno.EINVAL, errno.ENOTSUP):
                raise
        finally:
            os.close(descriptor)

    def _read_at(descriptor: int, offset: int, count: int) -> bytes:
        return os.pread(descriptor, count, offset)


def is_leftover(name: str) -> bool:
    """Tell whether a file of this name is what an ended process left behind (or a hidden system file)."""
    return name.startswith(".") or name.endswith(PART_SUFFIX)


class Disk:
    """What the store asks of the operating system. Errors are the system's own ``OSError``."""

    def open_append(self, path: Path) -> int:
        """Open for reading and appending, making the file if it is missing."""
        return os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT | OPEN_FLAGS, 0o666)

    def open_patch(self, path: Path) -> int:
        """Open an existing file for writing at given places."""
        return os.open(path, os.O_RDWR | OPEN_FLAGS)

    def open_read(self, path: Path) -> int:
        return os.open(path, os.O_RDONLY | OPEN_FLAGS)

    def close(self, descriptor: int) -> None:
        os.close(descriptor)

    def size(self, descriptor: int) -> int:
        return os.fstat(descriptor).st_size

    def read_at(self, descriptor: int, offset: int, count: int) -> bytes:
        return _read_at(descriptor, offset, count)

    def write(self, descriptor: int, data: bytes) -> int:
        """Write what the system takes of ``data`` and return how much that was."""
        return os.write(descriptor, data)

    def write_all(self, descriptor: int, data: bytes) -> None:
        """Write all of ``data``; a system that takes nothing any more raises ``OSError``."""
        written = self.write(descriptor, data)
        while written < len(data):
            step = self.write(descriptor, data[written:])
            if step == 0:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            written += step

    def write_at(self, descriptor: int, offset: int, data: bytes) -> None:
        os.lseek(descriptor, offset, os.SEEK_SET)
        self.write_all(descriptor, data)

    def fsync(self, descriptor: int) -> None:
        _flush(descriptor)

    def fsync_folder(self, path: Path) -> None:
        _flush_folder(path)

    def truncate(self, descriptor: int, length: int) -> None:
        os.ftruncate(descriptor, length)

    def replace(self, source: Path, target: Path) -> None:
        source.replace(target)

    def remove(self, path: Path) -> None:
        path.unlink(missing_ok=True)

    def names(self, folder: Path) -> list[str]:
        """Return the sorted names in a folder; a missing folder has none."""
        try:
            return sorted(os.listdir(folder))  # noqa: PTH208 (names, not paths; called often)
        except FileNotFoundError:
            return []

    def stamp(self, path: Path) -> tuple[int, int]:
        """Return size and modification time in ns of a file, zeros where it cannot be asked."""
        try:
            status = path.stat()
        except OSError:
            return (0, 0)
        return (status.st_size, status.st_mtime_ns)

    def make_folder(self, path: Path) -> None:
        """Make a folder and its entry in the parent durable; an existing one is fine."""
        if not path.is_dir():
            path.mkdir(parents=True, exist_ok=True)
            self.fsync_folder(path.parent)

    def read_file(self, path: Path) -> bytes:
        return path.read_bytes()

    def write_file(self, path: Path, data: bytes) -> None:
        """Write a whole new file durably under ``path``: part file, flush, rename, flush of the folder."""
        self.make_folder(path.parent)
        part = path.with_name(f".{path.name}.{secrets.token_hex(4)}{PART_SUFFIX}")
        try:
            descriptor = self.open_append(part)
            try:
                self.write_all(descriptor, data)
                self.fsync(descriptor)
            finally:
                self.close(descriptor)
            self.replace(part, path)
            self.fsync_folder(path.parent)
        except OSError:
            self._forget(part)
            raise

    def lock(self, descriptor: int, timeout_s: float) -> None:
        """Take the operating system's lock on an open descriptor; ``TimeoutError`` after ``timeout_s``."""
        try:
            _try_lock(descriptor)
        except OSError as error:
            if error.errno not in BUSY:
                raise  # a file system without locks is no place for a store
            self._wait_for_lock(descriptor, timeout_s)

    def unlock(self, descriptor: int) -> None:
        _unlock(descriptor)

    def _wait_for_lock(self, descriptor: int, timeout_s: float) -> None:
        end = time.monotonic() + timeout_s
        while True:
            time.sleep(LOCK_PAUSE_S)
            try:
                _try_lock(descriptor)
            except OSError:
                if time.monotonic() >= end:
                    raise TimeoutError(errno.ETIMEDOUT, "another fieldlog keeps the store locked") from None
            else:
                return

    def _forget(self, part: Path) -> None:
        with contextlib.suppress(OSError):  # a leftover is ignored by every reader
            self.remove(part)
