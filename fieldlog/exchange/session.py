"""One sync's tools: the workspace, the depot, what is noted, this laptop's key, and whom it trusts."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping

from fieldlog.exchange.depot import Depot, DepotFile, Kind, Stamp
from fieldlog.exchange.laptops import SIGNATURES, admitted_keys, note_stranger
from fieldlog.exchange.notes import EXCHANGE, DepotNotes, WorkspaceNotes
from fieldlog.exchange.outcome import Progress
from fieldlog.exchange.signatures import LaptopKey, Signature, read_signature, signature_name
from fieldlog.store.journal import save_error
from fieldlog.store.workspace import Workspace

__all__ = ["Session"]

UNSIGNED = ".unsigned"


class Session:
    """What the parts of a sync share."""

    def __init__(
        self, workspace: Workspace, depot: Depot, *, with_traces: bool, verify: bool, progress: Progress
    ) -> None:
        self.workspace = workspace
        self.depot = depot
        self.with_traces = with_traces
        self.verify = verify
        self.progress = progress
        self.notes = DepotNotes(workspace.path, depot, workspace.disk)
        self.known = WorkspaceNotes(workspace.path, workspace.disk)
        self.sites = workspace.sites
        self._folder = workspace.path / EXCHANGE / SIGNATURES
        self._have = set(workspace.disk.names(self._folder))
        self._key: LaptopKey | None = None
        self._admitted: frozenset[str] | None = None

    @property
    def key(self) -> LaptopKey:
        """The key of this laptop, made when it is first needed."""
        if self._key is None:
            self._key = LaptopKey(self.workspace.path / EXCHANGE, self.workspace.device)
        return self._key

    @property
    def admitted(self) -> frozenset[str]:
        """The keys whose files are taken in; empty while the team has admitted nobody."""
        if self._admitted is None:
            self._admitted = admitted_keys(self.workspace.team)
        return self._admitted

    def read_admissions_again(self) -> None:
        self._admitted = None

    def listing(self, store: str, kind: Kind) -> dict[str, Stamp] | None:
        """Return the depot's files of one kind, None where this laptop may not see them."""
        noted = self.notes.of(store)
        listing = self.depot.listing(store, kind, "" if self.verify else noted.since(kind))
        return None if listing is None else noted.merged(kind, listing)

    def distrust(self, signature: Signature | None, admitted: frozenset[str]) -> str:
        """Return why a file with this signature is not taken in; "" where it is."""
        if not admitted:
            return ""
        if signature is None:
            return "it bears no signature, and the team takes in files of admitted laptops only"
        if signature.public_key in admitted or signature.public_key == self.key.public_key:
            return ""
        note_stranger(self.workspace, signature)
        mark = signature.fingerprint
        return f"laptop {signature.laptop} ({mark}) is not admitted; the team's lead can: fieldlog team admit {mark}"

    def warnings(self) -> list[str]:
        """Return what people should know about this laptop's standing in the team."""
        if not self.admitted or self.key.public_key in self.admitted:
            return []
        mark = self.key.fingerprint
        return [
            f"this laptop is not admitted yet, others set its files aside; the lead can: fieldlog team admit {mark}"
        ]

    def depot_signature(self, key: DepotFile, listed: Mapping[str, Stamp]) -> tuple[Signature | None, str]:
        """Return the true signature about a file in the depot, and else what is wrong with the one there.

        A half-written signature counts as none: its laptop completes it.
        """
        name = signature_name(key.name)
        if name not in listed:
            return None, ""
        fault = ""
        for data in self.depot.get(DepotFile(key.store, "signatures", name)):
            signature = read_signature(data)
            if signature is None:
                continue
            if signature.fits(key):
                return signature, ""
            fault = f"its signature is wrong (it claims to be laptop {signature.laptop}'s)"
        return None, fault

    def own_signature(self, key: DepotFile) -> Signature | None:
        """Return the signature kept here about a file, None where there is none."""
        try:
            return read_signature(self.workspace.disk.read_file(self._folder / signature_name(key.name)))
        except OSError:
            return None

    def signed(self, key: DepotFile) -> bool:
        """Tell whether a signature about the file is kept here."""
        return signature_name(key.name) in self._have

    def unsigned(self, key: DepotFile) -> bool:
        """Tell whether the file came from elsewhere without a signature."""
        return key.digest + UNSIGNED in self._have

    def keep_signature(self, key: DepotFile, signature: Signature | None) -> None:
        """Keep a signature that came with a file, or that none came: then this laptop does not sign it."""
        if signature is None:
            self._write(key.digest + UNSIGNED, b"")
            return
        self._write(signature_name(key.name), signature.data())
        self.known.laptops[signature.device] = signature.laptop

    def forget_signature(self, key: DepotFile) -> None:
        for name in (signature_name(key.name), key.digest + UNSIGNED):
            with contextlib.suppress(OSError):
                self.workspace.disk.remove(self._folder / name)
            self._have.discard(name)

    def sign(self, key: DepotFile) -> None:
        """Sign a file made here; of one that came from elsewhere it is noted who signed it, or nobody."""
        if not self.signed(key) and not self.unsigned(key):
            self.keep_signature(key, self.key.sign(key))

    def laptop_name(self, device: str) -> str:
        """Return a laptop's name for people, its id where no signature of it was met."""
        return self.known.laptops.get(device) or device[:8]

    def _write(self, name: str, data: bytes) -> None:
        path = self._folder / name
        try:
            self.workspace.disk.write_file(path, data)
        except OSError as error:
            raise save_error(path, error) from error
        self._have.add(name)
