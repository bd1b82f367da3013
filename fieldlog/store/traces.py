"""Recordings as they were imported, byte for byte, compressed, named by the hash of the original."""

from __future__ import annotations

import hashlib
import re
import zlib
from collections.abc import Iterable
from pathlib import Path

import orjson

from fieldlog.errors import InputError, NotFoundError, StoreError
from fieldlog.store.disk import Disk, is_leftover
from fieldlog.store.journal import save_error
from fieldlog.store.lines import Revision
from fieldlog.store.scan import Problem

__all__ = [
    "ELSEWHERE",
    "TRACES",
    "TRACE_NAME",
    "Traces",
    "check_trace",
    "named_traces",
    "trace_file",
    "trace_of_file",
    "traces_of",
]

TRACES = "traces"
ELSEWHERE = "elsewhere.json"
SUFFIX = ".csv.gz"
TRACE_NAME = re.compile(r"[0-9a-f]{64}\.csv\.gz")
HASH = re.compile(r"[0-9a-f]{64}")
MAX_TRACE_BYTES = 256 << 20
LEVEL = 6
# gzip without name and time, so that the same recording gives the same file on every laptop.
GZIP_START = bytes([0x1F, 0x8B, 8, 0, 0, 0, 0, 0, 0, 255])


class Traces:
    """The recordings of one store."""

    def __init__(self, folder: Path, disk: Disk) -> None:
        self.folder = folder / TRACES
        self._elsewhere = folder / ELSEWHERE
        self._disk = disk

    def put(self, data: bytes) -> str:
        """Keep a recording durably and return its name, the SHA-256 of ``data``.

        Raises InputError above 256 MiB, SaveError where the disk does not take it.
        """
        if len(data) > MAX_TRACE_BYTES:
            raise InputError(
                f"the recording is larger than {MAX_TRACE_BYTES >> 20} MiB", "export a shorter one"
            )
        name = hashlib.sha256(data).hexdigest()
        if not self._holds(name):
            path = self.path(name)
            try:
                self._disk.write_file(path, _pack(data))
            except OSError as error:
                raise save_error(path, error) from error
        return name

    def get(self, name: str) -> bytes:
        """Return a recording, checked against its name.

        Raises NotFoundError where it is not here, StoreError where it is damaged.
        """
        try:
            packed = self._disk.read_file(self.path(name))
        except FileNotFoundError:
            raise NotFoundError(
                f"the recording {name[:12]} is not on this laptop",
                "fetch it: fieldlog sync DEPOT --with-traces",
            ) from None
        except OSError as error:
            raise StoreError(f"{self.path(name)}: {error.strerror or error}") from error
        return check_trace(name, packed)

    def receive(self, name: str, packed: bytes) -> None:
        """Keep a packed recording that came from elsewhere; StoreError where it does not match its name."""
        check_trace(name, packed)
        self._disk.write_file(self.path(name), packed)

    def has(self, name: str) -> bool:
        return self.path(name).is_file()

    def names(self) -> list[str]:
        """Return the names (hashes) of all recordings here, sorted."""
        files = self._disk.names(self.folder)
        return [trace_of_file(file) for file in files if TRACE_NAME.fullmatch(file)]

    def path(self, name: str) -> Path:
        """Return where the packed recording lies."""
        if not HASH.fullmatch(name):
            raise NotFoundError(f"{name[:80]!r} is no name of a recording", "it is a SHA-256 in hexadecimal")
        return self.folder / trace_file(name)

    def leave_elsewhere(self, names: Iterable[str]) -> None:
        """Note that these recordings were left in a depot on purpose, so that nobody calls them lost."""
        known = self.elsewhere() | set(names)
        self._disk.write_file(self._elsewhere, orjson.dumps({"traces": sorted(known)}))

    def elsewhere(self) -> set[str]:
        """Return the recordings left in a depot on purpose."""
        try:
            return {str(name) for name in orjson.loads(self._disk.read_file(self._elsewhere))["traces"]}
        except (OSError, ValueError, KeyError, TypeError):
            return set()  # a note for the audit only; without it a recording counts as missing

    def problems(self) -> list[Problem]:
        """Verify every file."""
        found = []
        for file in self._disk.names(self.folder):
            if is_leftover(file):
                continue
            if not TRACE_NAME.fullmatch(file):
                found.append(Problem("foreign", f"{TRACES}/{file}", "no recording has such a name"))
                continue
            try:
                self.get(trace_of_file(file))
            except StoreError as error:
                found.append(Problem("damaged", f"{TRACES}/{file}", error.message))
        return found

    def _holds(self, name: str) -> bool:
        try:
            self.get(name)
        except (NotFoundError, StoreError):
            return False
        return True


def check_trace(name: str, packed: bytes) -> bytes:
    """Return the recording in a packed file; StoreError where it does not match its name."""
    unpacker = zlib.decompressobj(31)
    try:
        # One byte more than allowed shows a giant without unpacking it.
        data = unpacker.decompress(packed, MAX_TRACE_BYTES + 1)
    except zlib.error:
        data = b""
    whole = unpacker.eof and not unpacker.unused_data and packed.startswith(GZIP_START)
    if not whole or hashlib.sha256(data).hexdigest() != name:
        raise StoreError(
            f"the recording {name[:12]} is damaged", "heal it: fieldlog audit --repair-from another copy"
        )
    return data


def trace_file(name: str) -> str:
    """Return what the file of a recording is called."""
    return name + SUFFIX


def trace_of_file(file: str) -> str:
    """Return the name (hash) of the recording that a file of this name holds."""
    return file.removesuffix(SUFFIX)


def traces_of(revisions: Iterable[Revision]) -> dict[str, Revision]:
    """Return the recordings that revisions name, each with the last revision that does."""
    found: dict[str, Revision] = {}
    for revision in revisions:
        # Most bodies name no recording and need not be read.
        if revision.raw is not None and b'trace"' in revision.raw:
            found |= dict.fromkeys(named_traces(revision.body), revision)
    return found


def named_traces(body: object) -> set[str]:
    """Return the recordings a body names: 64 hexadecimal digits under a key ``trace`` or ``…_trace``."""
    found: set[str] = set()
    waiting = [body]
    while waiting:
        value = waiting.pop()
        if isinstance(value, list):
            waiting += value
        elif isinstance(value, dict):
            for key, inner in value.items():
                if isinstance(inner, str):
                    if (key == "trace" or key.endswith("_trace")) and HASH.fullmatch(inner):
                        found.add(inner)
                else:
                    waiting.append(inner)
    return found


def _pack(data: bytes) -> bytes:
    packer = zlib.compressobj(LEVEL, zlib.DEFLATED, -15)
    body = packer.compress(data) + packer.flush()
    end = zlib.crc32(data).to_bytes(4, "little") + len(data).to_bytes(4, "little")
    return GZIP_START + body + end
