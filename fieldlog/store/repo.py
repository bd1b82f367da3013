"""Records in and out of a store: pydantic validates on the way in, and what is asked for on the way out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Generic, TypeVar

from fieldlog.errors import ConflictError, FieldlogError, InputError, NewerSchemaError
from fieldlog.records.base import Record
from fieldlog.store.lines import Change, Revision, body_bytes, canonical
from fieldlog.store.store import Store

__all__ = ["Kept", "Repo"]

Model = TypeVar("Model", bound=Record)

MOST_RECORDS = 20_000
"""How many records of a store are kept as read, in memory."""


@dataclass(frozen=True, slots=True)
class Kept(Generic[Model]):
    """A record as it is kept: the record and the revision it was read from."""

    record: Model
    revision: Revision


class Repo(Generic[Model]):
    """All records of one kind in one store."""

    def __init__(self, store: Store, model: type[Model]) -> None:
        self.store = store
        self.model = model

    def get(self, record_id: str) -> Kept[Model] | None:
        """Return a record, None where it does not exist or was deleted.

        Raises NewerSchemaError or InputError where it is there but cannot be read.
        """
        revision = self.store.shown(self.model.table, record_id)
        return None if revision is None or revision.raw is None else self._read(revision)

    def find(self, **equals: object) -> list[Kept[Model]]:
        """Return the records whose stored fields equal these plain values, by index.

        Records that cannot be read are left out; ``unreadable`` lists them.
        """
        (field, value), *others = equals.items()
        found = self.store.equal(self.model.table, (field,), value)
        if others:
            found = [revision for revision in found if _has(revision, others)]
        return self._readable(found)

    def all(self) -> list[Kept[Model]]:
        """Return every record that can be read."""
        return self._readable(self.store.documents(self.model.table))

    def unreadable(self) -> list[tuple[Revision, FieldlogError]]:
        """Return what cannot be read and why: written by a newer fieldlog, or not valid."""
        found: list[tuple[Revision, FieldlogError]] = []
        for revision in self.store.documents(self.model.table):
            try:
                self._read(revision)
            except FieldlogError as error:
                found.append((revision, error))
        return found

    def history(self, record_id: str) -> list[Revision]:
        """Return all revisions of a record, oldest first."""
        return self.store.history(self.model.table, record_id)

    def save(self, record: Model, *, by: str, why: str = "", seen: Revision | None = None) -> Kept[Model]:
        """Save a record; ``seen`` is the revision its author looked at, None for a new record.

        Saving a body that is there already adds nothing. A save after an older revision than the
        one shown makes a second head, which is shown as a conflict: nothing is overwritten. Raises
        ConflictError where ``seen`` is None but another body exists, NewerSchemaError where the
        record there needs a newer fieldlog.
        """
        with self.store.writing():
            change = self.change(record, seen=seen)
            if change is None:
                return self._same_as(record)
            return Kept(record, self.store.commit([change], by=by, why=why)[0])

    def change(self, record: Model, *, seen: Revision | None = None) -> Change | None:
        """Return the change that ``save`` would commit, None where the body is there already.

        For several records in one commit: gather the changes inside ``store.writing()``.
        """
        body = record.to_body()
        wanted = canonical(body_bytes(body))
        heads = self.store.heads(self.model.table, record.id)
        if any(canonical(head.raw) == wanted for head in heads):
            return None
        for head in heads:
            self._refuse_newer(head)
        if seen is not None:
            parents: tuple[str, ...] = (seen.id,)
        elif any(not head.deleted for head in heads):
            raise ConflictError(
                f"{self.model.table} {record.id} is there already with other content",
                "look at it first, then change it",
            )
        else:
            parents = tuple(head.id for head in heads)
        return Change(self.model.table, record.id, body, parents)

    def delete(self, record_id: str, *, by: str, why: str = "", seen: Revision) -> Revision:
        """Delete the record its author looked at in ``seen``; its history stays."""
        with self.store.writing():
            shown = self.store.shown(self.model.table, record_id)
            if shown is not None and shown.deleted:
                return shown
            change = Change(self.model.table, record_id, None, (seen.id,))
            return self.store.commit([change], by=by, why=why)[0]

    def _same_as(self, record: Model) -> Kept[Model]:
        wanted = canonical(body_bytes(record.to_body()))
        heads = self.store.heads(self.model.table, record.id)
        return Kept(record, next(head for head in heads if canonical(head.raw) == wanted))

    def _refuse_newer(self, head: Revision) -> None:
        body = head.body
        version = None if body is None else body.get("schema_version")
        if isinstance(version, int) and version > self.model.schema_latest:
            raise NewerSchemaError(
                f"{self.model.table} {head.document} was written by a newer fieldlog",
                "change it there; it is kept and passed on as it is",
            )

    def _read(self, revision: Revision) -> Kept[Model]:
        # Records are frozen and revisions never change, so one reading serves all who look.
        known, key = self.store.read_records, (self.model, revision.id)
        record: Model | None = known.get(key)
        if record is None:
            body = revision.body
            assert body is not None
            record = self.model.from_body(body)
            if record.id != revision.document:
                raise InputError(f"{self.model.table} {record.id} lies under another id, {revision.document}")
            if len(known) >= MOST_RECORDS:
                known.clear()
            known[key] = record
        return Kept(record, revision)

    def _readable(self, revisions: Iterable[Revision]) -> list[Kept[Model]]:
        found = []
        for revision in revisions:
            try:
                found.append(self._read(revision))
            except FieldlogError:
                continue  # listed by unreadable()
        return found


def _has(revision: Revision, fields: list[tuple[str, object]]) -> bool:
    body = revision.body
    return body is not None and all(field in body and body[field] == value for field, value in fields)
