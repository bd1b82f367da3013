"""Recordings between a store and a depot.

What was recorded here is always brought to the depot. What others recorded is fetched on demand or
with ``--with-traces``; until then it is noted as left in the depot, so that nobody calls it lost.
Only recordings that a record here names are taken in.
"""

from __future__ import annotations

import hashlib

from fieldlog.errors import NotFoundError, StoreError
from fieldlog.exchange.depot import LIMIT_BYTES, Depot, DepotFile, Stamp
from fieldlog.exchange.store_side import StoreSide
from fieldlog.store.store import Store
from fieldlog.store.traces import TRACE_NAME, TRACES, check_trace, trace_file, trace_of_file

__all__ = ["fetch_trace", "sync_traces"]


def fetch_trace(store: Store, depot: Depot, trace: str) -> bytes:
    """Fetch one recording that a record names into the store, and return it.

    Raises NotFoundError where the depot has it not, StoreError where it is not whole there.
    """
    if not store.traces.has(trace):
        fault = _receive(store, depot, DepotFile(store.id, "traces", trace_file(trace)))
        if fault == _ABSENT:
            raise NotFoundError(
                f"the recording {trace[:12]} is not in {depot.address}",
                "sync the laptop that recorded it first",
            )
        if fault:
            raise StoreError(
                f"the recording {trace[:12]} in {depot.address}: {fault}", "sync the laptop that has it"
            )
    return store.traces.get(trace)


def sync_traces(side: StoreSide) -> None:
    """Bring this laptop's recordings, and fetch those that are wanted."""
    session, noted = side.session, side.noted
    if not side.held:
        return
    mine = [n for n in session.workspace.disk.names(side.files.path / TRACES) if TRACE_NAME.fullmatch(n)]
    here = {trace_of_file(name) for name in mine}
    if noted.awaited is None or session.verify:
        noted.awaited = side.files.traces_named() - here
        noted.left &= noted.awaited
        noted.awaited -= noted.left
    noted.awaited -= here
    noted.left -= here
    known = noted.files["traces"]
    everything = session.verify or session.with_traces
    unsent = any(name not in known or known[name][2] for name in mine)
    if not (everything or unsent or noted.awaited):
        return
    theirs = session.listing(side.id, "traces") or {}
    _bring(side, mine, theirs)
    _fetch(side, theirs)


def _bring(side: StoreSide, mine: list[str], theirs: dict[str, Stamp]) -> None:
    session, noted = side.session, side.noted
    due = []
    for name in mine:
        stamp = theirs.get(name)
        if session.verify or stamp is None or not noted.good("traces", name, stamp):
            due.append(name)
    for count, name in enumerate(due):
        session.progress(f"bringing recordings of {side.outcome.label}", count, len(due))
        key, stamp = side.key("traces", name), theirs.get(name)
        data = side.data(key)
        if stamp is not None and _is_whole(session.depot, key, data, stamp):
            noted.note("traces", name, stamp)
            continue
        try:
            check_trace(trace_of_file(name), data)
        except StoreError:
            side.outcome.lacks(
                str(key), "it is damaged here and not whole in the depot; run 'fieldlog audit'"
            )
            continue
        noted.note("traces", name, session.depot.put(key, data))
        side.outcome.sent += 1


def _is_whole(depot: Depot, key: DepotFile, data: bytes, stamp: Stamp) -> bool:
    """Tell whether the depot's file is the recording; another version of zlib may have packed it otherwise."""
    if stamp.size_bytes == len(data) and hashlib.sha256(data).hexdigest() in depot.hashes(key):
        return True
    if stamp.size_bytes > LIMIT_BYTES["traces"]:
        return False
    return any(_fits(key, packed) for packed in depot.get(key))


def _fits(key: DepotFile, packed: bytes) -> bool:
    try:
        check_trace(trace_of_file(key.name), packed)
    except StoreError:
        return False
    return True


def _fetch(side: StoreSide, theirs: dict[str, Stamp]) -> None:
    session, noted = side.session, side.noted
    assert noted.awaited is not None
    there = {trace for trace in noted.awaited | noted.left if trace_file(trace) in theirs}
    if not session.with_traces:
        fresh = there - noted.left
        if fresh:
            side.store.traces.leave_elsewhere(fresh)
            noted.left |= fresh
            noted.awaited -= fresh
    else:
        for count, trace in enumerate(sorted(there)):
            session.progress(f"fetching recordings of {side.outcome.label}", count, len(there))
            key = side.key("traces", trace_file(trace))
            stamp = theirs[key.name]
            fault = "" if session.verify else noted.fault("traces", key.name, stamp)
            fault = fault or _receive(side.store, session.depot, key)
            noted.note("traces", key.name, stamp, fault)
            if fault:
                side.outcome.aside(str(key), fault)
                continue
            noted.awaited.discard(trace)
            noted.left.discard(trace)
            side.outcome.received += 1
    for trace in sorted(noted.awaited - there):
        side.outcome.lacks(
            str(side.key("traces", trace_file(trace))), "a recording that a record names has not arrived yet"
        )


_ABSENT = "it is not there"


def _receive(store: Store, depot: Depot, key: DepotFile) -> str:
    """Take in a recording; return what is wrong, "" where all is well."""
    fault = _ABSENT
    for packed in depot.get(key):
        if len(packed) > LIMIT_BYTES["traces"]:
            fault = f"it is larger than {LIMIT_BYTES['traces'] >> 20} MiB"
            continue
        try:
            store.traces.receive(trace_of_file(key.name), packed)
        except StoreError:
            fault = "it is not the recording its name says"
            continue
        return ""
    return fault
