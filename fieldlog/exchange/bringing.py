"""Files of this laptop to a depot: what it lacks, or holds otherwise than the name says.

A signature goes before the file it is about, so that whoever finds the file finds who vouches for it.
"""

from __future__ import annotations

import hashlib

from fieldlog.exchange.depot import DepotFile, Kind, Stamp
from fieldlog.exchange.signatures import signature_name
from fieldlog.exchange.store_side import StoreSide

__all__ = ["bring"]


def bring(side: StoreSide, kind: Kind, mine: list[str], theirs: dict[str, Stamp]) -> None:
    """Put every file of mine (sealed or persons files) that the depot does not hold whole."""
    due = [name for name in mine if _is_due(side, side.key(kind, name), theirs.get(name))]
    for count, name in enumerate(due):
        side.session.progress(f"bringing {side.outcome.label}", count, len(due))
        key = side.key(kind, name)
        _settle_signature(side, key)
        _bring_one(side, key, theirs.get(name))


def _is_due(side: StoreSide, key: DepotFile, stamp: Stamp | None) -> bool:
    if side.session.verify or stamp is None or not side.noted.good(key.kind, key.name, stamp):
        return True
    sidecar = signature_name(key.name)
    beside = side.signatures.get(sidecar)
    if beside is None:
        return side.session.signed(key)
    return not side.noted.looked_at("signatures", sidecar, beside)


def _bring_one(side: StoreSide, key: DepotFile, stamp: Stamp | None) -> None:
    depot, digest = side.session.depot, key.digest
    if stamp is not None and stamp.size_bytes == side.size_bytes(key) and digest in depot.hashes(key):
        side.noted.note(key.kind, key.name, stamp)
        return
    data = side.data(key)
    if _digest(data) != digest:
        side.outcome.lacks(str(key), "it is damaged here and not whole in the depot; run 'fieldlog audit'")
        return
    side.noted.note(key.kind, key.name, depot.put(key, data))
    side.outcome.sent += 1


def _settle_signature(side: StoreSide, key: DepotFile) -> None:
    """See to it that the depot holds a true signature about a file of mine, and keep one that comes late."""
    session, noted = side.session, side.noted
    name = signature_name(key.name)
    at, stamp = side.key("signatures", name), side.signatures.get(name)
    if stamp is not None and not session.verify and noted.looked_at("signatures", name, stamp):
        return
    own = session.own_signature(key)
    data = own.data() if own else b""
    if stamp is not None and stamp.size_bytes == len(data) and _digest(data) in session.depot.hashes(at):
        noted.note("signatures", name, stamp)
        return
    theirs, fault = session.depot_signature(key, side.signatures)
    if stamp is not None and theirs is not None and not session.distrust(theirs, session.admitted):
        if own is None:
            session.keep_signature(key, theirs)
        noted.note("signatures", name, stamp)
    elif own is not None:
        noted.note("signatures", name, session.depot.put(at, data))
    elif stamp is not None:
        noted.note("signatures", name, stamp, fault or "it is not whole")


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
