"""What a store shows: its records found by id or by a field, their heads and histories, and their conflicts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fieldlog.store.documents import Documents
from fieldlog.store.lines import Revision

__all__ = ["Conflict", "ShownRecords"]


@dataclass(frozen=True, slots=True)
class Conflict:
    """A document with more than one head; the first is the one shown."""

    table: str
    document: str
    heads: tuple[Revision, ...]


class ShownRecords:
    """The reading half of a store; whoever makes it fills ``_documents``."""

    def __init__(self) -> None:
        self._documents = Documents()

    def shown(self, table: str, document: str) -> Revision | None:
        """Return the head that is shown (a deletion has no body), None for an unknown document."""
        return self._documents.shown(table, document)

    def heads(self, table: str, document: str) -> list[Revision]:
        """Return the heads, equal bodies counted once, the shown one first."""
        strand = self._documents.strand(table, document)
        return [] if strand is None else strand.heads()

    def history(self, table: str, document: str) -> list[Revision]:
        """Return all revisions, oldest first, parents always before children."""
        strand = self._documents.strand(table, document)
        return [] if strand is None else strand.history()

    def documents(self, table: str) -> Iterator[Revision]:
        """Yield the shown revision of every document that is not deleted."""
        return self._documents.all_shown(table)

    def document(self, table: str, document: str) -> bool:
        """Tell whether the document exists and is not deleted."""
        revision = self.shown(table, document)
        return revision is not None and revision.raw is not None

    def equal(self, table: str, field: tuple[str, ...], value: object) -> list[Revision]:
        """Return the shown revisions whose field (a path of keys) equals a plain value, by index."""
        return self._documents.equal(table, field, value)

    def ids(self, table: str) -> list[str]:
        """Return the ids of all documents a table ever held, deleted ones too."""
        return self._documents.ids(table)

    def tables(self) -> list[str]:
        """Return the names of all tables that ever held a document, sorted."""
        return self._documents.tables()

    def revision(self, identity: str) -> Revision | None:
        """Return any revision by its id."""
        return self._documents.by_id.get(identity)

    def revisions(self) -> list[Revision]:
        """Return every revision there is."""
        return list(self._documents.by_id.values())

    def conflicts(self) -> list[Conflict]:
        """Return the documents whose heads differ."""
        return [
            Conflict(table, document, tuple(heads)) for table, document, heads in self._documents.conflicts()
        ]
