"""A folder as depot: a stick, a network share, or a folder that some other program keeps in step.

Files lie under ``<store>/<kind>/<name>``. They are written in place under their own name: a file
that is cut short does not match its name, and the next sync completes it. Links and anything else
that is no plain file are never followed, so nothing outside the folder is read or written.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import stat
from collections.abc import Iterator
from pathlib import Path

from fieldlog.errors import InputError, StoreError
from fieldlog.exchange.depot import (
    DEPOT_KEY_FILE,
    DEPOT_KEY_LIMIT_BYTES,
    KINDS,
    NAMES,
    DepotFile,
    Kind,
    Listing,
    Stamp,
    is_store_id,
    most_read_bytes,
)
from fieldlog.store.disk import Disk

__all__ = ["FolderDepot"]

CHUNK_BYTES = 1 << 20
# Missing on Windows, where making links needs a right of its own.
NO_LINKS = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


class FolderDepot:
    """A depot in a folder."""

    def __init__(self, folder: Path, *, disk: Disk | None = None) -> None:
        """Open the folder, made if its parent exists; InputError where it cannot be."""
        self.folder = folder
        self.address, self.key_id = str(folder.absolute()), ""
        self._disk = disk or Disk()
        self._made: set[Path] = set()
        try:
            if not folder.exists():
                if not folder.parent.is_dir():
                    raise InputError(
                        f"{folder}: the folder it would lie in does not exist",
                        "plug the stick in, or make it first",
                    )
                folder.mkdir()
            if not folder.is_dir():
                raise InputError(f"{folder} is no folder", "a depot is a folder or a URL")
        except OSError as error:
            raise InputError(
                f"{folder}: {error.strerror or error}", "name a folder that can be written"
            ) from None

    def stores(self) -> list[str]:
        with self._reaching():
            return sorted(
                entry.name
                for entry in os.scandir(self.folder)
                if is_store_id(entry.name)
                and entry.is_dir(follow_symlinks=False)
                and self._is_depot_part(entry)
            )

    def listing(self, store: str, kind: Kind, since: str = "") -> Listing:  # noqa: ARG002 (what is listed is always complete)
        folder, pattern = self._folder(store, kind), NAMES[kind]
        found = {}
        with self._reaching():
            if not self._is_own_folder(folder):
                return Listing({})
            with os.scandir(folder) as entries:
                for entry in entries:
                    if pattern.fullmatch(entry.name) and entry.is_file(follow_symlinks=False):
                        found[entry.name] = _stamp(entry.stat(follow_symlinks=False))
        return Listing(found)

    def get(self, key: DepotFile) -> Iterator[bytes]:
        with self._reaching():
            descriptor = self._open(key)
            if descriptor is None:
                return
            with os.fdopen(descriptor, "rb") as file:
                data = file.read(most_read_bytes(key.kind))
        yield data

    def put(self, key: DepotFile, data: bytes) -> Stamp:
        path = self._folder(key.store, key.kind) / key.name
        with self._reaching():
            self._make_folder(path.parent)
            return self._write(path, data)

    def _write(self, path: Path, data: bytes) -> Stamp:
        with self._reaching():
            self._clear_the_way(path)
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_TRUNC | NO_LINKS, 0o666)
            try:
                self._disk.write_all(descriptor, data)
                self._disk.fsync(descriptor)
                self._disk.fsync_folder(path.parent)
                _drop_from_cache(descriptor)
                os.lseek(descriptor, 0, os.SEEK_SET)
                whole = _holds(descriptor, data)
                stamp = _stamp(os.fstat(descriptor))
            finally:
                os.close(descriptor)
        if not whole:
            raise StoreError(
                f"{path}: what was written does not read back", "the stick may be failing; use another"
            )
        return stamp

    def hashes(self, key: DepotFile) -> frozenset[str]:
        with self._reaching():
            descriptor = self._open(key)
            if descriptor is None:
                return frozenset()
            try:
                return frozenset([_hash(descriptor)])
            finally:
                os.close(descriptor)

    def delete(self, key: DepotFile) -> None:
        path = self._folder(key.store, key.kind) / key.name
        with self._reaching():
            if self._is_own_folder(path.parent):
                path.unlink(missing_ok=True)
                self._disk.fsync_folder(path.parent)

    def read_key(self) -> bytes | None:
        path = self.folder / DEPOT_KEY_FILE
        with self._reaching():
            if not path.is_file() or path.is_symlink():
                return None
            with path.open("rb") as file:
                return file.read(DEPOT_KEY_LIMIT_BYTES + 1)

    def write_key(self, data: bytes) -> None:
        self._write(self.folder / DEPOT_KEY_FILE, data)

    def close(self) -> None:
        """A folder holds no connection."""

    def _folder(self, store: str, kind: Kind) -> Path:
        return self.folder / store / kind

    def _open(self, key: DepotFile) -> int | None:
        path = self._folder(key.store, key.kind) / key.name
        if not self._is_own_folder(path.parent):
            return None
        try:
            if not stat.S_ISREG(path.lstat().st_mode):
                return None
            descriptor = os.open(path, os.O_RDONLY | NO_LINKS)
        except FileNotFoundError:
            return None
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            os.close(descriptor)
            return None
        return descriptor

    def _is_own_folder(self, folder: Path) -> bool:
        """Tell whether a folder of the depot is there and no link that leads elsewhere."""
        return all(_is_folder(part) for part in (folder.parent, folder))

    def _is_depot_part(self, entry: os.DirEntry[str]) -> bool:
        return any(_is_folder(Path(entry.path) / kind) for kind in KINDS)

    def _make_folder(self, folder: Path) -> None:
        if folder in self._made:
            return
        for part in (folder.parent, folder):
            if part.is_symlink() or (part.exists() and not part.is_dir()):
                raise StoreError(f"{part} is in the way", "it is no folder of the depot; remove it")
            if not part.exists():
                part.mkdir(exist_ok=True)
                self._disk.fsync_folder(part.parent)
        self._made.add(folder)

    def _clear_the_way(self, path: Path) -> None:
        try:
            mode = path.lstat().st_mode
        except FileNotFoundError:
            return
        if stat.S_ISDIR(mode):
            raise StoreError(f"{path} is in the way", "it is no file of the depot; remove it")
        if not stat.S_ISREG(mode):
            path.unlink()

    @contextlib.contextmanager
    def _reaching(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise StoreError(
                f"depot {self.folder}: {error.strerror or error}",
                "what was exchanged so far stands; run the sync again",
            ) from error


def _is_folder(path: Path) -> bool:
    try:
        return stat.S_ISDIR(path.lstat().st_mode)
    except OSError:
        return False


def _stamp(status: os.stat_result) -> Stamp:
    return Stamp(status.st_size, str(status.st_mtime_ns))


def _hash(descriptor: int) -> str:
    digest = hashlib.sha256()
    while chunk := os.read(descriptor, CHUNK_BYTES):
        digest.update(chunk)
    return digest.hexdigest()


def _holds(descriptor: int, data: bytes) -> bool:
    position = 0
    while chunk := os.read(descriptor, CHUNK_BYTES):
        if data[position : position + len(chunk)] != chunk:
            return False
        position += len(chunk)
    return position == len(data)


def _drop_from_cache(descriptor: int) -> None:
    """Let the next read come from the medium where the system can be asked for that."""
    if hasattr(os, "posix_fadvise"):
        with contextlib.suppress(OSError):
            os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
