"""One store: a folder of records that cannot lose one.

The truth is a set of immutable revisions in ``active.jsonl`` and ``sealed/``; what is shown is
rebuilt from it. A commit is visible only once it is durable.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import orjson

from fieldlog.errors import InputError, RefusedError, StoreError
from fieldlog.store.clock import HybridClock, wall_ms
from fieldlog.store.disk import Disk
from fieldlog.store.journal import Journal, save_error
from fieldlog.store.lines import (
    FORMAT,
    MAX_NAME,
    Change,
    Header,
    Revision,
    body_bytes,
    names_fit,
    write_commit,
)
from fieldlog.store.scan import Problem, quiet_collector
from fieldlog.store.sealed import SealedFiles
from fieldlog.store.shown import ShownRecords
from fieldlog.store.store_file import Kind, read_store_file, write_store_file
from fieldlog.store.traces import Traces
from fieldlog.store.undo import body_before

if TYPE_CHECKING:
    from tinydb.table import Table

    from fieldlog.store.tables import RecordBase

__all__ = ["Store"]

MAX_WHY = 4000
READING_TIMEOUT_S = 1.0
RETIRED = "retired"


class Store(ShownRecords):
    """A team's or a site's records, traces and their history."""

    def __init__(
        self,
        path: Path,
        *,
        device: str,
        disk: Disk | None = None,
        now_ms: Callable[[], int] = wall_ms,
    ) -> None:
        """Open a store and verify all it holds; damage is stepped over and named in ``problems()``.

        Raises InputError where ``path`` is no store, StoreError where its ``store.json`` is damaged,
        NewerSchemaError where a newer fieldlog made it.
        """
        super().__init__()
        self.path = Path(path)
        self.device = device
        self._disk = disk or Disk()
        self.id, self.kind = read_store_file(self.path, self._disk)
        self.traces = Traces(self.path, self._disk)
        self._clock = HybridClock(now_ms)
        self._journal = Journal(self.path, self.id, self._disk, self._documents.add)
        self._sealed = SealedFiles(self.path, self.id, self._disk, self._documents.add)
        self._thread_lock = threading.RLock()
        self._depth = 0
        self.read_records: dict[tuple[type, str], Any] = {}
        """What ``Repo`` has made of revisions lately, by model and revision; a revision never changes."""
        self._db: RecordBase | None = None
        try:
            self.refresh()
        except BaseException:
            self.close()
            raise

    @classmethod
    def create(
        cls,
        path: Path,
        *,
        store_id: str,
        kind: Kind,
        device: str,
        disk: Disk | None = None,
        now_ms: Callable[[], int] = wall_ms,
    ) -> Store:
        """Make an empty store in a new folder and open it."""
        disk = disk or Disk()
        try:
            disk.make_folder(path)
            write_store_file(path, store_id, kind, disk)
        except OSError as error:
            raise save_error(path, error) from error
        return cls(path, device=device, disk=disk, now_ms=now_ms)

    @property
    def name(self) -> str:
        """The folder's name."""
        return self.path.name

    def commit(self, changes: Sequence[Change], *, by: str, why: str = "") -> list[Revision]:
        """Make changes durable together, as one line; they are visible only once that has happened.

        Each change names as parents the revisions its author saw. Raises SaveError where the disk
        does not take it (nothing is changed then), InputError where a change is malformed.
        """
        if not changes:
            return []
        if len(by) > MAX_NAME or len(why) > MAX_WHY:
            raise InputError(f"a name has up to {MAX_NAME} characters, a reason up to {MAX_WHY}")
        self._enter()
        try:
            checked = [self._checked(change) for change in changes]
            line, revisions = write_commit(
                checked,
                clock=self._clock.tick(len(checked)),
                device=self.device,
                by=by,
                why=why,
            )
            if len(changes) > 1 and len({(c.table, c.document) for c in changes}) < len(changes):
                raise InputError("one commit changes the same record twice")
            self._journal.append(line)
            for revision in revisions:
                self._documents.follow(revision)
        finally:
            self._leave()
        return revisions

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Hold the lock over a read, a decision and a commit; others' changes are taken in first."""
        self._enter()
        try:
            yield
        finally:
            self._leave()

    def undo(self, table: str, document: str, *, by: str) -> Revision:
        """Take the last change of a document back: write a revision with the body it had before.

        Doing it again goes one step further back. Undoing the first revision deletes the document,
        undoing a deletion restores it. Raises RefusedError where there is nothing to undo.
        """
        with self.writing():
            strand = self._documents.strand(table, document)
            if strand is None:
                raise RefusedError("there is nothing to undo", "the record was never saved here")
            shown = strand.shown()
            earlier = body_before(strand, shown)
            change = Change(table, document, None if earlier is None else orjson.loads(earlier), (shown.id,))
            return self.commit([change], by=by, why="undo")[0]

    def refresh(self) -> None:
        """Take in what other processes and a sync have brought."""
        with self._thread_lock, quiet_collector():
            locked = self._try_acquire()
            self._documents.horizon = self._clock.horizon()
            try:
                self._sealed.rescan()
                if self._journal.take_in(writing=False, make_header=self._header):
                    self._sealed.rescan()
            finally:
                if locked:
                    self._journal.release()
            self._clock.witness(self._documents.newest)

    def seal(self) -> Path | None:
        """Turn the active file into a sealed one and begin anew; None where there is nothing to seal.

        A crash in between leaves the lines in both, which changes nothing.
        """
        with self.writing():
            if not self._journal.commits() or self._journal.header is None:
                return None
            try:
                self._journal.set_aside_damage()
                name = self._sealed.add(self._journal.content(), self._journal.header)
            except OSError as error:
                raise save_error(self.path, error) from error
            self._journal.restart(self._header((name.removesuffix(".jsonl"),)))
            return self._sealed.path(name)

    def retire(self) -> None:
        """Make every process that has this store open refuse to write, before its files are removed."""
        with self.writing():
            self._journal.restart(Header(FORMAT, RETIRED, self.device, (), self._clock.tick()))

    def sealed_names(self) -> list[str]:
        """Return the names of the sealed files here, sorted."""
        return self._sealed.names()

    def receive(self, name: str, data: bytes) -> list[Revision]:
        """Take in a sealed file from elsewhere; return the revisions that were new.

        Raises InputError where anything about it is wrong (then nothing was kept).
        """
        with self.writing():
            try:
                revisions = self._sealed.receive(name, data)
            except OSError as error:
                raise save_error(self.path, error) from error
            return [revision for revision in revisions if self._documents.add(revision)]

    def problems(self) -> list[Problem]:
        """Return what is wrong with the record files, as last read."""
        return [*self._journal.problems(), *self._sealed.problems(self._journal.header)]

    def notes(self) -> list[str]:
        """Return what is worth knowing about the record files but no damage."""
        return self._sealed.notes()

    def damaged_stretches(self) -> list[tuple[int, int]]:
        """Return offset and length of the damaged lines of the active file."""
        return self._journal.damaged_stretches()

    @property
    def db(self) -> RecordBase:
        """The store as a TinyDB, for ``where(...)``, ``search`` and ``get`` as everyone knows them."""
        if self._db is None:
            from fieldlog.store.tables import RecordBase

            self._db = RecordBase(self)
        return self._db

    def table(self, name: str) -> Table:
        """Return one table of ``db``."""
        table: Table = self.db.table(name)
        return table

    def close(self) -> None:
        with self._thread_lock:
            self._journal.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def _enter(self) -> None:
        self._thread_lock.acquire()
        if self._depth == 0:
            try:
                self._journal.acquire()
                try:
                    if self._journal.take_in(writing=True, make_header=self._header):
                        self._sealed.rescan()
                    self._clock.witness(self._documents.newest)
                except BaseException:
                    self._journal.release()
                    raise
            except BaseException:
                self._thread_lock.release()
                raise
        self._depth += 1

    def _leave(self) -> None:
        self._depth -= 1
        try:
            if self._depth == 0:
                self._journal.release()
        finally:
            self._thread_lock.release()

    def _try_acquire(self) -> bool:
        if self._depth:
            return False
        try:
            self._journal.acquire(READING_TIMEOUT_S)
        except StoreError:
            # Nobody writes on a read-only disk; and what a long writer has not finished is not read.
            return False
        return True

    def _header(self, previous: tuple[str, ...] | None = None) -> Header:
        if previous is None:
            previous = self._sealed.last_of(self.device)
        return Header(FORMAT, self.id, self.device, previous, self._clock.tick())

    def _checked(self, change: Change) -> tuple[str, str, tuple[str, ...], bytes | None]:
        if not names_fit(change.table, change.document):
            raise InputError(f"a table and a record's id have 1 to {MAX_NAME} characters")
        raw = None if change.body is None else body_bytes(change.body)
        parents = change.parents
        if parents:
            for parent in parents:
                known = self._documents.by_id.get(parent)
                if known is None or (known.table, known.document) != (change.table, change.document):
                    raise InputError(
                        f"{change.table} {change.document}: a parent is no revision of this record"
                    )
                self._clock.witness(known.clock)
            strand = self._documents.strand(change.table, change.document)
            assert strand is not None
            parents = strand.with_twins(parents)
        return change.table, change.document, parents, raw
