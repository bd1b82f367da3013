"""What the revisions add up to: documents, their heads, conflicts, and indexes for equality.

This view is rebuilt from the revisions and holds no truth of its own. The order in which revisions
arrive makes no difference to it.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from fieldlog.store.lines import Revision, canonical

__all__ = ["SCALARS", "Documents", "Strand"]

SCALARS = (str, int, float, bool, type(None))
Path = tuple[str, ...]


class Strand:
    """All revisions of one document and which of them are heads."""

    __slots__ = ("_heads", "order", "revisions")

    def __init__(self, first: Revision, order: int) -> None:
        self.revisions = [first]
        self.order = order
        self._heads: tuple[Revision, ...] | None = (first,)

    def add(self, revision: Revision) -> None:
        self.revisions.append(revision)
        self._heads = None

    def raw_heads(self) -> tuple[Revision, ...]:
        """Return the revisions no other names as parent, the one to show first."""
        if self._heads is None:
            named = {parent for revision in self.revisions for parent in revision.parents}
            heads = [revision for revision in self.revisions if revision.id not in named]
            heads.sort(key=_precedence, reverse=True)
            self._heads = tuple(heads)
        return self._heads

    def follow(self, revision: Revision) -> None:
        """Add a revision made just now, which nobody can have named yet."""
        heads = [head for head in self.raw_heads() if head.id not in revision.parents]
        self.revisions.append(revision)
        self._heads = tuple(sorted([*heads, revision], key=_precedence, reverse=True))

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
        heads = self._heads or self.raw_heads()
        return heads[0]

    def with_twins(self, parents: Iterable[str]) -> tuple[str, ...]:
        """Return ``parents`` and every head whose body equals that of a head among them."""
        named = tuple(dict.fromkeys(parents))
        heads = self.raw_heads()
        if len(heads) == 1:
            return named
        bodies = {canonical(head.raw) for head in heads if head.id in named}
        twins = [head.id for head in heads if head.id not in named and canonical(head.raw) in bodies]
        return (*named, *twins)

    def knows(self, identity: str) -> bool:
        return any(revision.id == identity for revision in reversed(self.revisions))

    def history(self) -> list[Revision]:
        """Return all revisions, parents before children, otherwise by clock and id."""
        if len(self.revisions) == 1:
            return list(self.revisions)
        known = {revision.id: revision for revision in self.revisions}
        waiting = {
            revision.id: len({parent for parent in revision.parents if parent in known})
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


def _precedence(revision: Revision) -> tuple[bool, int, str]:
    """Order heads alike on every laptop: an edit over a deletion, then the later clock, then the id."""
    return (revision.raw is not None, revision.clock, revision.id)


class Documents:
    """All documents of one store, by table and id."""

    def __init__(self) -> None:
        self.tables: dict[str, dict[str, Strand]] = {}
        self.by_id: dict[str, Revision] = {}
        self._amended: dict[tuple[str, str], Strand] = {}
        self._indexes: dict[str, dict[Path, dict[Any, dict[str, None]]]] = {}
        self._order = 0

    def add(self, revision: Revision) -> bool:
        """Take in a revision from disk; False where it is known already."""
        if revision.id in self.by_id:
            return False
        self._place(revision, made_now=False)
        return True

    def follow(self, revision: Revision) -> None:
        """Take in a revision this process has just made durable."""
        self._place(revision, made_now=True)

    def strand(self, table: str, document: str) -> Strand | None:
        strands = self.tables.get(table)
        return None if strands is None else strands.get(document)

    def shown(self, table: str) -> Iterator[Revision]:
        """Yield the shown, not deleted revisions of a table, oldest document first."""
        for strand in list(self.tables.get(table, {}).values()):
            revision = strand.shown()
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
        indexes = self._indexes.setdefault(table, {})
        index = indexes.get(path)
        if index is None:
            index = indexes[path] = {}
            for revision in self.shown(table):
                _enter(index, path, revision)
        strands = self.tables.get(table, {})
        found = [strands[document] for document in index.get(value, ())]
        return [strand.shown() for strand in sorted(found, key=_order_of)]

    def _place(self, revision: Revision, *, made_now: bool) -> None:
        self.by_id[revision.id] = revision
        strands = self.tables.get(revision.table)
        if strands is None:
            strands = self.tables[revision.table] = {}
        strand = strands.get(revision.document)
        indexes = self._indexes.get(revision.table)
        if strand is None:
            self._order += 1
            strands[revision.document] = Strand(revision, self._order)
            if indexes:
                _move(indexes, None, revision)
            return
        before = strand.shown()
        if made_now:
            strand.follow(revision)
        else:
            strand.add(revision)
        self._amended[revision.table, revision.document] = strand
        if before.raw is None and revision.raw is not None:
            # A document that comes back after a deletion stands last again, as in any table.
            self._order += 1
            strand.order = self._order
            strands[revision.document] = strands.pop(revision.document)
        if indexes:
            _move(indexes, before, strand.shown())


def value_at(body: Any, path: Path) -> tuple[bool, Any]:
    """Return whether a body has a field at ``path``, and its value."""
    for step in path:
        if not isinstance(body, Mapping) or step not in body:
            return False, None
        body = body[step]
    return True, body


def _order_of(strand: Strand) -> int:
    return strand.order


def _enter(index: dict[Any, dict[str, None]], path: Path, revision: Revision) -> None:
    present, value = value_at(revision.body, path)
    if present and isinstance(value, SCALARS):
        index.setdefault(value, {})[revision.document] = None


def _move(indexes: dict[Path, dict[Any, dict[str, None]]], before: Revision | None, after: Revision) -> None:
    for path, index in indexes.items():
        if before is not None:
            present, value = value_at(before.body, path)
            if present and isinstance(value, SCALARS) and value in index:
                index[value].pop(before.document, None)
        _enter(index, path, after)
