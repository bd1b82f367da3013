"""What is not yet shared: how this laptop stands to the depots it knows, from its notes alone.

No depot is reached for this, so it is true as of the last sync with each.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fieldlog.exchange.notes import StoreNotes, WorkspaceNotes, noted_depots
from fieldlog.exchange.store_files import StoreFiles
from fieldlog.store.store_file import read_store_file
from fieldlog.store.workspace import TEAM, Workspace

__all__ = ["DepotStanding", "Standing", "StoreStanding", "standing"]


@dataclass(frozen=True, slots=True)
class StoreStanding:
    """One store: changes made since the last sync, and sealed files that no known depot holds."""

    store: str
    label: str
    changes: int
    files: int

    @property
    def shared(self) -> bool:
        """Whether some depot holds everything."""
        return not self.changes and not self.files


@dataclass(frozen=True, slots=True)
class DepotStanding:
    """One depot: files it lacks of this laptop's, recordings nobody has brought there, and those left there."""

    address: str
    lacks: int
    awaited: int
    left: int


@dataclass(frozen=True, slots=True)
class Standing:
    """How this laptop stands: its stores, the team's first, and the depots it knows."""

    stores: tuple[StoreStanding, ...]
    depots: tuple[DepotStanding, ...]

    @property
    def changes(self) -> int:
        """Changes that no depot can hold yet."""
        return sum(store.changes for store in self.stores)

    @property
    def files(self) -> int:
        """Sealed files that no known depot holds."""
        return sum(store.files for store in self.stores)


def standing(workspace: Workspace) -> Standing:
    """Return what is not yet shared, without opening a store or reaching a depot."""
    depots = noted_depots(workspace.path, workspace.disk)
    labels = WorkspaceNotes(workspace.path, workspace.disk).labels
    stores: list[StoreStanding] = []
    lacks = dict.fromkeys(depots, 0)
    for folder, kind in workspace.store_folders():
        if kind is None:
            continue
        path = workspace.path / folder
        store_id = TEAM if folder == TEAM else read_store_file(path, workspace.disk)[0]
        files = StoreFiles(path, workspace.disk)
        sealed = files.sealed()
        held = {address: _held(noted, store_id, sealed) for address, noted in depots.items()}
        for address, names in held.items():
            lacks[address] += len(sealed) - len(names)
        anywhere = set().union(*held.values())
        label = TEAM if store_id == TEAM else labels.get(store_id) or files.site_name(store_id) or folder
        stores.append(
            StoreStanding(store_id, label, max(files.active_lines() - 1, 0), len(sealed) - len(anywhere))
        )
    stores.sort(key=lambda store: (store.store != TEAM, store.label))
    return Standing(
        tuple(stores),
        tuple(
            DepotStanding(
                address,
                lacks[address],
                sum(len(store.awaited or ()) for store in noted.values()),
                sum(len(store.left) for store in noted.values()),
            )
            for address, noted in sorted(depots.items())
        ),
    )


def _held(noted: Mapping[str, StoreNotes], store_id: str, sealed: list[str]) -> set[str]:
    files = noted[store_id].files["sealed"] if store_id in noted else {}
    # The third figure says why a file was set aside; empty where it was verified whole.
    return {name for name in sealed if name in files and files[name][2] == ""}
