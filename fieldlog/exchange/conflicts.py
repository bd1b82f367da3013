"""Conflicts side by side, and how one is settled: by taking a head, or field by field.

Nothing is merged by itself. What is chosen becomes a revision that names all heads as parents, so
the choice travels like any other change and the heads stay in the history.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from fieldlog.errors import InputError, NewerSchemaError, NotFoundError, RefusedError
from fieldlog.exchange.summaries import conflict_summary
from fieldlog.records.kinds import record_models
from fieldlog.store.lines import Change, Revision
from fieldlog.store.shown import Conflict
from fieldlog.store.store import Store
from fieldlog.store.workspace import TEAM, Workspace, site_record

__all__ = ["Difference", "OpenConflict", "combine", "first_choice", "open_conflicts", "take", "take_chosen"]

ABSENT = "—"
SHORTEST_PREFIX = 4


@dataclass(frozen=True, slots=True)
class Difference:
    """One field (a path such as ``measures.set.up``) that the heads do not agree on.

    ``outermost`` is the record's own field it lies in, the smallest thing that is ever taken from a
    head. ``values`` are by revision; ``ABSENT`` where a head lacks the field. ``changed_by`` are the
    revisions that changed it since the heads parted.
    """

    field: str
    outermost: str
    values: Mapping[str, Any]
    changed_by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OpenConflict:
    """A document with more than one head, the one shown first, and where they differ."""

    store: Store
    site: str
    conflict: Conflict
    differences: tuple[Difference, ...]

    @property
    def heads(self) -> tuple[Revision, ...]:
        return self.conflict.heads

    @property
    def contested(self) -> tuple[str, ...]:
        """The fields of the record that more than one head changed; () where all can be combined."""
        counts: dict[str, set[str]] = {}
        for difference in self.differences:
            counts.setdefault(difference.outermost, set()).update(difference.changed_by)
        return tuple(field for field, heads in counts.items() if len(heads) > 1)

    @property
    def combinable(self) -> bool:
        """Whether the heads changed different fields of one earlier revision, none being a deletion."""
        return not self.contested and not any(head.deleted for head in self.heads)

    def body(self, laptop_name: Callable[[str], str] = str) -> dict[str, Any]:
        """Return the conflict for JSON."""
        return {
            **conflict_summary(self.conflict, self.site, laptop_name),
            "fields": [
                {"field": d.field, "values": dict(d.values), "changed_by": list(d.changed_by)}
                for d in self.differences
            ],
            "combinable": self.combinable,
        }


def open_conflicts(workspace: Workspace) -> list[OpenConflict]:
    """Return every conflict of the workspace, the team's first."""
    found = []
    for store in workspace.stores():
        label = TEAM
        if store.kind == "site":
            record = site_record(store)
            label = record.name if record else store.name
        found += [
            OpenConflict(store, label, conflict, tuple(_differences(store, conflict)))
            for conflict in store.conflicts()
        ]
    return found


def take(
    workspace: Workspace,
    revision: str,
    *,
    by: str,
    why: str = "",
    fields: Mapping[str, str] | None = None,
) -> Revision:
    """Settle the conflict a head belongs to by taking it, and single fields from other heads.

    ``revision`` and the values of ``fields`` (field of the record → head) are ids or beginnings of
    them. Raises NotFoundError where no conflict has such a head, InputError where the beginning fits
    several or the outcome is no valid record, RefusedError where a deletion is mixed with fields.
    """
    conflict, head = _find(open_conflicts(workspace), revision)
    body = head.body
    if fields:
        if body is None:
            raise RefusedError("a deletion has no fields to mix others into", "take the other head")
        for field, name in fields.items():
            if not any(field in (other.body or {}) for other in conflict.heads):
                raise InputError(
                    f"the record has no field {field[:80]!r}", "name one that 'fieldlog conflicts' lists"
                )
            body = _with_field(body, field, _head_of(conflict, name))
    return _settle(conflict, body, by=by, why=why)


def first_choice(conflict: OpenConflict) -> tuple[str, dict[str, str]]:
    """Return what a choice begins with: the head shown, and each field that only one head changed from that head."""
    base = conflict.heads[0]
    if any(head.deleted for head in conflict.heads):
        return base.id, {}
    contested = set(conflict.contested)
    chosen = {
        difference.outermost: difference.changed_by[0]
        for difference in conflict.differences
        if difference.changed_by and difference.outermost not in contested
    }
    return base.id, chosen


def take_chosen(
    workspace: Workspace, base: str, chosen: Mapping[str, str], *, by: str, why: str = ""
) -> Revision:
    """Settle a conflict by the head ``base`` and single fields from others; see ``take``."""
    fields = {field: head for field, head in chosen.items() if head != base}
    return take(workspace, base, by=by, why=why, fields=fields)


def combine(workspace: Workspace, document: str, *, by: str, why: str = "") -> Revision:
    """Settle a document's conflict by taking each field from the head that changed it.

    Raises RefusedError naming the fields that more than one head changed, or where one is a deletion.
    """
    found = [conflict for conflict in open_conflicts(workspace) if conflict.conflict.document == document]
    if not found:
        raise NotFoundError(f"{document[:80]!r} has no conflict", "'fieldlog conflicts' lists them")
    if len(found) > 1:
        raise InputError(f"{document} has conflicts in several tables", "take a head of each by its revision")
    conflict = found[0]
    if any(head.deleted for head in conflict.heads):
        raise RefusedError("one head is a deletion", "choose: fieldlog conflicts --take REVISION")
    if conflict.contested:
        raise RefusedError(
            f"more than one head changed {', '.join(conflict.contested)}",
            "choose a head for these: fieldlog conflicts --take REVISION --field NAME=REVISION",
        )
    by_id = {head.id: head for head in conflict.heads}
    body = conflict.heads[0].body or {}
    for difference in conflict.differences:
        if difference.changed_by:
            body = _with_field(body, difference.outermost, by_id[difference.changed_by[0]])
    return _settle(conflict, body, by=by, why=why)


def _settle(conflict: OpenConflict, body: dict[str, Any] | None, *, by: str, why: str) -> Revision:
    table, document = conflict.conflict.table, conflict.conflict.document
    model = record_models().get(table)
    if body is not None and model is not None:
        try:
            model.from_body(body)
        except NewerSchemaError:
            # Taken as it is from one head it is some newer fieldlog's valid record; a mixture need not be.
            if not any(body == head.body for head in conflict.heads):
                raise
    parents = tuple(head.id for head in conflict.heads)
    change = Change(table, document, body, parents)
    return conflict.store.commit([change], by=by, why=why or "conflict settled")[0]


def _find(conflicts: Iterable[OpenConflict], revision: str) -> tuple[OpenConflict, Revision]:
    found = [
        (conflict, head)
        for conflict in conflicts
        for head in conflict.heads
        if len(revision) >= SHORTEST_PREFIX and head.id.startswith(revision.lower())
    ]
    if not found:
        raise NotFoundError(
            f"no conflict has a head {revision[:80]!r}",
            f"'fieldlog conflicts' lists them; {SHORTEST_PREFIX} characters at least",
        )
    if len(found) > 1:
        raise InputError(f"{revision} begins more than one head", "give more of it")
    return found[0]


def _head_of(conflict: OpenConflict, revision: str) -> Revision:
    return _find([conflict], revision)[1]


def _with_field(body: dict[str, Any], field: str, head: Revision) -> dict[str, Any]:
    other = head.body
    if other is None:
        raise RefusedError("a deletion has no fields to take", "take them from another head")
    if field in other:
        return {**body, field: other[field]}
    return {name: value for name, value in body.items() if name != field}


def _differences(store: Store, conflict: Conflict) -> Iterable[Difference]:
    bodies = {head.id: head.body or {} for head in conflict.heads if not head.deleted}
    if len(bodies) < 2:
        return
    parted = _parted_at(store, conflict)
    for field in _differing(list(bodies.values())):
        values = {revision: _at(body, field) for revision, body in bodies.items()}
        before = _at(parted, field) if parted is not None else None
        changed = tuple(
            revision for revision, value in values.items() if parted is None or not _equal(value, before)
        )
        yield Difference(".".join(field), field[0], values, changed)


def _parted_at(store: Store, conflict: Conflict) -> dict[str, Any] | None:
    """Return the body of the last revision all heads come from, None where there is none."""
    history = store.history(conflict.table, conflict.document)
    parents = {revision.id: revision.parents for revision in history}
    common: set[str] | None = None
    for head in conflict.heads:
        line, waiting = set(), [head.id]
        while waiting:
            identity = waiting.pop()
            if identity in parents and identity not in line:
                line.add(identity)
                waiting += parents[identity]
        common = line if common is None else common & line
    shared = [revision for revision in history if revision.id in (common or ())]
    return shared[-1].body if shared else None


def _differing(bodies: list[dict[str, Any]], path: tuple[str, ...] = ()) -> Iterable[tuple[str, ...]]:
    """Yield the paths at which bodies differ; lists are compared whole."""
    names = dict.fromkeys(name for body in bodies for name in body)
    for name in names:
        values = [body.get(name, ABSENT) for body in bodies]
        if all(isinstance(value, dict) for value in values):
            yield from _differing(values, (*path, name))
        elif not all(_equal(value, values[0]) for value in values[1:]):
            yield (*path, name)


def _at(body: dict[str, Any], path: tuple[str, ...]) -> Any:
    value: Any = body
    for name in path:
        if not isinstance(value, dict) or name not in value:
            return ABSENT
        value = value[name]
    return value


def _equal(one: Any, other: Any) -> bool:
    """Equal as JSON: 1 is not true, but 1 is 1.0."""
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    return bool(one == other)
