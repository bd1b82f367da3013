"""What this laptop last verified in a depot, so that a sync costs what is new and not what is there.

The notes lie in the workspace's ``exchange`` folder, one file a depot. They are no truth: without
them, or with damaged ones, everything is hashed and compared anew.
"""

from __future__ import annotations

import contextlib
import hashlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import orjson

from fieldlog.exchange.depot import KINDS, Depot, Kind, Listing, Stamp
from fieldlog.store.disk import Disk

__all__ = ["EXCHANGE", "DepotNotes", "StoreNotes", "WorkspaceNotes", "noted_depots"]

EXCHANGE = "exchange"
FORMAT = 1
LOOK_AGAIN = "~"
"""Noted in place of a fault: it was listed, and whether it is taken depends on more than the file."""


Noted = list[Any]
"""A depot file as last looked at: size, mark, and why it was set aside ("" for a good one). Kept as it
lies in the notes: there may be a hundred thousand, and an empty sync shall not unpack them."""


@dataclass(slots=True)
class StoreNotes:
    """What is noted of one store in one depot."""

    files: dict[Kind, dict[str, Noted]] = field(default_factory=lambda: {kind: {} for kind in KINDS})
    awaited: set[str] | None = None
    """Recordings that records name and nobody has brought yet; None until they were counted once."""
    left: set[str] = field(default_factory=set)
    """Recordings that are not here and lie in the depot on purpose."""
    told: dict[str, list[str]] = field(default_factory=dict)
    """The conflicts reported so far: ``table/document`` and its heads."""
    unfinished: bool = False
    """A sync took something in and was cut before it reported."""
    marks: dict[Kind, str] = field(default_factory=dict)
    """Up to where a depot that numbers its files was listed."""
    _listed: dict[Kind, Listing] = field(default_factory=dict)

    def merged(self, kind: Kind, listing: Listing) -> dict[str, Stamp]:
        """Return all files of a kind: those listed, and where it lists only what is new, those noted before."""
        self._listed[kind] = listing
        if listing.complete:
            return listing.files
        before = {name: Stamp(noted[0], noted[1]) for name, noted in self.files[kind].items()}
        return before | listing.files

    def since(self, kind: Kind) -> str:
        """Return the mark to list from: everything before it is noted."""
        return self.marks.get(kind, "")

    def finish(self) -> None:
        """Note what was listed and nothing was done about, so that the next listing may begin after it."""
        for kind, listing in self._listed.items():
            for name, stamp in listing.files.items() if listing.mark else ():
                if (noted := self.files[kind].get(name)) is None or noted[:2] != [*stamp]:
                    self.note(kind, name, stamp, LOOK_AGAIN)
            self.marks[kind] = listing.mark
        self._listed.clear()

    def good(self, kind: Kind, name: str, stamp: Stamp) -> bool:
        """Tell whether the file was verified whole as it now stands there."""
        return self.files[kind].get(name) == [*stamp, ""]

    def fault(self, kind: Kind, name: str, stamp: Stamp) -> str:
        """Return why the file, as it now stands there, was set aside; "" where it was not."""
        return str(self.files[kind][name][2]) if self.looked_at(kind, name, stamp) else ""

    def looked_at(self, kind: Kind, name: str, stamp: Stamp) -> bool:
        """Tell whether the file, as it now stands there, was judged, well or ill."""
        noted = self.files[kind].get(name)
        return noted is not None and noted[:2] == [*stamp] and noted[2] != LOOK_AGAIN

    def note(self, kind: Kind, name: str, stamp: Stamp, fault: str = "") -> None:
        self.files[kind][name] = [*stamp, fault]


class DepotNotes:
    """The notes about one depot."""

    def __init__(self, workspace: Path, depot: Depot, disk: Disk) -> None:
        name = hashlib.sha256(depot.address.encode(errors="surrogatepass")).hexdigest()[:24]
        self._path = workspace / EXCHANGE / f"depot-{name}.json"
        self._disk = disk
        self._address, self._key_id = depot.address, depot.key_id
        self._before = b""
        self.stores: dict[str, StoreNotes] = {}
        with contextlib.suppress(OSError, ValueError, KeyError, TypeError, AttributeError):
            self._before = disk.read_file(self._path)
            body = orjson.loads(self._before)
            # What lies there under another key is another depot, whatever was noted at this address.
            self.stores = _read(body) if body.get("key", "") == self._key_id else {}

    def of(self, store: str) -> StoreNotes:
        return self.stores.setdefault(store, StoreNotes())

    def save(self) -> None:
        """Write what changed; a disk that is full must not fail a sync that is done."""
        data = orjson.dumps(_body(self._address, self._key_id, self.stores))
        if data != self._before:
            with contextlib.suppress(OSError):
                self._disk.write_file(self._path, data)
                self._before = data


def noted_depots(workspace: Path, disk: Disk) -> dict[str, dict[str, StoreNotes]]:
    """Return what is noted of each depot by its address; notes that cannot be read are left out."""
    found = {}
    for name in disk.names(workspace / EXCHANGE):
        if name.startswith("depot-") and name.endswith(".json"):
            with contextlib.suppress(OSError, ValueError, KeyError, TypeError, AttributeError):
                body = orjson.loads(disk.read_file(workspace / EXCHANGE / name))
                found[str(body["depot"])] = _read(body)
    return found


class WorkspaceNotes:
    """What is noted of the workspace itself: site names and headers of sealed files, to open less."""

    def __init__(self, workspace: Path, disk: Disk) -> None:
        self._path = workspace / EXCHANGE / "known.json"
        self._disk = disk
        self._before = b""
        self.labels: dict[str, str] = {}
        self.headers: dict[str, tuple[str, tuple[str, ...]]] = {}
        self.laptops: dict[str, str] = {}
        with contextlib.suppress(OSError, ValueError, KeyError, TypeError, AttributeError):
            self._before = disk.read_file(self._path)
            body = orjson.loads(self._before)
            self.labels = {str(store): str(label) for store, label in body["labels"].items()}
            self.headers = {
                str(name): (str(device), tuple(str(file) for file in previous))
                for name, (device, previous) in body["headers"].items()
            }
            self.laptops = {str(device): str(name) for device, name in body["laptops"].items()}

    def save(self) -> None:
        """Write what changed; a disk that is full must not fail a sync that is done."""
        data = orjson.dumps(
            {"format": FORMAT, "labels": self.labels, "headers": self.headers, "laptops": self.laptops}
        )
        if data != self._before:
            with contextlib.suppress(OSError):
                self._disk.write_file(self._path, data)
                self._before = data


def _read(body: dict[str, Any]) -> dict[str, StoreNotes]:
    if body["format"] != FORMAT:
        return {}
    return {str(store): _read_store(noted) for store, noted in body["stores"].items()}


def _read_store(body: dict[str, Any]) -> StoreNotes:
    notes = StoreNotes(
        awaited=None if body["awaited"] is None else set(body["awaited"]),
        left=set(body["left"]),
        told={str(document): [str(head) for head in heads] for document, heads in body["told"].items()},
        unfinished=bool(body["unfinished"]),
        marks={kind: str(body["marks"].get(kind, "")) for kind in KINDS},
    )
    for kind in KINDS:
        notes.files[kind] = dict(body[kind])
    return notes


def _body(address: str, key_id: str, stores: dict[str, StoreNotes]) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "depot": address.encode(errors="replace").decode(),
        "key": key_id,
        "stores": {
            store: {
                "awaited": None if notes.awaited is None else sorted(notes.awaited),
                "left": sorted(notes.left),
                "told": notes.told,
                "unfinished": notes.unfinished,
                "marks": notes.marks,
                **notes.files,
            }
            for store, notes in stores.items()
        },
    }
