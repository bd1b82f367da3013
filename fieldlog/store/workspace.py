"""A workspace: a folder with the team's store and one store for each site."""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Self

from fieldlog.errors import (
    FieldlogError,
    InputError,
    NotFoundError,
    RefusedError,
    SaveError,
    StoreError,
)
from fieldlog.records.base import new_id
from fieldlog.records.site import Site
from fieldlog.store.clock import wall_ms
from fieldlog.store.disk import Disk
from fieldlog.store.journal import ACTIVE, save_error
from fieldlog.store.persons import Persons
from fieldlog.store.repo import Repo
from fieldlog.store.sealed import SEALED
from fieldlog.store.site_names import same_name, site_record, slug
from fieldlog.store.store import Store
from fieldlog.store.store_file import STORE_FILE, Kind, read_store_file
from fieldlog.store.workspace_file import (
    read_device,
    read_workspace_file,
    write_device,
    write_workspace_file,
)

__all__ = ["TEAM", "Workspace", "site_record"]

TEAM = "team"
SHORT_ID = 6


class Workspace:
    """Everything a team holds on one laptop. Stores are opened when they are first asked for."""

    def __init__(
        self,
        path: Path,
        *,
        disk: Disk | None = None,
        now_ms: Callable[[], int] = wall_ms,
        random_bytes: Callable[[int], bytes] = secrets.token_bytes,
    ) -> None:
        self.path = path
        self.disk = disk or Disk()
        self._now_ms = now_ms
        self._random_bytes = random_bytes
        identity = read_workspace_file(path, self.disk)
        # Work goes on without it, and the audit names the damage.
        self.fault = "the file is damaged" if identity is None else ""
        self.id = identity or ""
        self.device = self._own_device()
        self._open: dict[str, Store] = {}
        self._persons: Persons | None = None

    @classmethod
    def open(
        cls,
        path: Path,
        *,
        disk: Disk | None = None,
        now_ms: Callable[[], int] = wall_ms,
        random_bytes: Callable[[int], bytes] = secrets.token_bytes,
    ) -> Self:
        """Open a workspace; InputError where ``path`` is none."""
        return cls(Path(path), disk=disk, now_ms=now_ms, random_bytes=random_bytes)

    @classmethod
    def create(
        cls,
        path: Path,
        *,
        disk: Disk | None = None,
        now_ms: Callable[[], int] = wall_ms,
        random_bytes: Callable[[int], bytes] = secrets.token_bytes,
    ) -> Self:
        """Make an empty workspace in a new or empty folder; InputError where something is there."""
        path, disk = Path(path), disk or Disk()
        if path.exists() and not path.is_dir():
            raise InputError(f"{path} is a file", "name a new folder")
        if path.is_dir() and any(path.iterdir()):
            raise InputError(f"{path} is not empty", "name a new folder")
        device = new_id(random_bytes)
        try:
            disk.make_folder(path)
            Store.create(
                path / TEAM, store_id=TEAM, kind="team", device=device, disk=disk, now_ms=now_ms
            ).close()
            write_device(path, device, disk)
            # Last, so that a half-made workspace is none.
            write_workspace_file(path, new_id(random_bytes), disk)
        except OSError as error:
            raise save_error(path, error) from error
        return cls.open(path, disk=disk, now_ms=now_ms, random_bytes=random_bytes)

    @property
    def team(self) -> Store:
        """What belongs to no place: rigs, reference standards, protocols, setup plans, athletes, persons."""
        return self._store(TEAM)

    @property
    def persons(self) -> Persons:
        """The persons files, which lie under the team alone."""
        if self._persons is None:
            self._persons = Persons(self.team, disk=self.disk)
            # A medium that cannot be written keeps the files; nothing shows them.
            with contextlib.suppress(SaveError):
                self._persons.apply_erasures()
        return self._persons

    @property
    def sites(self) -> Mapping[str, Store]:
        """The site stores by folder name, each opened when it is looked at."""
        return _Sites(self)

    def site_folders(self) -> list[str]:
        """Return the folder names of the sites, sorted; folders that are no stores are ignored."""
        return [name for name, kind in self.store_folders() if kind == "site"]

    def store_folders(self) -> list[tuple[str, Kind | None]]:
        """Return every store's folder name and kind, None where its ``store.json`` cannot be read."""
        found: list[tuple[str, Kind | None]] = []
        for name in self._names():
            if not (self.path / name / STORE_FILE).is_file():
                continue
            try:
                found.append((name, read_store_file(self.path / name, self.disk)[1]))
            except FieldlogError:
                found.append((name, None))
        return found

    def all_folders(self) -> list[str]:
        """Return the stores, the team's first, and folders that were stores until their own file was lost."""
        names = {name for name, _ in self.store_folders()} | {TEAM}
        for name in self._names():
            if (self.path / name / ACTIVE).is_file() or (self.path / name / SEALED).is_dir():
                names.add(name)
        return sorted(names, key=lambda name: (name != TEAM, name))

    def stores(self) -> list[Store]:
        """Open and return the team's store and all sites'."""
        return [self.team, *self.sites.values()]

    def add_site(self, site: Site, *, by: str) -> Store:
        """Make a store for a new place, with its record in it; RefusedError where the name is taken."""
        for store in self.sites.values():
            kept = site_record(store)
            if kept is not None and same_name(kept.name, site.name):
                raise RefusedError(
                    f"there is a site {kept.name} already (id {store.id})",
                    "choose another name, or use that site",
                )
        store = self.adopt_site(site.id, site.name)
        Repo(store, Site).save(site, by=by)
        return store

    def adopt_site(self, store_id: str, label: str) -> Store:
        """Return the store of a site by id, made empty where this laptop does not hold it yet."""
        for store in self.sites.values():
            if store.id == store_id:
                return store
        name = self._free_folder(store_id, label)
        made = Store.create(
            self.path / name,
            store_id=store_id,
            kind="site",
            device=self.device,
            disk=self.disk,
            now_ms=self._now_ms,
        )
        self._open[name] = made
        return made

    def site_named(self, name_or_id: str) -> Store:
        """Return the one site with this name, id or folder.

        Raises NotFoundError that names the sites there are, InputError that names both ids where
        two sites bear the name.
        """
        found, known = [], []
        for folder, store in self.sites.items():
            record = site_record(store)
            label = record.name if record else folder
            known.append(f"{label} ({store.id})")
            if name_or_id in (store.id, folder):
                return store
            if same_name(label, name_or_id):
                found.append(store)
        if len(found) > 1:
            ids = ", ".join(store.id for store in found)
            raise InputError(f"more than one site is called {name_or_id}", f"give one of the ids {ids}")
        if not found:
            hint = (
                f"there are: {', '.join(known)}"
                if known
                else "make one: fieldlog site add NAME --latitude D --height M"
            )
            raise NotFoundError(f"there is no site {name_or_id}", hint)
        return found[0]

    def refresh(self) -> None:
        """Take in what other processes and a sync have brought to the stores that are open."""
        for store in list(self._open.values()):
            store.refresh()

    def close(self) -> None:
        for store in self._open.values():
            store.close()
        self._open.clear()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def _names(self) -> list[str]:
        try:
            return self.disk.names(self.path)
        except OSError as error:
            raise StoreError(f"{self.path}: {error.strerror or error}") from error

    def _store(self, name: str) -> Store:
        store = self._open.get(name)
        if store is None:
            store = self._open[name] = Store(
                self.path / name, device=self.device, disk=self.disk, now_ms=self._now_ms
            )
        return store

    def _free_folder(self, store_id: str, label: str) -> str:
        for length in (SHORT_ID, len(store_id)):
            name = f"{slug(label)}-{slug(store_id)[:length]}"
            if not (self.path / name).exists():
                return name
        raise StoreError(f"{self.path / name} is in the way", "move that folder out of the workspace")

    def _own_device(self) -> str:
        device = read_device(self.path, self.disk)
        if device is None:
            device = new_id(self._random_bytes)
            # A workspace that cannot be written is read under a passing name.
            with contextlib.suppress(OSError):
                write_device(self.path, device, self.disk)
        return device


class _Sites(Mapping[str, Store]):
    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace
        self._names = workspace.site_folders()

    def __getitem__(self, name: str) -> Store:
        if name not in self._names:
            raise KeyError(name)
        return self._workspace._store(name)  # noqa: SLF001 (two halves of one class)

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)
