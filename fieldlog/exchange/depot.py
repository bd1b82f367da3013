"""What a depot is: a place that keeps named files for laptops that are rarely online together.

A depot needs no lock, no rename, no list of contents and no clock. A name in it says what the file
must hold, so a half-written or damaged file is noise that the next laptop which has it whole
completes. Whatever is read from a depot is hostile until it was checked.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Literal, NamedTuple, Protocol
from urllib.parse import unquote, urlsplit, urlunsplit

from fieldlog.errors import InputError
from fieldlog.store.persons import PERSON_NAME
from fieldlog.store.sealed import SEALED_NAME
from fieldlog.store.traces import TRACE_NAME
from fieldlog.store.workspace import TEAM
from fieldlog.store.workspace_file import WORKSPACE_FILE

__all__ = [
    "DEPOT_KEY_FILE",
    "DEPOT_KEY_LIMIT_BYTES",
    "KINDS",
    "LIMIT_BYTES",
    "NAMES",
    "SIGNATURE_NAME",
    "Depot",
    "DepotFile",
    "Kind",
    "Listing",
    "Stamp",
    "is_store_id",
    "most_read_bytes",
    "open_depot",
    "whole_address",
    "without_password",
]

Kind = Literal["sealed", "signatures", "traces", "persons"]
KINDS: tuple[Kind, ...] = ("sealed", "signatures", "traces", "persons")

SIGNATURE_NAME = re.compile(r"[0-9a-f]{64}\.json")
NAMES: Mapping[Kind, re.Pattern[str]] = {
    "sealed": SEALED_NAME,
    "signatures": SIGNATURE_NAME,
    "traces": TRACE_NAME,
    "persons": PERSON_NAME,
}
DEPOT_KEY_FILE = "depot-key.json"
DEPOT_KEY_LIMIT_BYTES = 4 << 10
LIMIT_BYTES: Mapping[Kind, int] = {
    "sealed": 256 << 20,
    "signatures": 4 << 10,
    "traces": 256 << 20,
    "persons": 1 << 20,
}
# A record's id that does not end with a dot, which one system drops from folder names.
STORE_ID = re.compile(r"[A-Za-z0-9]([A-Za-z0-9._-]{0,62}[A-Za-z0-9_-])?")


LOCK_BYTES = 64
"""What a locked depot adds to a file, rounded up."""


class DepotFile(NamedTuple):
    """Which file: of which store (``team`` or a site's id), of which kind, under which name."""

    store: str
    kind: Kind
    name: str

    def __str__(self) -> str:
        return f"{self.store}/{self.kind}/{self.name}"

    @property
    def digest(self) -> str:
        """The SHA-256 that the name begins with: for a signature, that of the file it is about."""
        return self.name.partition(".")[0]


class Stamp(NamedTuple):
    """What a listing says of a file: its size, and a mark that changes when it is written anew."""

    size_bytes: int
    mark: str


class Listing(NamedTuple):
    """The files of one kind by name.

    A depot that numbers what arrives gives a ``mark``; asked again with it, it lists only what came
    after (then ``complete`` is false).
    """

    files: dict[str, Stamp]
    mark: str = ""
    complete: bool = True


class Depot(Protocol):
    """The seam between laptops: list, get, put, hash; and delete, for what an erasure names.

    ``address`` names the depot for people and holds no password; ``key_id`` says which key locks it, "" where
    it is not locked. A depot that cannot be reached, or
    stops answering, raises StoreError.
    """

    address: str
    key_id: str

    def stores(self) -> list[str]:
        """Return the ids of the stores the depot holds anything of."""

    def listing(self, store: str, kind: Kind, since: str = "") -> Listing | None:
        """Return the files of one kind, None where this laptop may not see them."""

    def get(self, key: DepotFile) -> Iterator[bytes]:
        """Yield what is held under a name: nothing, one content, or (where none is overwritten) several.

        No more than ``most_read_bytes`` of the kind is read of each.
        """

    def put(self, key: DepotFile, data: bytes) -> Stamp:
        """Bring a file durably, over whatever is there; return its stamp once it reads back whole."""

    def hashes(self, key: DepotFile) -> frozenset[str]:
        """Return the SHA-256 of what is held under a name, one for each content."""

    def delete(self, key: DepotFile) -> None:
        """Remove a file for good; one that is not there is fine."""

    def read_key(self) -> bytes | None:
        """Return the key file of a locked depot, None where it is not locked."""

    def write_key(self, data: bytes) -> None:
        """Bring the key file durably; RefusedError where such a depot cannot be locked."""

    def close(self) -> None:
        """Let go of the connection."""


def most_read_bytes(kind: Kind) -> int:
    """Return how much is read of a file of this kind: its limit, what a lock adds, and a byte to tell a larger one."""
    return LIMIT_BYTES[kind] + LOCK_BYTES + 1


def is_store_id(name: str) -> bool:
    """Tell whether a name may be a store's id, and so a folder's name on every system."""
    return bool(STORE_ID.fullmatch(name)) and (name == TEAM or name.lower() != TEAM)


def open_depot(address: str, *, workspace: Path | None = None) -> Depot:
    """Open the depot at an address: a folder, a ``postgresql://`` base, or any other URL fsspec knows.

    A folder is made if its parent exists. Raises InputError where the address is none, lies in
    ``workspace``, or needs an extra that is not installed; StoreError where it cannot be reached.
    """
    scheme, divider, _ = address.partition("://")
    if not address.strip() or "\0" in address:
        raise InputError(
            "a depot needs an address", "a folder, or a URL; example: fieldlog sync /media/stick"
        )
    if divider and scheme.lower() in ("postgres", "postgresql"):
        from fieldlog.exchange.base_depot import BaseDepot

        return BaseDepot(address)
    if divider and scheme.lower() != "file":
        from fieldlog.exchange.url_depot import UrlDepot

        return UrlDepot(address)
    from fieldlog.exchange.folder_depot import FolderDepot

    folder = Path(unquote(urlsplit(address).path) if divider else address).expanduser()
    _refuse_workspace(folder, workspace)
    return FolderDepot(folder)


def whole_address(address: str) -> str:
    """Return an address as typed in the application, where nobody sees from which folder it was started.

    Raises InputError where it is a folder without its whole path: a slip would make a folder somewhere.
    """
    address = address.strip()
    if address and "://" not in address and not Path(address).expanduser().is_absolute():
        raise InputError(
            f"{address[:60]} is not a whole path", "begin it at the top, such as /media/stick/team"
        )
    return address


def without_password(address: str) -> str:
    """Return an address that may be shown and noted."""
    try:
        parts = urlsplit(address)
        if parts.password is None and "password" not in parts.query:
            return address
        user = parts.username or ""
        place = parts.netloc.rpartition("@")[2]
        query = "&".join(pair for pair in parts.query.split("&") if not pair.startswith("password"))
        return urlunsplit(parts._replace(netloc=f"{user}@{place}" if user else place, query=query))
    except ValueError:
        return address.partition("://")[0] + "://…"


def _refuse_workspace(folder: Path, workspace: Path | None) -> None:
    if (folder / WORKSPACE_FILE).exists():
        raise InputError(f"{folder} is a workspace, no depot", "name a folder that is used for nothing else")
    if workspace is not None and workspace.resolve() in (folder.resolve(), *folder.resolve().parents):
        raise InputError(f"{folder} lies inside the workspace", "a depot is a folder outside of it")
