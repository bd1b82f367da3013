"""Laptops for tests: a workspace each, a clock each, and what an independent oracle says of them all."""

from __future__ import annotations

import errno
import hashlib
import random
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import orjson

from fieldlog.exchange.depot import Depot
from fieldlog.exchange.folder_depot import FolderDepot
from fieldlog.exchange.outcome import SyncReport
from fieldlog.exchange.sync import sync
from fieldlog.records.site import Site
from fieldlog.store.lines import Change, Revision
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace
from tests.faults.failing_disk import HastyDisk

NOTES = "notes_of_tests"
SITE_ID = "5174e0000000000000000001"
START_MS = 1_900_000_000_000


class Clock:
    """A laptop's clock, which may be years off."""

    def __init__(self, off_ms: int = 0) -> None:
        self.now_ms = START_MS + off_ms

    def __call__(self) -> int:
        self.now_ms += 1000
        return self.now_ms


class Laptop:
    """A workspace that tests work on as one person would."""

    def __init__(self, path: Path, *, clock: Clock | None = None) -> None:
        self.path = path
        self.name = path.name
        self.clock = clock or Clock()
        self.disk = HastyDisk()
        self.workspace = (Workspace.open if path.exists() else Workspace.create)(
            path, disk=self.disk, now_ms=self.clock
        )

    @property
    def team(self) -> Store:
        return self.workspace.team

    def site(self, site_id: str = SITE_ID, name: str = "Boathouse") -> Store:
        for store in self.workspace.sites.values():
            if store.id == site_id:
                return store
        return self.workspace.add_site(
            Site(id=site_id, name=name, latitude_deg=50, height_m=10), by=self.name
        )

    def stores(self) -> list[Store]:
        return self.workspace.stores()

    def write(self, store: Store, document: str, body: dict[str, Any] | None) -> Revision:
        """Save over what is shown here, as a person does who sees one head."""
        shown = store.shown(NOTES, document)
        parents = (shown.id,) if shown else ()
        return store.commit([Change(NOTES, document, body, parents)], by=self.name)[0]

    def resolve(self, store: Store, document: str) -> Revision:
        heads = store.heads(NOTES, document)
        change = Change(NOTES, document, heads[0].body, tuple(head.id for head in heads))
        return store.commit([change], by=self.name, why="resolved")[0]

    def sync(self, depot: Depot | Path, **options: Any) -> SyncReport:
        if isinstance(depot, Path):
            depot = FolderDepot(depot, disk=HastyDisk())
        return sync(self.workspace, depot, **options)

    def reopen(self) -> None:
        self.workspace.close()
        self.workspace = Workspace.open(self.path, disk=self.disk, now_ms=self.clock)

    def with_disk(self, disk: HastyDisk) -> None:
        self.disk = disk
        self.reopen()

    def copy_to(self, path: Path) -> None:
        self.workspace.close()
        shutil.copytree(self.path, path)
        self.reopen()

    def restore_from(self, path: Path) -> None:
        self.workspace.close()
        shutil.rmtree(self.path)
        shutil.copytree(path, self.path)
        self.reopen()

    def revisions(self) -> dict[str, set[str]]:
        return {store.id: {revision.id for revision in store.revisions()} for store in self.stores()}

    def heads(self) -> dict[tuple[str, str], set[str]]:
        """Return the raw heads of every document, asked of the store."""
        found = {}
        for store in self.stores():
            for table in store.tables():
                for document in {r.document for r in store.revisions() if r.table == table}:
                    shown = store.heads(table, document)
                    found[f"{store.id}/{table}", document] = {head.id for head in shown}
        return found

    def shown(self) -> dict[tuple[str, str, str], tuple[str, bytes | None]]:
        """Return what every laptop must show alike: the head and its body, by store, table and document."""
        found = {}
        for store in self.stores():
            for revision in store.revisions():
                head = store.shown(revision.table, revision.document)
                assert head is not None
                found[store.id, revision.table, revision.document] = (head.id, head.raw)
        return found


class CutError(OSError):
    """The stick is pulled, the power goes: nothing more is written."""


class CutDisk(HastyDisk):
    """Writes so many bytes and then nothing more, in the middle of a file if it comes to that."""

    def __init__(self, budget_bytes: int) -> None:
        self.left = budget_bytes

    def write(self, descriptor: int, data: bytes) -> int:
        if self.left <= 0:
            raise CutError(errno.EIO, "pulled")
        written = super().write(descriptor, data[: self.left])
        self.left -= written
        return written

    def fsync(self, descriptor: int) -> None:
        if self.left <= 0:
            raise CutError(errno.EIO, "pulled")
        super().fsync(descriptor)

    def replace(self, source: Path, target: Path) -> None:
        if self.left <= 0:
            raise CutError(errno.EIO, "pulled")
        super().replace(source, target)


class Oracle:
    """Everything that was ever acknowledged: twenty lines that know nothing of files."""

    def __init__(self) -> None:
        self.known: dict[str, tuple[str, Revision]] = {}

    def acknowledge(self, store: Store, *revisions: Revision) -> None:
        for revision in revisions:
            self.known[revision.id] = (store.id, revision)

    def forget(self, lost: Iterable[str]) -> None:
        """A disk was lost, and with it what it alone held."""
        for identity in lost:
            self.known.pop(identity, None)

    def revisions(self) -> dict[str, set[str]]:
        found: dict[str, set[str]] = {}
        for identity, (store, _) in self.known.items():
            found.setdefault(store, set()).add(identity)
        return found

    def heads(self) -> dict[tuple[str, str], set[str]]:
        """Return one revision for each distinct body among those nobody names as parent."""
        named = {parent for _, revision in self.known.values() for parent in revision.parents}
        found: dict[tuple[str, str], dict[str, list[Revision]]] = {}
        for store, revision in self.known.values():
            if revision.id not in named:
                document = found.setdefault((f"{store}/{revision.table}", revision.document), {})
                document.setdefault(repr(revision.body), []).append(revision)
        return {
            document: {
                max(twins, key=lambda r: (r.raw is not None, r.clock, r.id)).id for twins in bodies.values()
            }
            for document, bodies in found.items()
        }


def revisions_in(depot: Path, but: Path | None = None) -> set[str]:
    """Return the revisions in the whole files of a folder depot (but one), read with nothing of ours."""
    found = set()
    for path in depot.glob("*/sealed/*.jsonl"):
        data = path.read_bytes()
        if path != but and hashlib.sha256(data).hexdigest() == path.stem:
            for line in data.split(b"\n")[1:-1]:
                found |= {entry[0] for entry in orjson.loads(line[9:])}
    return found


def zero_fill(path: Path) -> None:
    """Leave a file of the right size with nothing in it, as some sticks do when they are pulled."""
    path.write_bytes(bytes(path.stat().st_size))


def any_file(depot: Path, chance: random.Random) -> Path | None:
    files = sorted(path for path in depot.glob("*/*/*") if path.is_file())
    return chance.choice(files) if files else None
