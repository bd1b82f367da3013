"""The audit: every file and line of a workspace verified anew, what is wrong named, nothing changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

from fieldlog.errors import FieldlogError
from fieldlog.records.kinds import record_models
from fieldlog.store.clock import DAY_MS, instant_of, stamp_at, wall_ms
from fieldlog.store.disk import Disk, is_leftover
from fieldlog.store.journal import ACTIVE, ASIDE, LOCK
from fieldlog.store.persons import PERSONS, Persons
from fieldlog.store.repo import Repo
from fieldlog.store.scan import Kind, Problem
from fieldlog.store.sealed import SEALED
from fieldlog.store.store import Store
from fieldlog.store.store_file import STORE_FILE
from fieldlog.store.traces import ELSEWHERE, TRACES, trace_file, traces_of
from fieldlog.store.workspace import Workspace
from fieldlog.store.workspace_file import WORKSPACE_FILE

__all__ = ["audit", "trace_problems"]

KNOWN_NAMES = {STORE_FILE, ACTIVE, LOCK, SEALED, TRACES, ASIDE, ELSEWHERE}
DAY_STAMP = stamp_at(DAY_MS)


def audit(
    workspace: Workspace,
    *,
    now_ms: Callable[[], int] = wall_ms,
    progress: Callable[[str], None] | None = None,
) -> dict[str, Any]:
    """Verify a workspace from its files alone.

    Returns ``ok``, the counts ``stores`` and ``records``, ``problems`` (``kind``, ``file``, ``text``)
    and ``notes``. ``progress`` is called with the name of each store before it is read; an
    exception it raises stops the audit.
    """
    problems: list[Problem] = []
    notes: list[str] = []
    stores = records = 0
    if workspace.fault:
        problems.append(Problem("damaged", WORKSPACE_FILE, workspace.fault))
    for folder in workspace.all_folders():
        if progress is not None:
            progress(folder)
        try:
            store = Store(
                workspace.path / folder, device=workspace.device, disk=workspace.disk, now_ms=now_ms
            )
        except FieldlogError as error:
            kind: Kind = "damaged" if (workspace.path / folder / STORE_FILE).is_file() else "missing"
            problems.append(Problem(kind, f"{folder}/{STORE_FILE}", error.message))
            continue
        with store:
            stores += 1
            records += sum(1 for table in store.tables() for _ in store.documents(table))
            found = [*_problems(store, workspace.disk)]
            problems += [Problem(p.kind, f"{folder}/{p.file}", p.text) for p in found]
            notes += [f"{folder}: {note}" for note in _notes(store, workspace.disk, now_ms())]
    return {
        "ok": not problems,
        "stores": stores,
        "records": records,
        "problems": [{"kind": p.kind, "file": p.file, "text": p.text} for p in problems],
        "notes": notes,
    }


def _problems(store: Store, disk: Disk) -> Iterator[Problem]:
    yield from store.problems()
    known = KNOWN_NAMES | ({PERSONS} if store.kind == "team" else set())
    for name in disk.names(store.path):
        if name not in known and not is_leftover(name):
            yield Problem("foreign", name, "it does not belong to a store")
    for name in disk.names(store.path / ASIDE):
        if name.startswith("damaged-"):
            text = "records of its damaged lines may be lost; heal it from another copy, or delete it"
            yield Problem("damaged", f"{ASIDE}/{name}", text)
    yield from store.traces.problems()
    yield from trace_problems(store)
    if store.kind == "team":
        yield from Persons(store, disk=disk).problems()


def trace_problems(store: Store) -> Iterator[Problem]:
    """Yield the recordings that no record names, and those that a record names and that are not here."""
    named = traces_of(store.revisions())
    here = set(store.traces.names())
    elsewhere = store.traces.elsewhere()
    for name in sorted(here - set(named)):
        yield Problem("orphan_trace", f"{TRACES}/{trace_file(name)}", "no record names this recording")
    for name in sorted(set(named) - here - elsewhere):
        revision = named[name]
        text = f"{revision.table} {revision.document} names a recording that is not here"
        yield Problem("missing_trace", f"{TRACES}/{trace_file(name)}", text)


def _notes(store: Store, disk: Disk, now_ms: int) -> Iterator[str]:
    yield from store.notes()
    for conflict in store.conflicts():
        writers = " and ".join(f"{head.by or '?'} ({head.at:%Y-%m-%d %H:%M})" for head in conflict.heads)
        yield f"conflict in {conflict.table} {conflict.document}: {writers}"
    for table in sorted(record_models().keys() & set(store.tables())):
        for revision, error in Repo(store, record_models()[table]).unreadable():
            yield f"not shown: {error} (written by {revision.by or '?'}, {revision.at:%Y-%m-%d})"
    yield from _clock_notes(store, now_ms)
    for name in disk.names(store.path / ASIDE):
        if name.startswith("torn-"):
            yield f"bytes that were no whole line lie in {ASIDE}/{name}"
    left = len(store.traces.elsewhere() - set(store.traces.names()))
    if left:
        yield f"{left} recordings were left in a depot; fetch them with fieldlog sync DEPOT --with-traces"


def _clock_notes(store: Store, now_ms: int) -> Iterator[str]:
    ahead: Counter[str] = Counter()
    latest: dict[str, int] = {}
    behind: Counter[str] = Counter()
    limit = stamp_at(now_ms + DAY_MS)
    for revision in store.revisions():
        if revision.clock > limit:
            ahead[revision.device] += 1
            latest[revision.device] = max(latest.get(revision.device, 0), revision.clock)
        parents = [parent for identity in revision.parents if (parent := store.revision(identity))]
        if any(parent.clock > revision.clock + DAY_STAMP for parent in parents):
            behind[revision.device] += 1
    for device, count in sorted(ahead.items()):
        yield (
            f"suspect clock: laptop {device} wrote {count} changes more than a day ahead of this laptop's clock, "
            f"up to {instant_of(latest[device]):%Y-%m-%d}"
        )
    for device, count in sorted(behind.items()):
        yield f"suspect clock: laptop {device} wrote {count} changes more than a day before what they change"
