"""``fieldlog sync``: a whole workspace and one depot.

A sync writes no record of its own. It may be cut at any byte, run twice, and run from several
laptops at once on the same depot: truth only grows, and a name says what a file must hold.
"""

from __future__ import annotations

from collections.abc import Iterable

from fieldlog.errors import NotFoundError, StoreError
from fieldlog.exchange.bringing import bring
from fieldlog.exchange.depot import Depot, is_store_id
from fieldlog.exchange.fetching import fetch_sealed, peek_site_name
from fieldlog.exchange.findings import report
from fieldlog.exchange.outcome import Outcome, Progress, SyncReport
from fieldlog.exchange.person_sync import sync_persons
from fieldlog.exchange.session import Session
from fieldlog.exchange.store_side import StoreSide
from fieldlog.exchange.trace_sync import sync_traces
from fieldlog.store.scan import quiet_collector
from fieldlog.store.site_names import same_name
from fieldlog.store.store_file import read_store_file
from fieldlog.store.workspace import TEAM, Workspace

__all__ = ["sync"]


def sync(
    workspace: Workspace,
    depot: Depot,
    *,
    sites: Iterable[str] = (),
    with_traces: bool = False,
    verify: bool = False,
    progress: Progress = lambda _what, _done, _of: None,
) -> SyncReport:
    """Exchange the workspace's stores with a depot and report what came and went.

    ``sites`` (names or ids) limits it to these and the team's own store; else all that are here or
    in the depot are exchanged. ``verify`` hashes every file of the depot instead of those whose
    size or time changed. Raises StoreError where the depot stops answering: what was exchanged up
    to then stands, and the next sync goes on from there. NotFoundError for an unknown site.
    """
    session = Session(workspace, depot, with_traces=with_traces, verify=verify, progress=progress)
    try:
        local = _local_folders(workspace)
        wanted = [TEAM, *_wanted(session, local, list(sites))]
        done = [_sync_store(session, store_id, local.get(store_id)) for store_id in wanted]
        notes = _notes(session, moved=any(outcome.sent or outcome.received for outcome in done))
    finally:
        session.known.save()
        session.notes.save()
    return SyncReport(depot.address, tuple(done), tuple(notes))


def _sync_store(session: Session, store_id: str, folder: str | None) -> Outcome:
    side = StoreSide(session, store_id, folder)
    if side.held and side.files.has_unsealed():
        side.store.seal()
    for name in side.sealed_names():
        session.sign(side.key("sealed", name))
    theirs = session.listing(store_id, "sealed") or {}
    side.signatures = session.listing(store_id, "signatures") or {}
    with quiet_collector():
        fetch_sealed(side, theirs)
    bring(side, "sealed", side.sealed_names(), theirs)
    if store_id == TEAM:
        sync_persons(side)
    sync_traces(side)
    report(side)
    return side.outcome


def _local_folders(workspace: Workspace) -> dict[str, str]:
    found = {}
    for folder, kind in workspace.store_folders():
        if kind is not None:
            store_id = TEAM if folder == TEAM else read_store_file(workspace.path / folder, workspace.disk)[0]
            found[store_id] = folder
    if TEAM not in found:
        raise StoreError(f"{workspace.path / TEAM} cannot be read", "run 'fieldlog audit'")
    return found


def _wanted(session: Session, local: dict[str, str], named: list[str]) -> list[str]:
    there = [store_id for store_id in session.depot.stores() if is_store_id(store_id)]
    if not named:
        return sorted({*local, *there} - {TEAM})
    return list(dict.fromkeys(_site_id(session, there, name) for name in named))


def _site_id(session: Session, there: list[str], name: str) -> str:
    try:
        return session.workspace.site_named(name).id
    except NotFoundError as error:
        unknown = error
    if name in there and name != TEAM:
        return name
    for store_id in there:
        label = "" if store_id == TEAM else peek_site_name(session.depot, store_id)
        if label and same_name(label, name):
            return store_id
    raise NotFoundError(f"there is no site {name} here or in {session.depot.address}", unknown.hint)


def _notes(session: Session, *, moved: bool) -> list[str]:
    folders = [folder for folder, kind in session.workspace.store_folders() if kind is None]
    notes = [f"{folder} cannot be read and was left out; run 'fieldlog audit'" for folder in folders]
    # An empty sync opens no store, so it has nothing to say about who is admitted.
    return notes + (session.warnings() if moved else [])
