"""A workspace as one tar stream: packed piece by piece, unpacked with doubt."""

from __future__ import annotations

import os
import shutil
import tarfile
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

from fieldlog.store.disk import PART_SUFFIX
from fieldlog.store.journal import LOCK
from fieldlog.store.lock_files import KEY_FILE, KEYS_FILE, LOCKED_FILE

__all__ = ["CHUNK_BYTES", "UNPACKING", "Archive", "extract", "plain_files"]

CHUNK_BYTES = 1 << 18
UNPACKING = ".unpacking"
OUTSIDE = {KEY_FILE, KEYS_FILE, LOCKED_FILE}


def plain_files(path: Path) -> Iterator[str]:
    """Yield every file of the workspace that belongs into the archive, by its relative name."""
    for folder, _, names in os.walk(path):
        inside = Path(folder).relative_to(path)
        if inside.parts[:1] == (UNPACKING,):
            continue
        for name in sorted(names):
            file = (inside / name).as_posix()
            if file not in OUTSIDE and name != LOCK and not name.endswith(PART_SUFFIX):
                yield file


class Archive:
    """A workspace as a tar stream that is read piece by piece."""

    def __init__(self, path: Path) -> None:
        self._pieces = self._stream(path)
        self._rest = b""

    def read(self, count: int = -1) -> bytes:
        while not self._rest:
            piece = next(self._pieces, None)
            if piece is None:
                return b""
            self._rest = piece
        if count < 0:
            count = len(self._rest)
        data, self._rest = self._rest[:count], self._rest[count:]
        return data

    def _stream(self, path: Path) -> Iterator[bytes]:
        for name in plain_files(path):
            with (path / name).open("rb") as file:
                entry = tarfile.TarInfo(name)
                entry.size = left = os.fstat(file.fileno()).st_size
                yield entry.tobuf(tarfile.PAX_FORMAT)
                while left:
                    data = file.read(min(CHUNK_BYTES, left))
                    if not data:
                        raise OSError(f"{name} became shorter while it was read")
                    left -= len(data)
                    yield data
                yield bytes(-entry.size % tarfile.BLOCKSIZE)
        yield bytes(2 * tarfile.BLOCKSIZE)


def extract(archive: tarfile.TarFile, entry: tarfile.TarInfo, folder: Path) -> None:
    """Write one file of an archive into a folder, durably; ValueError for anything but a plain file inside it."""
    # Anybody can lock a file for a public key: what is in it is not trusted with paths.
    parts = PurePosixPath(entry.name).parts
    source = archive.extractfile(entry) if entry.isreg() else None
    if source is None or not parts or entry.name.startswith("/") or ".." in parts or entry.name in OUTSIDE:
        raise ValueError("it holds what no workspace holds")
    target = folder / entry.name
    target.parent.mkdir(parents=True, exist_ok=True)
    with target.open("xb") as file:
        shutil.copyfileobj(source, file, CHUNK_BYTES)
        file.flush()
        os.fsync(file.fileno())
