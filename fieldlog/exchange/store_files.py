"""What a store's sealed files say of themselves, read without opening the store.

Opening verifies every line of every file; a sync that has nothing to take in needs far less.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from fieldlog.errors import FieldlogError
from fieldlog.records.site import Site
from fieldlog.store.disk import Disk
from fieldlog.store.journal import ACTIVE
from fieldlog.store.lines import LineError, Revision, read_commit, unframe
from fieldlog.store.scan import HEADER_BYTES, first_line
from fieldlog.store.sealed import SEALED, SEALED_NAME

__all__ = ["StoreFiles", "site_name"]

NAMED_TRACE = re.compile(rb'trace":"([0-9a-f]{64})"')
LONGEST_LINE_LOOKED_AT = 1 << 20
PIECE_BYTES = 1 << 18


class StoreFiles:
    """The files of one store's folder."""

    def __init__(self, path: Path, disk: Disk) -> None:
        self.path = path
        self._disk = disk

    def sealed(self) -> list[str]:
        """Return the names of the sealed files, sorted."""
        return [name for name in self._disk.names(self.path / SEALED) if SEALED_NAME.fullmatch(name)]

    def has_unsealed(self) -> bool:
        """Tell whether the active file holds anything after its header."""
        try:
            descriptor = self._disk.open_read(self.path / ACTIVE)
        except FileNotFoundError:
            return False
        try:
            size = self._disk.size(descriptor)
            header = self._disk.read_at(descriptor, 0, HEADER_BYTES).partition(b"\n")[0]
        finally:
            self._disk.close(descriptor)
        return size > len(header) + 1

    def active_lines(self) -> int:
        """Return how many whole lines the active file has, its header among them."""
        try:
            descriptor = self._disk.open_read(self.path / ACTIVE)
        except FileNotFoundError:
            return 0
        try:
            # Piece by piece, so that a thread that counts leaves the others their turn.
            pieces = range(0, self._disk.size(descriptor), PIECE_BYTES)
            return sum(self._disk.read_at(descriptor, start, PIECE_BYTES).count(b"\n") for start in pieces)
        finally:
            self._disk.close(descriptor)

    def header(self, name: str) -> tuple[str, tuple[str, ...]]:
        """Return the laptop that began a sealed file and which files of it came before."""
        descriptor = self._disk.open_read(self.path / SEALED / name)
        try:
            header, _ = first_line(self._disk, descriptor)
        finally:
            self._disk.close(descriptor)
        return (header.device, header.previous) if header else ("", ())

    def traces_named(self) -> set[str]:
        """Return the recordings that records name, as this fieldlog writes them (without blanks in JSON)."""
        return {name.decode() for data in self._contents() for name in NAMED_TRACE.findall(data)}

    def site_name(self, store_id: str) -> str:
        """Return the name in the latest record of the site, "" where there is none."""
        mark = b'"%b","%b",' % (Site.table.encode(), store_id.encode())
        found: list[Revision] = []
        for data in self._contents():
            position = data.find(mark)
            while position >= 0:
                start, end = data.rfind(b"\n", 0, position) + 1, data.find(b"\n", position)
                if 0 < end - start <= LONGEST_LINE_LOOKED_AT:
                    found += _revisions(data[start:end])
                position = data.find(mark, max(end, position + 1))
        return site_name(store_id, sorted(found, key=lambda revision: revision.clock, reverse=True))

    def _contents(self) -> Iterator[bytes]:
        for name in self.sealed():
            yield self._disk.read_file(self.path / SEALED / name)


def site_name(store_id: str, revisions: Iterable[Revision]) -> str:
    """Return the first readable name of the site that revisions give, "" where none does."""
    for revision in revisions:
        if revision.table == Site.table and revision.document == store_id and revision.body is not None:
            try:
                return Site.from_body(revision.body).name
            except FieldlogError:
                continue
    return ""


def _revisions(line: bytes) -> list[Revision]:
    try:
        return read_commit(unframe(line))
    except LineError:
        return []
