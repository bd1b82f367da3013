"""Which laptops the team admits, and whose files are therefore taken in."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from dataclasses import dataclass

from fieldlog.errors import InputError, NotFoundError
from fieldlog.exchange.depot import SIGNATURE_NAME
from fieldlog.exchange.notes import EXCHANGE
from fieldlog.exchange.signatures import LaptopKey, Signature, read_signature
from fieldlog.records.laptop import Laptop, fingerprint
from fieldlog.store.lines import Revision
from fieldlog.store.repo import Kept, Repo
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["STRANGERS", "KnownLaptop", "admit", "admitted_keys", "known_laptops", "note_stranger", "roots"]

SIGNATURES = "signatures"
STRANGERS = "strangers"
SHORTEST_PREFIX = 4


@dataclass(frozen=True, slots=True)
class KnownLaptop:
    """A laptop whose signature was met: what it is called, and whether the team admits it."""

    fingerprint: str
    public_key: str
    device: str
    name: str
    admitted: bool
    this: bool


def admitted_keys(team: Store) -> frozenset[str]:
    """Return the public keys whose files are taken in; empty while the team has admitted nobody."""
    return frozenset(kept.record.public_key for kept in Repo(team, Laptop).all() if _is_whole(kept.record))


def roots(files: Iterable[tuple[str, Iterable[Revision]]]) -> frozenset[str]:
    """Return the keys that admit themselves in files they signed: how a team's first laptop begins.

    ``files`` are pairs of the signer's public key ("" where unsigned) and the revisions.
    """
    found = set()
    for key, revisions in files:
        for revision in revisions:
            if key and revision.table == Laptop.table and (revision.body or {}).get("public_key") == key:
                found.add(key)
    return frozenset(found)


def known_laptops(workspace: Workspace) -> list[KnownLaptop]:
    """Return this laptop and all whose signatures were met, the admitted ones first."""
    own = LaptopKey(workspace.path / EXCHANGE, workspace.device)
    admitted = {kept.record.public_key: kept.record for kept in Repo(workspace.team, Laptop).all()}
    met: dict[str, tuple[str, str]] = {own.public_key: (workspace.device, own.laptop)}
    for signature in _met(workspace):
        met.setdefault(signature.public_key, (signature.device, signature.laptop))
    for key, record in admitted.items():
        met[key] = (record.device, record.name)
    found = [
        KnownLaptop(fingerprint(key), key, device, name, key in admitted, key == own.public_key)
        for key, (device, name) in met.items()
    ]
    return sorted(
        found, key=lambda laptop: (not laptop.admitted, not laptop.this, laptop.name, laptop.fingerprint)
    )


def admit(workspace: Workspace, named: Iterable[str], *, by: str, why: str = "") -> list[Kept[Laptop]]:
    """Admit laptops by name, device or fingerprint (or its beginning); ``this`` is the one worked on.

    The first admission always includes this laptop, which would shut itself out otherwise. Raises
    NotFoundError for a laptop whose signature was never met, InputError where a name fits several.
    """
    laptops = known_laptops(workspace)
    chosen = [_named(laptops, name) for name in named]
    if not any(laptop.admitted for laptop in laptops):
        chosen.insert(0, next(laptop for laptop in laptops if laptop.this))
    repo = Repo(workspace.team, Laptop)
    kept = []
    for laptop in dict.fromkeys(chosen):
        if not laptop.admitted:
            record = Laptop(
                id=laptop.fingerprint, device=laptop.device, name=laptop.name, public_key=laptop.public_key
            )
            shown = workspace.team.shown(Laptop.table, record.id)
            kept.append(repo.save(record, by=by, why=why, seen=shown))
    return kept


def note_stranger(workspace: Workspace, signature: Signature) -> None:
    """Remember a laptop whose file was set aside, so that the team can admit it."""
    path = workspace.path / EXCHANGE / STRANGERS / f"{signature.fingerprint}.json"
    if not path.exists():
        with contextlib.suppress(OSError):  # a list for people; the file itself stays in the depot
            workspace.disk.write_file(path, signature.data())


def _named(laptops: list[KnownLaptop], name: str) -> KnownLaptop:
    if name.casefold() == "this":
        return next(laptop for laptop in laptops if laptop.this)
    found = [
        laptop
        for laptop in laptops
        if name in (laptop.fingerprint, laptop.device) or name.casefold() == laptop.name.casefold()
    ]
    if not found and len(name) >= SHORTEST_PREFIX:
        found = [laptop for laptop in laptops if laptop.fingerprint.startswith(name.lower())]
    if not found:
        known = ", ".join(f"{laptop.name} ({laptop.fingerprint})" for laptop in laptops)
        raise NotFoundError(f"no laptop {name!r} has signed anything met here", f"sync first; known: {known}")
    if len(found) > 1:
        ids = ", ".join(laptop.fingerprint for laptop in found)
        raise InputError(f"more than one laptop is called {name!r}", f"give one of the fingerprints {ids}")
    return found[0]


def _met(workspace: Workspace) -> Iterable[Signature]:
    for folder in (SIGNATURES, STRANGERS):
        path = workspace.path / EXCHANGE / folder
        for name in workspace.disk.names(path):
            if SIGNATURE_NAME.fullmatch(name) or folder == STRANGERS:
                signature = read_signature(workspace.disk.read_file(path / name))
                if signature is not None:
                    yield signature


def _is_whole(record: Laptop) -> bool:
    return record.id == fingerprint(record.public_key)
