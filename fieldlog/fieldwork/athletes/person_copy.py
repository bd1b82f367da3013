"""Everything held on one athlete, as one readable file; and erasing what names the person."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from fieldlog.errors import FieldlogError
from fieldlog.exchange.likeness import same_person
from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.store.lines import Revision
from fieldlog.store.persons import ERASURE
from fieldlog.store.store import Store
from fieldlog.store.traces import named_traces
from fieldlog.store.workspace import Workspace

__all__ = ["HeldRecord", "PersonCopy", "copy_person", "copy_text", "erase_person"]


@dataclass(frozen=True)
class HeldRecord:
    """One record that speaks of the athlete: where it lies and all its revisions, oldest first."""

    store: str
    table: str
    document: str
    revisions: tuple[Revision, ...]


@dataclass(frozen=True)
class PersonCopy:
    """What is held on an athlete: persons entries, records with their history, recordings."""

    code: str
    ids: tuple[str, ...]
    persons: tuple[dict[str, Any], ...]
    records: tuple[HeldRecord, ...]
    recordings: dict[str, bytes | None]
    """By name; None where the recording is not on this laptop."""


def copy_person(workspace: Workspace, code_or_id: str) -> PersonCopy:
    """Gather everything held on an athlete, under all ids that were joined to one person.

    Raises NotFoundError for an unknown code, or naming both ids where two athletes bear it.
    """
    athlete = athlete_named(workspace, code_or_id).record
    ids = tuple(same_person(workspace.team, athlete.id))
    records: list[HeldRecord] = []
    recordings: dict[str, bytes | None] = {}
    for store in workspace.stores():
        held = list(_records(store, set(ids)))
        records += held
        names = {name for one in held for revision in one.revisions for name in named_traces(revision.body)}
        recordings |= {name: _recording(store, name) for name in sorted(names)}
    persons = [entry for one in ids for entry in workspace.persons.for_athlete(one)]
    persons.sort(key=lambda entry: str(entry.get("at", "")))
    return PersonCopy(athlete.code, ids, tuple(persons), tuple(records), recordings)


def erase_person(workspace: Workspace, code_or_id: str, *, by: str) -> int:
    """Delete what names the person, here for good and by a record that travels elsewhere; return how many files.

    Code and measurements stay. Raises as ``copy_person`` does, SaveError where the disk does not do it.
    """
    athlete = athlete_named(workspace, code_or_id).record
    return sum(len(workspace.persons.erase(one, by=by)) for one in same_person(workspace.team, athlete.id))


def copy_text(copy: PersonCopy) -> str:
    """Return a copy as plain text that needs no program to be read."""
    lines = [
        f"Everything held on athlete {copy.code}",
        f"Internal id: {', '.join(copy.ids)}",
        "",
        f"PERSONAL DATA AND ANSWERS ({len(copy.persons)})",
    ]
    for entry in copy.persons:
        lines += ["", *_fields(entry)]
    lines += ["", f"RECORDS ({len(copy.records)}), each with every version there was"]
    for held in copy.records:
        lines += ["", f"{held.table} {held.document} (kept in {held.store})"]
        for revision in held.revisions:
            why = f", because: {revision.why}" if revision.why else ""
            lines.append(f"  written by {revision.by or '?'} on {revision.at:%Y-%m-%d %H:%M} UTC{why}")
            lines += _fields(revision.body, 4) if revision.body is not None else ["    deleted"]
    lines += ["", f"RECORDINGS ({len(copy.recordings)})"]
    for name, data in copy.recordings.items():
        lines += ["", f"recording {name}"]
        lines += (
            ["  not on this laptop"] if data is None else data.decode("utf-8-sig", "replace").splitlines()
        )
    return "\n".join(_harmless(line) for line in lines) + "\n"


def _records(store: Store, ids: set[str]) -> Iterator[HeldRecord]:
    for table in store.tables():
        if table == ERASURE:
            continue
        for document in store.ids(table):
            history = store.history(table, document)
            if document in ids or any(_speaks_of(revision.body, ids) for revision in history):
                yield HeldRecord(store.name, table, document, tuple(history))


def _speaks_of(value: object, ids: set[str]) -> bool:
    if isinstance(value, str):
        return value in ids
    if isinstance(value, dict):
        return any(_speaks_of(inner, ids) for inner in value.values())
    return isinstance(value, list) and any(_speaks_of(inner, ids) for inner in value)


def _recording(store: Store, name: str) -> bytes | None:
    try:
        return store.traces.get(name)
    except FieldlogError:
        return None


def _fields(value: object, indent: int = 2) -> list[str]:
    pad = " " * indent
    if isinstance(value, dict):
        lines = []
        for key, inner in value.items():
            if isinstance(inner, dict | list) and inner:
                lines += [f"{pad}{key}:", *_fields(inner, indent + 2)]
            else:
                lines.append(f"{pad}{key}: {_plain(inner)}")
        return lines
    if isinstance(value, list):
        lines = []
        for inner in value:
            if isinstance(inner, dict | list):
                lines += [f"{pad}-", *_fields(inner, indent + 2)]
            else:
                lines.append(f"{pad}- {_plain(inner)}")
        return lines
    return [f"{pad}{_plain(value)}"]


def _plain(value: object) -> str:
    if value is None or value in ("", [], {}):
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


def _harmless(line: str) -> str:
    return "".join(character if character.isprintable() or character == "\t" else " " for character in line)
