"""Persons files between the team's store and a depot, and what an erasure does on the way.

They are signed as sealed files are. An erasure is a record: whoever has it deletes the person's
files here and in every depot, and refuses them when they come back.
"""

from __future__ import annotations

from fieldlog.errors import InputError
from fieldlog.exchange.bringing import bring
from fieldlog.exchange.depot import LIMIT_BYTES, DepotFile, Stamp
from fieldlog.exchange.signatures import signature_name
from fieldlog.exchange.store_side import StoreSide
from fieldlog.store.persons import ERASURE, PERSON_NAME, PERSONS

__all__ = ["sync_persons"]


def sync_persons(team: StoreSide) -> None:
    """Delete what was erased, fetch and bring the rest."""
    session = team.session
    if any(revision.table == ERASURE for revision in team.fresh):
        session.workspace.persons.apply_erasures()
    disk = session.workspace.disk
    mine = [name for name in disk.names(team.files.path / PERSONS) if PERSON_NAME.fullmatch(name)]
    for name in mine:
        session.sign(team.key("persons", name))
    theirs = session.listing(team.id, "persons")
    if theirs is None:
        _bring_unseen(team, mine)
        return
    for name, stamp in theirs.items():
        if name not in mine:
            _fetch(team, team.key("persons", name), stamp)
    bring(team, "persons", mine, theirs)


def _fetch(team: StoreSide, key: DepotFile, stamp: Stamp) -> None:
    session = team.session
    persons = session.workspace.persons
    if key.name.removesuffix(".json") in persons.erased_files():
        _erase(team, key)
        return
    fault = "" if session.verify else team.noted.fault("persons", key.name, stamp)
    if not fault:
        signature, wrong = session.depot_signature(key, team.signatures)
        doubt = wrong or session.distrust(signature, session.admitted)
        if doubt:
            team.outcome.aside(str(key), doubt)
            return
        fault = "it could not be read"
        if stamp.size_bytes > LIMIT_BYTES["persons"]:
            fault = f"it is larger than {LIMIT_BYTES['persons'] >> 20} MiB"
        for data in session.depot.get(key) if stamp.size_bytes <= LIMIT_BYTES["persons"] else ():
            session.keep_signature(key, signature)
            try:
                kept = persons.receive(key.name, data)
            except InputError:
                session.forget_signature(key)
                fault = "it is no undamaged persons file"
                continue
            if not kept:
                _erase(team, key)
                return
            fault = ""
            team.outcome.received += 1
            break
        team.noted.note("persons", key.name, stamp, fault)
    if fault:
        team.outcome.aside(str(key), fault)


def _erase(team: StoreSide, key: DepotFile) -> None:
    depot = team.session.depot
    depot.delete(key)
    depot.delete(DepotFile(key.store, "signatures", signature_name(key.name)))
    team.session.forget_signature(key)
    team.noted.files["persons"].pop(key.name, None)
    team.noted.files["signatures"].pop(signature_name(key.name), None)


def _bring_unseen(team: StoreSide, mine: list[str]) -> None:
    """Bring persons files to a depot that takes them and shows none: what was brought once is noted."""
    known = team.noted.files["persons"]
    due = [name for name in mine if team.session.verify or name not in known]
    bring(team, "persons", due, {})
