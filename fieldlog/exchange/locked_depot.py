"""A locked depot: every file in it is encrypted with the depot's key before it leaves the laptop.

Any folder or URL depot can be locked while it is still empty. What stays readable are the names:
the ids of stores, the hashes of files, and how large each is. A file is bound to its place, so one
that was moved, cut or written by somebody without the key counts as unreadable and is set aside.
A team base is not locked: it has to read the records, and has rights of its own.
"""

from __future__ import annotations

import contextlib
import hashlib
import secrets
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from fieldlog.errors import NewerSchemaError, RefusedError, StoreError
from fieldlog.exchange.depot import Depot, DepotFile, Kind, Listing, Stamp, open_depot
from fieldlog.exchange.depot_keys import DepotKey, keep, kept_keys, new_key, open_key, read_id
from fieldlog.store.disk import Disk
from fieldlog.store.workspace import TEAM

__all__ = ["LockedDepot", "lock_depot", "reach_depot", "unlock_depot"]

MAGIC = b"fieldlog locked 1\n"
NONCE_BYTES = 12
MOST_LOOKED_AT = 8
ADDED_BYTES = len(MAGIC) + NONCE_BYTES + 16


class LockedDepot:
    """A depot whose files are encrypted and opened on the way (ChaCha20-Poly1305, RFC 8439)."""

    def __init__(self, inner: Depot, key: DepotKey) -> None:
        from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

        self.address, self.key_id = inner.address, key.id
        self._inner = inner
        self._cipher = ChaCha20Poly1305(key.secret)

    def stores(self) -> list[str]:
        return self._inner.stores()

    def listing(self, store: str, kind: Kind, since: str = "") -> Listing | None:
        listing = self._inner.listing(store, kind, since)
        if listing is None:
            return None
        return listing._replace(files={name: _plain_stamp(stamp) for name, stamp in listing.files.items()})

    def get(self, key: DepotFile) -> Iterator[bytes]:
        """Yield what is held under a name and opens with the depot's key in this place."""
        for data in self._inner.get(key):
            plain = self.opened(key, data)
            if plain is not None:
                yield plain

    def put(self, key: DepotFile, data: bytes) -> Stamp:
        nonce = secrets.token_bytes(NONCE_BYTES)
        locked = MAGIC + nonce + self._cipher.encrypt(nonce, data, str(key).encode())
        return _plain_stamp(self._inner.put(key, locked))

    def hashes(self, key: DepotFile) -> frozenset[str]:
        return frozenset(hashlib.sha256(data).hexdigest() for data in self.get(key))

    def delete(self, key: DepotFile) -> None:
        self._inner.delete(key)

    def read_key(self) -> bytes | None:
        return self._inner.read_key()

    def write_key(self, data: bytes) -> None:
        self._inner.write_key(data)

    def close(self) -> None:
        self._inner.close()

    def opened(self, key: DepotFile, data: bytes) -> bytes | None:
        """Return the plain content of a file that lies locked in this place, None where the key does not open it."""
        from cryptography.exceptions import InvalidTag

        start = len(MAGIC) + NONCE_BYTES
        if data[: len(MAGIC)] != MAGIC or len(data) < ADDED_BYTES:
            return None
        with contextlib.suppress(InvalidTag):
            return self._cipher.decrypt(data[len(MAGIC) : start], data[start:], str(key).encode())
        return None


def lock_depot(depot: Depot, workspace: Path, passphrase: str) -> str:
    """Give an empty depot its key, keep it here, and return the recovery key, which is kept nowhere.

    Raises RefusedError where the depot holds anything or is locked already, InputError for a short
    passphrase.
    """
    if depot.read_key() is not None:
        raise RefusedError(f"{depot.address} is locked already", "open it: fieldlog unlock --depot ADDRESS")
    if depot.stores():
        raise RefusedError(
            f"{depot.address} holds files that are not locked",
            "lock an empty folder, sync to it, and wipe the old one",
        )
    key, recovery = new_key(passphrase)
    # Kept here first: a depot must not be locked with a key nobody has.
    keep(workspace, key, depot.address, Disk())
    depot.write_key(key.file)
    return recovery


def unlock_depot(depot: Depot, workspace: Path, secret: str) -> None:
    """Open a locked depot with its passphrase or recovery key and keep its key in the workspace.

    Raises RefusedError where it is not locked, InputError where the secret does not fit.
    """
    file = depot.read_key()
    if file is None:
        raise RefusedError(f"{depot.address} is not locked")
    key = open_key(file, secret)
    known = [kept for kept in kept_keys(workspace, Disk()) if kept.id == key.id]
    keep(workspace, replace(key, addresses=known[0].addresses if known else ()), depot.address, Disk())


def reach_depot(address: str, workspace: Path) -> Depot:
    """Open the depot at an address as a laptop may use it: as it is, or with the key it has kept.

    Raises what ``open_depot`` raises, RefusedError where it is locked and this laptop has not opened it yet,
    StoreError where it was locked and something else lies there now, or its key file is lost to this laptop.
    """
    depot = open_depot(address, workspace=workspace)
    try:
        return _with_its_key(depot, workspace)
    except BaseException:
        depot.close()
        raise


def _with_its_key(depot: Depot, workspace: Path) -> Depot:
    disk, file = Disk(), depot.read_key()
    kept = list(kept_keys(workspace, disk))
    try:
        identity = read_id(file) if file is not None else ""
    except NewerSchemaError:
        raise
    except StoreError:
        identity = ""
    if file is None or not identity:
        found = _key_of_files(depot, kept, damaged=file is not None)
        if found is None:
            return depot
        depot.write_key(found.file)
    else:
        found = next((key for key in kept if key.id == identity), None)
        if found is None:
            raise RefusedError(
                f"{depot.address} is locked", f"open it once: fieldlog unlock --depot {depot.address}"
            )
    if depot.address not in found.addresses:
        keep(workspace, found, depot.address, disk)
    return LockedDepot(depot, found)


def _key_of_files(depot: Depot, kept: list[DepotKey], *, damaged: bool) -> DepotKey | None:
    """Return the key a depot without a whole key file belongs to, None for one that is not locked.

    The files themselves tell: whoever takes the key file off a locked stick gets no plain files by it.
    """
    here = next((key for key in kept if depot.address in key.addresses), None)
    seen = "nothing"
    for place, data in _some_files(depot):
        if data.startswith(MAGIC):
            seen = "locked"
            fitting = (key for key in kept if LockedDepot(depot, key).opened(place, data) is not None)
            if found := next(fitting, None):
                return found
        elif not MAGIC.startswith(data):  # a file that was cut before it told says nothing
            seen = "plain"
            break
    if seen == "plain" and here is not None:
        raise StoreError(
            f"{depot.address} was locked, and files that are not locked lie there now",
            "is it another stick? name a folder of its own for it",
        )
    if seen == "locked" or (damaged and not (seen == "nothing" and here)):
        raise StoreError(
            f"{depot.address}: the depot's key file is {'damaged' if damaged else 'missing'}",
            "sync from a laptop that has opened this depot",
        )
    return here if seen == "nothing" else None


def _some_files(depot: Depot) -> Iterator[tuple[DepotFile, bytes]]:
    """Yield a few of a depot's files, small ones first, the team's before the sites'."""
    left = MOST_LOOKED_AT
    kinds: tuple[Kind, ...] = ("signatures", "sealed", "persons", "traces")
    for store in sorted(depot.stores(), key=lambda store: (store != TEAM, store)):
        for kind in kinds:
            listing = depot.listing(store, kind)
            files = listing.files if listing is not None else {}
            for name in sorted(files, key=lambda name: (files[name].size_bytes, name))[:left]:
                left -= 1
                for data in depot.get(DepotFile(store, kind, name)):
                    yield DepotFile(store, kind, name), data
            if left <= 0:
                return


def _plain_stamp(stamp: Stamp) -> Stamp:
    return stamp._replace(size_bytes=max(stamp.size_bytes - ADDED_BYTES, 0))
