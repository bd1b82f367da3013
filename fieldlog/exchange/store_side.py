"""One store in one sync: where it lies, what is noted of it, what came and went. Opened only when it must be."""

from __future__ import annotations

from fieldlog.exchange.depot import DepotFile, Stamp
from fieldlog.exchange.outcome import Outcome
from fieldlog.exchange.session import Session
from fieldlog.exchange.store_files import StoreFiles
from fieldlog.store.lines import Revision
from fieldlog.store.sealed import SEALED
from fieldlog.store.store import Store
from fieldlog.store.traces import traces_of
from fieldlog.store.workspace import TEAM

__all__ = ["StoreSide"]


class StoreSide:
    """What the parts of a sync know of one store. ``folder`` is None while this laptop does not hold it."""

    def __init__(self, session: Session, store_id: str, folder: str | None) -> None:
        self.session = session
        self.id = store_id
        self.folder = folder
        self.noted = session.notes.of(store_id)
        self.outcome = Outcome(store_id, session.known.labels.get(store_id) or store_id)
        self.signatures: dict[str, Stamp] = {}
        """The signature files the depot lists for this store."""
        self.fresh: list[Revision] = []
        """The revisions that were taken in."""
        self.taking = False
        """Whether anything was taken in."""
        self._opened: Store | None = None

    @property
    def held(self) -> bool:
        """Whether this laptop holds the store."""
        return self.folder is not None

    @property
    def opened(self) -> bool:
        return self._opened is not None

    @property
    def store(self) -> Store:
        """The store, opened now if it was not."""
        assert self.folder is not None
        if self._opened is None:
            workspace = self.session.workspace
            self._opened = workspace.team if self.id == TEAM else self.session.sites[self.folder]
            self._opened.refresh()
        return self._opened

    @property
    def files(self) -> StoreFiles:
        """The store's files, to look at without opening it."""
        assert self.folder is not None
        return StoreFiles(self.session.workspace.path / self.folder, self.session.workspace.disk)

    def key(self, kind: str, name: str) -> DepotFile:
        return DepotFile(self.id, kind, name)  # type: ignore[arg-type] # callers name the kind literally

    def sealed_names(self) -> list[str]:
        """Return the names of the sealed files here, none while the store is not held."""
        return self.files.sealed() if self.held else []

    def data(self, key: DepotFile) -> bytes:
        """Return a file of this laptop as it lies here."""
        return self.session.workspace.disk.read_file(self.files.path / key.kind / key.name)

    def size_bytes(self, key: DepotFile) -> int:
        return self.session.workspace.disk.stamp(self.files.path / key.kind / key.name)[0]

    def adopt(self, label: str) -> None:
        """Make a store for a site this laptop did not hold yet, under the name its record gives."""
        self._opened = self.session.workspace.adopt_site(self.id, label or "site")
        self.folder = self._opened.name
        self.outcome.label = label or self.id

    def before_taking(self) -> None:
        """Remember which conflicts there were, so that a cut sync still reports the new ones later."""
        if self.taking:
            return
        self.taking = True
        if not self.noted.unfinished:
            for conflict in self.store.conflicts():
                document = f"{conflict.table}/{conflict.document}"
                self.noted.told[document] = sorted(head.id for head in conflict.heads)
            self.noted.unfinished = True
            self.session.notes.save()

    def took(self, revisions: list[Revision]) -> None:
        """Count a file that was taken in, and the recordings it makes this laptop wait for."""
        self.fresh += revisions
        self.outcome.received += 1
        if self.noted.awaited is not None:
            self.noted.awaited |= set(traces_of(revisions)) - self.noted.left

    def damaged_here(self) -> set[str]:
        """Return the sealed files that are damaged here, as far as the store was opened to know."""
        if not self.held or not (self.opened or self.session.verify):
            return set()
        return {
            problem.file.rpartition("/")[2]
            for problem in self.store.problems()
            if problem.kind == "damaged" and problem.file.startswith(f"{SEALED}/")
        }
