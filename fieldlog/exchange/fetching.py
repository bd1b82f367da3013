"""Sealed files from a depot: checked, trusted or not, taken in or set aside and named."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fieldlog.errors import InputError
from fieldlog.exchange.depot import LIMIT_BYTES, Depot, DepotFile, Stamp
from fieldlog.exchange.laptops import roots
from fieldlog.exchange.signatures import Signature
from fieldlog.exchange.store_files import site_name
from fieldlog.exchange.store_side import StoreSide
from fieldlog.exchange.validation import check_sealed_file
from fieldlog.store.lines import Header, Revision
from fieldlog.store.workspace import TEAM

__all__ = ["fetch_sealed", "peek_site_name"]

WAITING_BYTES = 64 << 20


@dataclass(frozen=True, slots=True)
class Checked:
    """A sealed file from the depot whose content is what its name says, and whose records are records."""

    key: DepotFile
    data: bytes
    stamp: Stamp
    signature: Signature | None
    header: Header
    revisions: list[Revision]


Wanted = list[tuple[str, Stamp]]


def fetch_sealed(side: StoreSide, theirs: dict[str, Stamp]) -> None:
    """Take in the files the depot lists and this laptop lacks or holds damaged."""
    mine = set(side.sealed_names()) - side.damaged_here()
    wanted = [(name, stamp) for name, stamp in theirs.items() if name not in mine]
    doubted: dict[str, str] = {}
    if not wanted:
        return
    if side.id == TEAM:
        _take_team(side, wanted, doubted)
        side.session.read_admissions_again()
    elif side.held:
        for checked in _checked(side, wanted, doubted):
            _take(side, checked)
    else:
        _take_new_site(side, _checked(side, wanted, doubted))
    for name, doubt in doubted.items():
        side.outcome.aside(str(side.key("sealed", name)), doubt)


def peek_site_name(depot: Depot, store_id: str) -> str:
    """Return what a site in a depot is called, "" where no readable file says so; nothing is taken in."""
    listing = depot.listing(store_id, "sealed")
    for name, stamp in sorted(listing.files.items() if listing else (), key=lambda item: item[1]):
        if stamp.size_bytes > LIMIT_BYTES["sealed"]:
            continue
        for data in depot.get(DepotFile(store_id, "sealed", name)):
            try:
                label = site_name(store_id, check_sealed_file(name, data, store_id)[1])
            except InputError:
                continue
            if label:
                return label
    return ""


def _checked(side: StoreSide, wanted: Wanted, doubted: dict[str, str]) -> Iterator[Checked]:
    """Yield the files that may be taken in; those of laptops not trusted go to ``doubted``."""
    session = side.session
    for count, (name, stamp) in enumerate(wanted):
        session.progress(f"fetching {side.outcome.label}", count, len(wanted))
        key = side.key("sealed", name)
        fault = "" if session.verify else side.noted.fault("sealed", name, stamp)
        if not fault:
            signature, wrong = session.depot_signature(key, side.signatures)
            doubt = wrong or session.distrust(signature, session.admitted)
            if doubt:
                # Not noted: an admission or the right signature may arrive without the file changing.
                doubted[name] = doubt
                continue
            checked, fault = _read(side, key, stamp, signature)
            if checked is not None:
                yield checked
                continue
            side.noted.note("sealed", name, stamp, fault)
        side.outcome.aside(str(key), fault)


def _read(
    side: StoreSide, key: DepotFile, stamp: Stamp, signature: Signature | None
) -> tuple[Checked | None, str]:
    limit = LIMIT_BYTES[key.kind]
    if stamp.size_bytes > limit:
        return None, f"it is larger than {limit >> 20} MiB"
    fault = "it could not be read"
    for data in side.session.depot.get(key):
        try:
            header, revisions = check_sealed_file(key.name, data, key.store, thorough=not side.held)
        except InputError as error:
            fault = error.message.removeprefix(f"{key.name}: ")
            continue
        return Checked(key, data, stamp, signature, header, revisions), ""
    return None, fault


def _take(side: StoreSide, checked: Checked) -> None:
    name = checked.key.name
    side.before_taking()
    side.session.keep_signature(checked.key, checked.signature)
    try:
        side.took(side.store.receive(name, checked.data))
    except InputError as error:
        side.session.forget_signature(checked.key)
        fault = error.message.removeprefix(f"{name}: ")
        side.noted.note("sealed", name, checked.stamp, fault)
        side.outcome.aside(str(checked.key), fault)
        return
    side.noted.note("sealed", name, checked.stamp)
    side.session.known.headers[name] = (checked.header.device, checked.header.previous)


def _take_team(side: StoreSide, wanted: Wanted, doubted: dict[str, str]) -> None:
    """Take in the team's files, in rounds: a file may admit the laptop that another one is from.

    The first sync of a laptop that knows no admission believes its depot about who began the team.
    """
    session, stamps = side.session, dict(wanted)
    if not session.admitted:
        found = list(_checked(side, wanted, doubted))
        began = roots(
            (checked.signature.public_key if checked.signature else "", checked.revisions)
            for checked in found
        )
        for checked in found:
            if doubt := session.distrust(checked.signature, began):
                doubted[checked.key.name] = doubt
            else:
                _take(side, checked)
        wanted = [(name, stamps[name]) for name in doubted]
    admitted: frozenset[str] | None = None
    session.read_admissions_again()
    while wanted and admitted != session.admitted:
        admitted = session.admitted
        doubted.clear()
        for checked in _checked(side, wanted, doubted):
            _take(side, checked)
        wanted = [(name, stamps[name]) for name in doubted]
        session.read_admissions_again()


def _take_new_site(side: StoreSide, found: Iterator[Checked]) -> None:
    """Take in a site this laptop does not hold yet; files wait until one of them says its name."""
    waiting: list[Checked] = []
    size = 0
    for checked in found:
        waiting.append(checked)
        size += len(checked.data)
        label = "" if side.held else site_name(side.id, checked.revisions)
        if label or size > WAITING_BYTES:
            _adopt(side, label, waiting)
        if side.held:
            for ready in waiting:
                _take(side, ready)
            waiting, size = [], 0
    if waiting:
        _adopt(side, "", waiting)
        for ready in waiting:
            _take(side, ready)


def _adopt(side: StoreSide, label: str, waiting: list[Checked]) -> None:
    if waiting and not side.held:
        side.adopt(label)
