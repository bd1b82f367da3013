"""Any address fsspec knows as depot: sftp, S3, WebDAV, whatever its installed parts offer."""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import importlib
import posixpath
from collections.abc import Iterator
from typing import Any

from fieldlog.errors import FieldlogError, InputError, StoreError
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
    without_password,
)

__all__ = ["UrlDepot"]

# What the different file systems call the time or the version of a file.
MARKS = ("mtime", "ETag", "etag", "LastModified", "last_modified", "modified", "updated", "created")


class UrlDepot:
    """A depot behind a URL."""

    def __init__(self, address: str) -> None:
        """Open it; InputError where fsspec, or its part for this kind of URL, is not installed."""
        self.address, self.key_id = without_password(address), ""
        try:
            fsspec = importlib.import_module("fsspec")
        except ImportError:
            raise InputError(
                f"{self.address}: the library for such addresses is missing",
                "install it: pip install 'fieldlog[depots]'; or name a folder",
            ) from None
        try:
            self._files, self._root = fsspec.core.url_to_fs(address)
        except ImportError as error:
            raise InputError(
                f"{self.address}: a part for such addresses is missing ({error})", "install what it names"
            ) from None
        except ValueError as error:
            raise InputError(
                f"{self.address}: no such kind of address ({error})", "name a folder or a URL"
            ) from None
        except Exception as error:
            raise self._unreachable(error) from error

    def stores(self) -> list[str]:
        with self._reaching():
            names = [posixpath.basename(entry["name"].rstrip("/")) for entry in self._entries(self._root)]
            return sorted(name for name in names if is_store_id(name) and self._holds_any(name))

    def listing(self, store: str, kind: Kind, since: str = "") -> Listing:  # noqa: ARG002 (what is listed is always complete)
        found = {}
        with self._reaching():
            for entry in self._entries(self._path(store, kind)):
                name = posixpath.basename(entry["name"])
                if entry.get("type") == "file" and NAMES[kind].fullmatch(name):
                    found[name] = _stamp(entry)
        return Listing(found)

    def get(self, key: DepotFile) -> Iterator[bytes]:
        data = None
        with (
            self._reaching(),
            contextlib.suppress(FileNotFoundError),
            self._files.open(self._of(key), "rb") as file,
        ):
            data = file.read(most_read_bytes(key.kind))
        if data is not None:
            yield bytes(data)

    def put(self, key: DepotFile, data: bytes) -> Stamp:
        path = self._of(key)
        with self._reaching():
            self._files.makedirs(posixpath.dirname(path), exist_ok=True)
            with self._files.open(path, "wb") as file:
                file.write(data)
            self._forget_listing(path)
            stamp = _stamp(self._files.info(path))
        if hashlib.sha256(data).hexdigest() not in self.hashes(key):
            raise StoreError(f"{self.address}: {key} does not read back as written", "run the sync again")
        return stamp

    def hashes(self, key: DepotFile) -> frozenset[str]:
        return frozenset(hashlib.sha256(data).hexdigest() for data in self.get(key))

    def delete(self, key: DepotFile) -> None:
        with self._reaching(), contextlib.suppress(FileNotFoundError):
            self._files.rm_file(self._of(key))

    def read_key(self) -> bytes | None:
        with (
            self._reaching(),
            contextlib.suppress(FileNotFoundError),
            self._files.open(self._path(DEPOT_KEY_FILE), "rb") as file,
        ):
            return bytes(file.read(DEPOT_KEY_LIMIT_BYTES + 1))
        return None

    def write_key(self, data: bytes) -> None:
        with self._reaching():
            self._files.makedirs(self._root, exist_ok=True)
            with self._files.open(self._path(DEPOT_KEY_FILE), "wb") as file:
                file.write(data)
        if self.read_key() != data:
            raise StoreError(f"{self.address}: the key does not read back as written", "run it again")

    def close(self) -> None:
        """The connection is fsspec's own and closes with the process."""

    def _path(self, *steps: str) -> str:
        return posixpath.join(self._root, *steps)

    def _of(self, key: DepotFile) -> str:
        return self._path(key.store, key.kind, key.name)

    def _holds_any(self, store: str) -> bool:
        return any(self._entries(self._path(store, kind)) for kind in KINDS)

    def _entries(self, path: str) -> list[dict[str, Any]]:
        self._forget_listing(path)
        try:
            entries: list[dict[str, Any]] = self._files.ls(path, detail=True)
        except (FileNotFoundError, NotADirectoryError):
            return []
        return entries

    def _forget_listing(self, path: str) -> None:
        # Some file systems remember listings for the whole process; another laptop may have added files.
        self._files.invalidate_cache(path)

    @contextlib.contextmanager
    def _reaching(self) -> Iterator[None]:
        try:
            yield
        except (FieldlogError, FileNotFoundError):
            raise
        except Exception as error:  # each file system behind fsspec has errors of its own
            raise self._unreachable(error) from error

    def _unreachable(self, error: Exception) -> StoreError:
        text = str(error) or type(error).__name__
        return StoreError(
            f"depot {self.address}: {text[:200]}", "what was exchanged so far stands; run the sync again"
        )


def _stamp(entry: dict[str, Any]) -> Stamp:
    mark = next((entry[name] for name in MARKS if entry.get(name) is not None), "")
    # A listing may give as a number of seconds what a look at one file gives as a date.
    return Stamp(
        int(entry.get("size") or 0), str(mark.timestamp() if isinstance(mark, dt.datetime) else mark)
    )
