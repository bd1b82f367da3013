"""The store as a TinyDB: its own storage and table class, string ids, no query cache.

TinyDB's stock table rewrites every document on each change. This one commits only what changed,
before it becomes visible, and answers equality from an index. ``_read_table``, ``_update_table``,
``_get_next_id`` and ``QueryInstance._hash`` are TinyDB's inner names (4.9); a test watches them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, MutableMapping
from typing import TYPE_CHECKING, Any, cast

import orjson
from tinydb import TinyDB
from tinydb.queries import QueryLike
from tinydb.storages import Storage
from tinydb.table import Document, Table

from fieldlog.records.base import new_id
from fieldlog.store.documents import SCALARS
from fieldlog.store.lines import Change, Revision, canonical

if TYPE_CHECKING:
    from fieldlog.store.store import Store

__all__ = ["RecordBase", "RecordStorage", "RecordTable"]

Body = dict[str, Any]
Fields = Mapping[str, Any] | Callable[[MutableMapping[str, Any]], None]


class RecordStorage(Storage):
    """TinyDB's storage seam over a store. Tables go around it; whole-database calls go through."""

    def __init__(self, store: Store, by: str) -> None:
        self.store = store
        self.by = by

    def read(self) -> dict[str, dict[str, Body]] | None:
        tables = {
            table: {
                revision.document: cast("Body", revision.body) for revision in self.store.documents(table)
            }
            for table in self.store.tables()
        }
        return {table: documents for table, documents in tables.items() if documents} or None

    def write(self, data: dict[str, dict[str, Body]]) -> None:
        """Commit the difference between ``data`` and what is there, as one commit."""
        with self.store.writing():
            changes = []
            for table in {*self.store.tables(), *data}:
                recorded = Recording(self.store, table)
                wanted = data.get(table, {})
                for document in set(recorded) - set(wanted):
                    del recorded[document]
                for document, body in wanted.items():
                    recorded[document] = body
                changes += recorded.changes()
            self.store.commit(changes, by=self.by)

    def close(self) -> None:
        """The store is closed by whoever opened it."""


class Recording(MutableMapping[str, Any]):
    """One table during an update: reads fall through as copies, what was handed out or set is compared at the end."""

    def __init__(self, store: Store, table: str) -> None:
        self._store = store
        self._table = table
        self._touched: dict[str, Body | None] = {}

    def __getitem__(self, document: str) -> Body:
        if document not in self._touched:
            self._touched[document] = self._body(document)
        body = self._touched[document]
        if body is None:
            raise KeyError(document)
        return body

    def __setitem__(self, document: str, body: Body) -> None:
        self._touched[document] = body

    def __delitem__(self, document: str) -> None:
        if document not in self:
            raise KeyError(document)
        self._touched[document] = None

    def __contains__(self, document: object) -> bool:
        if document in self._touched:
            return self._touched[document] is not None
        return self._store.document(self._table, cast("str", document))

    def __iter__(self) -> Iterator[str]:
        standing = [revision.document for revision in self._store.documents(self._table)]
        for document in dict.fromkeys([*standing, *self._touched]):
            if document in self:
                yield document

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def changes(self) -> list[Change]:
        """Return what differs from the store, each with the revision it was made from."""
        changes = []
        for document, body in self._touched.items():
            shown = self._store.shown(self._table, document)
            if body is None:
                if shown is not None and shown.raw is not None:
                    changes.append(Change(self._table, document, None, (shown.id,)))
            elif shown is None:
                changes.append(Change(self._table, document, body))
            elif canonical(shown.raw) != canonical(orjson.dumps(body)):
                changes.append(Change(self._table, document, body, (shown.id,)))
        return changes

    def _body(self, document: str) -> Body | None:
        shown = self._store.shown(self._table, document)
        return None if shown is None else shown.body


class View(Mapping[str, Any]):
    """One table for reading: documents are made when they are asked for."""

    def __init__(self, store: Store, table: str) -> None:
        self._store = store
        self._table = table

    def __getitem__(self, document: str) -> Body:
        shown = self._store.shown(self._table, document)
        if shown is None or shown.raw is None:
            raise KeyError(document)
        return cast("Body", orjson.loads(shown.raw))

    def __iter__(self) -> Iterator[str]:
        return (revision.document for revision in self._store.documents(self._table))

    def __len__(self) -> int:
        return sum(1 for _ in self._store.documents(self._table))


class RecordTable(Table):
    """A TinyDB table over a store."""

    document_id_class = str  # type: ignore[assignment] # TinyDB's hook is declared for int alone
    default_query_cache_capacity = 0

    def __init__(self, storage: RecordStorage, name: str, **_cache_options: object) -> None:
        self._store = storage.store
        self._by = storage.by
        super().__init__(storage, name, cache_size=0)

    def search(self, cond: QueryLike) -> list[Document]:
        return [_document(revision, body) for revision, body in self._matching(cond)]

    def get(self, cond: QueryLike | None = None, doc_id: Any = None, doc_ids: Any = None) -> Any:
        if cond is None or doc_id is not None or doc_ids is not None:
            return super().get(cond, doc_id, doc_ids)
        return next((_document(revision, body) for revision, body in self._matching(cond)), None)

    def update(
        self, fields: Fields, cond: QueryLike | None = None, doc_ids: Iterable[Any] | None = None
    ) -> list[Any]:
        with self._store.writing():
            return super().update(fields, doc_ids=self._targets(cond, doc_ids))

    def upsert(self, document: Mapping[str, Any], cond: QueryLike | None = None) -> list[Any]:
        with self._store.writing():
            return super().upsert(document, cond)

    def remove(self, cond: QueryLike | None = None, doc_ids: Iterable[Any] | None = None) -> list[Any]:
        if cond is None and doc_ids is None:
            return super().remove()
        with self._store.writing():
            return super().remove(doc_ids=self._targets(cond, doc_ids))

    def __iter__(self) -> Iterator[Document]:
        for revision in self._store.documents(self.name):
            yield _document(revision, cast("Body", revision.body))

    def _targets(self, cond: QueryLike | None, doc_ids: Iterable[Any] | None) -> list[Any]:
        if doc_ids is not None:
            return list(doc_ids)
        if cond is None:
            return list(View(self._store, self.name))
        return [revision.document for revision, _ in self._matching(cond)]

    def _matching(self, cond: QueryLike) -> Iterator[tuple[Revision, Body]]:
        equality = _equality(getattr(cond, "_hash", None))
        if equality is None:
            candidates: Iterable[Revision] = self._store.documents(self.name)
        else:
            candidates = self._store.equal(self.name, *equality)
        for revision in candidates:
            body = cast("Body", revision.body)
            if cond(body):
                yield revision, body

    def _get_next_id(self) -> str:
        return new_id()

    def _read_table(self) -> Mapping[str, Any]:  # type: ignore[override] # made on demand
        return View(self._store, self.name)

    def _update_table(self, updater: Callable[[Any], None]) -> None:
        with self._store.writing():
            recording = Recording(self._store, self.name)
            updater(recording)
            self._store.commit(recording.changes(), by=self._by)


class RecordBase(TinyDB):
    """A store as a TinyDB. What is written through it carries ``by`` as its author."""

    table_class = RecordTable  # type: ignore[assignment] # narrower than the hook is declared

    def __init__(self, store: Store, by: str = "direct") -> None:
        super().__init__(store, by, storage=RecordStorage)


def _document(revision: Revision, body: Body) -> Document:
    return Document(body, cast("int", revision.document))


def _equality(key: Any) -> tuple[tuple[str, ...], Any] | None:
    """Return path and value of an equality that a query demands, read from TinyDB's own key for it."""
    if not isinstance(key, tuple) or not key:
        return None
    if key[0] == "==":
        _, path, value = key
        plain = isinstance(value, SCALARS) and all(isinstance(step, str) for step in path)
        return (path, value) if plain else None
    if key[0] == "and":
        return next((found for part in key[1] if (found := _equality(part)) is not None), None)
    return None
