"""What the revisions add up to: documents, their heads, conflicts, and indexes for equality.

This view is rebuilt from the revisions and holds no truth of its own. The order in which revisions
arrive makes no difference to it.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from fieldlog.store.lines import Revision, canonical

__all__ = ["SCALARS", "Documents", "Strand", "precedence"]

SCALARS = (str, int, float, bool, type(None))
Path = tuple[str, ...]
Index = dict[Any, dict[str, None]]


class Strand:
    """All revisions of one document and which of them are heads."""

    __slots__ = ("_heads", "order", "revisions")

    def __init__(self, first: Revision) -> None:
        self.revisions = [first]
        self.order = first.clock
        self._heads: tuple[Revision, ...] | None = (first,)

    def add(self, revision: Revision) -> None:
        self.revisions.append(revision)
        self.order = min(self.order, revision.clock)
        self._heads = None

    def raw_heads(self) -> tuple[Revision, ...]:
        """Return the revisions no other names as parent, the one to show first."""
        if self._heads is None:
            named = {parent for revision in self.revisions for parent in revision.parents}
            heads = [revision for revision in self.revisions if revision.id not in named]
            heads.sort(key=precedence, reverse=True)
            self._heads = tuple(heads)
        return self._heads

    def follow(self, revision: Revision) -> None:
        """Add a revision made just now, which nobody can have named yet."""
        heads = [head for head in self.raw_heads() if head.id not in revision.parents]
        self.add(revision)
        self._heads = tuple(sorted([*heads, revision], key=precedence, reverse=True))

    def heads(self) -> list[Revision]:
        """Return one head for each different body, the one to show first."""
        heads = self.raw_heads()
        if len(heads) == 1:
            return list(heads)
        distinct: dict[bytes | None, Revision] = {}
        for head in heads:
            distinct.setdefault(canonical(head.raw), head)
        return list(distinct.values())

    def shown(self) -> Revision:
        return self.raw_heads()[0]

    def with_twins(self, parents: Iterable[str]) -> tuple[str, ...]:
        """Return ``parents`` and every head whose body equals that of a head among them."""
        named = tuple(dict.fromkeys(parents))
        heads = self.raw_heads()
        if len(heads) == 1:
            return named
        bodies = {canonical(head.raw) for head in heads if head.id in named}
        twins = [head.id for head in heads if head.id not in named and canonical(head.raw) in bodies]
        return (*named, *twins)

    def history(self) -> list[Revision]:
        """Return all revisions, parents before children, otherwise by clock and id."""
        known = {revision.id: revision for revision in self.revisions}
        waiting = {
            revision.id: sum(1 for parent in set(revision.parents) if parent in known)
            for revision in self.revisions
        }
        children: dict[str, list[Revision]] = {}
        for revision in self.revisions:
            for parent in set(revision.parents):
                children.setdefault(parent, []).append(revision)
        ready = [(r.clock, r.id) for r in self.revisions if not waiting[r.id]]
        heapq.heapify(ready)
        ordered = []
        while ready:
            _, identity = heapq.heappop(ready)
            ordered.append(known[identity])
            for child in children.get(identity, ()):
                waiting[child.id] -= 1
                if not waiting[child.id]:
                    heapq.heappush(ready, (child.clock, child.id))
        return ordered


def precedence(revision: Revision) -> tuple[bool, int, str]:
    """Order heads alike on every laptop: an edit over a deletion, then the later clock, then the id."""
    return (revision.raw is not None, revision.clock, revision.id)


class TableView:
    """One table: each document's only revision, or its strand where there are more."""

    __slots__ = ("documents", "indexes", "sorted")

    def __init__(self) -> None:
        self.documents: dict[str, Revision | Strand] = {}
        self.indexes: dict[Path, Index] = {}
        self.sorted = True

    def in_order(self) -> list[Revision | Strand]:
        """Return the documents in the order of their first revisions, alike on every laptop."""
        if not self.sorted:
            self.documents = dict(sorted(self.documents.items(), key=lambda item: _order(item[1])))
            self.sorted = True
        return list(self.documents.values())


class Documents:
    """All documents of one store, by table and id.

    ``newest`` is the latest stamp taken in that is not beyond ``horizon``.
    """

    def __init__(self) -> None:
        self.by_id: dict[str, Revision] = {}
        self.newest = 0
        self.horizon = 0
        self._tables: dict[str, TableView] = {}
        self._amended: dict[tuple[str, str], Strand] = {}

    def add(self, revision: Revision) -> bool:
        """Take in a revision from disk; False where it is known already."""
        if revision.id in self.by_id:
            return False
        self.by_id[revision.id] = revision
        table = self._tables.get(revision.table)
        if table is None:
            table = self._tables[revision.table] = TableView()
        clock = revision.clock
        if self.newest < clock <= self.horizon:
            self.newest = clock
        else:
            table.sorted = False
        known = table.documents.setdefault(revision.document, revision)
        if known is not revision:
            self._amend(table, known, revision, made_now=False)
        elif table.indexes:
            _move(table.indexes, None, revision)
        return True

    def follow(self, revision: Revision) -> None:
        """Take in a revision this process has just made durable."""
        self.horizon = max(self.horizon, revision.clock)
        known = self._known(revision.table, revision.document)
        if known is None:
            self.add(revision)
            return
        self.by_id[revision.id] = revision
        self.newest = max(self.newest, revision.clock)
        self._amend(self._tables[revision.table], known, revision, made_now=True)

    def tables(self) -> list[str]:
        return sorted(self._tables)

    def ids(self, table: str) -> list[str]:
        view = self._tables.get(table)
        return [] if view is None else list(view.documents)

    def strand(self, table: str, document: str) -> Strand | None:
        known = self._known(table, document)
        return Strand(known) if isinstance(known, Revision) else known

    def shown(self, table: str, document: str) -> Revision | None:
        known = self._known(table, document)
        return known.shown() if isinstance(known, Strand) else known

    def all_shown(self, table: str) -> Iterator[Revision]:
        """Yield the shown, not deleted revisions of a table, oldest document first."""
        view = self._tables.get(table)
        for known in view.in_order() if view is not None else ():
            revision = known if isinstance(known, Revision) else known.shown()
            if revision.raw is not None:
                yield revision

    def conflicts(self) -> Iterator[tuple[str, str, list[Revision]]]:
        """Yield table, document and heads wherever heads differ."""
        for (table, document), strand in list(self._amended.items()):
            if len(strand.raw_heads()) > 1:
                heads = strand.heads()
                if len(heads) > 1:
                    yield table, document, heads

    def equal(self, table: str, path: Path, value: Any) -> list[Revision]:
        """Return the shown revisions whose field at ``path`` equals ``value``, without a scan.

        The index of a field is made when it is first asked for. ``value`` must be one of SCALARS.
        """
        view = self._tables.get(table)
        if view is None:
            return []
        index = view.indexes.get(path)
        if index is None:
            index = {}
            for revision in self.all_shown(table):
                _enter(index, path, revision)
            view.indexes[path] = index
        found = [view.documents[document] for document in index.get(value, ())]
        if len(found) > 1:
            found.sort(key=_order)
        return [known if isinstance(known, Revision) else known.shown() for known in found]

    def _known(self, table: str, document: str) -> Revision | Strand | None:
        view = self._tables.get(table)
        return None if view is None else view.documents.get(document)

    def _amend(
        self, table: TableView, known: Revision | Strand, revision: Revision, *, made_now: bool
    ) -> None:
        if isinstance(known, Revision):
            known = table.documents[revision.document] = Strand(known)
            self._amended[revision.table, revision.document] = known
        before = known.shown() if table.indexes else None
        if made_now:
            known.follow(revision)
        else:
            known.add(revision)
        if table.indexes:
            _move(table.indexes, before, known.shown())


def value_at(body: Any, path: Path) -> tuple[bool, Any]:
    """Return whether a body has a field at ``path``, and its value."""
    for step in path:
        if not isinstance(body, Mapping) or step not in body:
            return False, None
        body = body[step]
    return True, body


def _order(known: Revision | Strand) -> tuple[int, str]:
    if isinstance(known, Revision):
        return known.clock, known.document
    return known.order, known.revisions[0].document


def _enter(index: Index, path: Path, revision: Revision) -> None:
    present, value = value_at(revision.body, path)
    if present and isinstance(value, SCALARS):
        index.setdefault(value, {})[revision.document] = None


def _move(indexes: dict[Path, Index], before: Revision | None, after: Revision) -> None:
    for path, index in indexes.items():
        if before is not None:
            present, value = value_at(before.body, path)
            if present and isinstance(value, SCALARS) and value in index:
                index[value].pop(before.document, None)
        _enter(index, path, after)
