"""One store and one depot: seal, fetch what is missing, bring what the depot lacks or holds damaged.

Order matters only where a cut could mislead: a signature goes before the file it is about, and what
is noted as verified is noted after it was. Everything else may stop at any byte and be run again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from fieldlog.errors import FieldlogError, InputError
from fieldlog.exchange.depot import LIMIT_BYTES, Depot, Key, Kind, Stamp
from fieldlog.exchange.laptops import roots
from fieldlog.exchange.outcome import Outcome
from fieldlog.exchange.session import Session
from fieldlog.exchange.signatures import Signature, signature_name
from fieldlog.exchange.summaries import conflict_summary
from fieldlog.exchange.validation import check_sealed_file
from fieldlog.records.site import Site
from fieldlog.store.journal import ACTIVE
from fieldlog.store.lines import Header, Revision
from fieldlog.store.scan import HEADER_BYTES, first_line
from fieldlog.store.sealed import SEALED, SEALED_NAME
from fieldlog.store.store import Store
from fieldlog.store.traces import named_traces
from fieldlog.store.workspace import TEAM, site_record

__all__ = ["Checked", "LocalStore", "StoreSync", "peek_site_name"]

WAITING_BYTES = 64 << 20


@dataclass(slots=True)
class LocalStore:
    """A store of the workspace, opened only when it must be."""

    folder: str
    id: str
    opened: Store | None = None


@dataclass(frozen=True, slots=True)
class Checked:
    """A sealed file from the depot that passed every check."""

    key: Key
    data: bytes
    stamp: Stamp
    signature: Signature | None
    header: Header
    revisions: list[Revision]

    @property
    def signer(self) -> str:
        return self.signature.public_key if self.signature else ""


class StoreSync:
    """The exchange of one store's sealed files."""

    def __init__(self, session: Session, store_id: str, local: LocalStore | None) -> None:
        self.session = session
        self.id = store_id
        self.local = local
        self.noted = session.notes.of(store_id)
        self.outcome = Outcome(store_id, session.known.labels.get(store_id) or store_id)
        self.fresh: list[Revision] = []
        self.signatures: dict[str, Stamp] = {}
        self._taking: bool = False

    @property
    def store(self) -> Store:
        """The store, opened now if it was not; only for one this laptop holds."""
        assert self.local is not None
        if self.local.opened is None:
            workspace = self.session.workspace
            self.local.opened = workspace.team if self.id == TEAM else self.session.sites[self.local.folder]
            self.local.opened.refresh()
        return self.local.opened

    @property
    def path(self) -> Path | None:
        return self.session.workspace.path / self.local.folder if self.local else None

    def run(self) -> None:
        """Seal, sign, fetch and bring the sealed files."""
        self.seal()
        mine = self.names(SEALED)
        for name in mine:
            self.session.sign(Key(self.id, "sealed", name))
        theirs = self.session.listing(self.id, "sealed") or {}
        self.signatures = self.session.listing(self.id, "signatures") or {}
        self._fetch(theirs, set(mine) - self._hurt())
        self.bring("sealed", self.names(SEALED), theirs)

    def report(self) -> None:
        """Count what is missing and which conflicts are new; name the store as people do."""
        self._note_label()
        if self.local is None:
            return
        self._note_missing()
        if self._taking or self.noted.unfinished:
            now = {f"{c.table}/{c.document}": c for c in self.store.conflicts()}
            for document, conflict in now.items():
                if {head.id for head in conflict.heads} - set(self.noted.told.get(document, ())):
                    self.outcome.conflicts.append(
                        conflict_summary(conflict, self.outcome.label, self.session.laptop_name)
                    )
            self.noted.told = {document: sorted(h.id for h in c.heads) for document, c in now.items()}
            self.noted.unfinished = False

    def seal(self) -> None:
        """Seal the active file if there is anything in it, without opening the store to look."""
        if self.path is None:
            return
        disk = self.session.workspace.disk
        try:
            descriptor = disk.open_read(self.path / ACTIVE)
        except FileNotFoundError:
            return
        try:
            size = disk.size(descriptor)
            header = disk.read_at(descriptor, 0, HEADER_BYTES).partition(b"\n")[0]
        finally:
            disk.close(descriptor)
        if size > len(header) + 1:
            self.store.seal()

    def names(self, folder: str) -> list[str]:
        """Return the names of the sealed files here."""
        if self.path is None:
            return []
        return [n for n in self.session.workspace.disk.names(self.path / folder) if SEALED_NAME.fullmatch(n)]

    def bring(self, kind: Kind, mine: list[str], theirs: dict[str, Stamp]) -> None:
        """Put every file of mine that the depot lacks, or holds otherwise than its name says."""
        due = [name for name in mine if self._is_due(Key(self.id, kind, name), theirs)]
        for count, name in enumerate(due):
            self.session.progress(f"bringing {self.outcome.label}", count, len(due))
            self._bring_one(Key(self.id, kind, name), theirs.get(name))

    def file_data(self, key: Key) -> bytes:
        """Return a file of mine as it lies here."""
        assert self.path is not None
        return self.session.workspace.disk.read_file(self.path / key.kind / key.name)

    def _is_due(self, key: Key, theirs: dict[str, Stamp]) -> bool:
        stamp = theirs.get(key.name)
        if self.session.verify or stamp is None or not self.noted.good(key.kind, key.name, stamp):
            return True
        sidecar = signature_name(key.name)
        beside = self.signatures.get(sidecar)
        if beside is None:
            return self.session.signed(key)
        return not self.noted.looked_at("signatures", sidecar, beside)

    def _bring_one(self, key: Key, stamp: Stamp | None) -> None:
        depot, digest = self.session.depot, key.name.partition(".")[0]
        self._settle_signature(key)
        assert self.path is not None
        size = self.session.workspace.disk.stamp(self.path / key.kind / key.name)[0]
        if stamp is not None and stamp.size_bytes == size and digest in depot.hashes(key):
            self.noted.note(key.kind, key.name, stamp)
            return
        data = self.file_data(key)
        if hashlib.sha256(data).hexdigest() != digest:
            self.outcome.lacks(
                str(key), "it is damaged here and not whole in the depot; run 'fieldlog audit'"
            )
            return
        self.noted.note(key.kind, key.name, depot.put(key, data))
        self.outcome.sent += 1

    def _settle_signature(self, key: Key) -> None:
        """See to it that the depot holds a true signature about a file of mine, and keep one that comes late."""
        name = signature_name(key.name)
        at, stamp = Key(self.id, "signatures", name), self.signatures.get(name)
        if stamp is not None and not self.session.verify and self.noted.looked_at("signatures", name, stamp):
            return
        own = self.session.own_signature(key)
        mark = hashlib.sha256(own.data()).hexdigest() if own else ""
        if stamp is not None and mark in self.session.depot.hashes(at):
            self.noted.note("signatures", name, stamp)
            return
        theirs, fault = self.session.depot_signature(key, self.signatures)
        if theirs is not None and not self.session.distrust(theirs, self.session.admitted):
            if own is None:
                self.session.keep_signature(key, theirs)
            self.noted.note("signatures", name, stamp or Stamp(0, ""))
        elif own is not None:
            self.noted.note("signatures", name, self.session.depot.put(at, own.data()))
        elif stamp is not None:
            self.noted.note("signatures", name, stamp, fault or "it is not whole")

    def _fetch(self, theirs: dict[str, Stamp], mine: set[str]) -> None:
        wanted = [(name, stamp) for name, stamp in theirs.items() if name not in mine]
        doubted: dict[str, str] = {}
        if not wanted:
            return
        found = self._checked(wanted, doubted)
        if self.id == TEAM:
            self._take_team(wanted, doubted)
            self.session.read_admissions_again()
        elif self.local is None:
            self._take_new_site(found)
        else:
            for checked in found:
                self._take(checked)
        for name, doubt in doubted.items():
            self.outcome.aside(str(Key(self.id, "sealed", name)), doubt)

    def _checked(self, wanted: list[tuple[str, Stamp]], doubted: dict[str, str]) -> Iterator[Checked]:
        """Yield the files that may be taken in; those of laptops not trusted go to ``doubted``."""
        for count, (name, stamp) in enumerate(wanted):
            self.session.progress(f"fetching {self.outcome.label}", count, len(wanted))
            key = Key(self.id, "sealed", name)
            fault = "" if self.session.verify else self.noted.fault("sealed", name, stamp)
            if not fault:
                signature, wrong = self.session.depot_signature(key, self.signatures)
                doubt = wrong or self.session.distrust(signature, self.session.admitted)
                if doubt:
                    # Not noted: an admission or the right signature may arrive without the file changing.
                    doubted[name] = doubt
                    continue
                checked, fault = self._read(key, stamp, signature)
                if checked is not None:
                    yield checked
                    continue
                self.noted.note("sealed", name, stamp, fault)
            self.outcome.aside(str(key), fault)

    def _read(self, key: Key, stamp: Stamp, signature: Signature | None) -> tuple[Checked | None, str]:
        limit = LIMIT_BYTES[key.kind]
        if stamp.size_bytes > limit:
            return None, f"it is larger than {limit >> 20} MiB"
        fault = "it could not be read"
        for data in self.session.depot.get(key):
            try:
                header, revisions = check_sealed_file(key.name, data, key.store)
            except InputError as error:
                fault = error.message.removeprefix(f"{key.name}: ")
                continue
            return Checked(key, data, stamp, signature, header, revisions), ""
        return None, fault

    def _take_team(self, wanted: list[tuple[str, Stamp]], doubted: dict[str, str]) -> None:
        """Take in the team's files, in rounds: a file may admit the laptop that another one is from.

        The first sync of a laptop that knows no admission believes its depot about who began the team.
        """
        stamps = dict(wanted)
        if not self.session.admitted:
            found = list(self._checked(wanted, doubted))
            began = roots((checked.signer, checked.revisions) for checked in found)
            for checked in found:
                if doubt := self.session.distrust(checked.signature, began):
                    doubted[checked.key.name] = doubt
                else:
                    self._take(checked)
            wanted = [(name, stamps[name]) for name in doubted]
        admitted: frozenset[str] | None = None
        while wanted and admitted != (admitted := self._admitted_now()):
            doubted.clear()
            for checked in self._checked(wanted, doubted):
                self._take(checked)
            wanted = [(name, stamps[name]) for name in doubted]

    def _admitted_now(self) -> frozenset[str]:
        self.session.read_admissions_again()
        return self.session.admitted

    def _take_new_site(self, found: Iterator[Checked]) -> None:
        """Take in a site this laptop does not hold yet: it is made under the name its record gives."""
        waiting: list[Checked] = []
        size = 0
        for checked in found:
            if self.local is not None:
                self._take(checked)
                continue
            waiting.append(checked)
            size += len(checked.data)
            label = _site_name(self.id, checked.revisions)
            if label or size > WAITING_BYTES:
                self._adopt(label, waiting)
        if waiting and self.local is None:
            self._adopt("", waiting)

    def _adopt(self, label: str, waiting: list[Checked]) -> None:
        store = self.session.workspace.adopt_site(self.id, label or "site")
        self.local = LocalStore(store.name, store.id, store)
        self.outcome.label = label or self.id
        for checked in waiting:
            self._take(checked)

    def _take(self, checked: Checked) -> None:
        self._before_taking()
        self.session.keep_signature(checked.key, checked.signature)
        new = self.store.receive(checked.key.name, checked.data)
        self.fresh += new
        self.outcome.received += 1
        self.noted.note("sealed", checked.key.name, checked.stamp)
        self.session.known.headers[checked.key.name] = (checked.header.device, checked.header.previous)
        if self.noted.awaited is not None:
            self.noted.awaited |= self.traces_named(new) - self.noted.left

    def traces_named(self, revisions: list[Revision]) -> set[str]:
        """Return the recordings that revisions name and that are not here."""
        named: set[str] = set()
        for revision in revisions:
            if revision.raw is not None and b'trace"' in revision.raw:
                named |= named_traces(revision.body)
        return {name for name in named if not self.store.traces.has(name)}

    def _before_taking(self) -> None:
        """Remember which conflicts there were, so that a cut sync still reports the new ones later."""
        if self._taking:
            return
        self._taking = True
        if not self.noted.unfinished:
            for conflict in self.store.conflicts():
                document = f"{conflict.table}/{conflict.document}"
                self.noted.told[document] = sorted(head.id for head in conflict.heads)
            self.noted.unfinished = True
            self.session.notes.save()

    def _hurt(self) -> set[str]:
        """Return the sealed files that are damaged here, as far as the store was opened to know."""
        if self.local is None or not (self.local.opened or self.session.verify):
            return set()
        return {
            problem.file.removeprefix(f"{SEALED}/")
            for problem in self.store.problems()
            if problem.kind == "damaged" and problem.file.startswith(f"{SEALED}/")
        }

    def _note_label(self) -> None:
        labels = self.session.known.labels
        if (
            self.local is not None
            and self.id != TEAM
            and (self.local.opened is not None or self.id not in labels)
        ):
            record = site_record(self.store)
            labels[self.id] = record.name if record else self.local.folder
        if self.id in labels:
            self.outcome.label = labels[self.id]

    def _note_missing(self) -> None:
        mine = self.names(SEALED)
        headers, have = self.session.known.headers, set(mine)
        for name in mine:
            if name not in headers:
                headers[name] = self._header(name)
        lacking: dict[str, set[str]] = {}
        for name in mine:
            device, previous = headers[name]
            for file in previous:
                if f"{file}.jsonl" not in have:
                    lacking.setdefault(device, set()).add(f"{file}.jsonl")
        for device, files in sorted(lacking.items()):
            laptop = self.session.laptop_name(device)
            for file in sorted(files):
                text = f"one file of laptop {laptop} has not arrived yet"
                self.outcome.lacks(str(Key(self.id, "sealed", file)), text, laptop)

    def _header(self, name: str) -> tuple[str, tuple[str, ...]]:
        assert self.path is not None
        disk = self.session.workspace.disk
        descriptor = disk.open_read(self.path / SEALED / name)
        try:
            header, _ = first_line(disk, descriptor)
        finally:
            disk.close(descriptor)
        return (header.device, header.previous) if header else ("", ())


def peek_site_name(depot: Depot, store_id: str) -> str:
    """Return what a site in a depot is called, "" where no readable file says so; nothing is taken in."""
    listing = depot.listing(store_id, "sealed")
    for name, stamp in sorted(listing.files.items() if listing else (), key=lambda item: item[1]):
        if stamp.size_bytes > LIMIT_BYTES["sealed"]:
            continue
        for data in depot.get(Key(store_id, "sealed", name)):
            try:
                label = _site_name(store_id, check_sealed_file(name, data, store_id)[1])
            except InputError:
                continue
            if label:
                return label
    return ""


def _site_name(store_id: str, revisions: list[Revision]) -> str:
    for revision in revisions:
        if revision.table == Site.table and revision.document == store_id and revision.body is not None:
            try:
                return Site.from_body(revision.body).name
            except FieldlogError:
                continue
    return ""
