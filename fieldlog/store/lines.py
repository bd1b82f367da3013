"""The line: one commit, one checksum; and what stands in it, the revision.

``crc32 SP [[revision, table, document, [parents], clock, device, by, why, body|null], …] LF``

The checksum is over the exact bytes between the space and the line end. A revision's id is the
SHA-256 of the exact bytes of its entry after the id, never of a re-serialisation. Lines that hold
an object instead of an array speak about the file: the first one of every file is its header.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, NamedTuple
from zlib import crc32

import orjson

from fieldlog.errors import InputError
from fieldlog.store.clock import LARGEST_STAMP, instant_of

__all__ = [
    "FORMAT",
    "MAX_LINE_BYTES",
    "MAX_NAME",
    "Change",
    "Check",
    "Header",
    "LineError",
    "Revision",
    "body_bytes",
    "canonical",
    "frame",
    "names_fit",
    "read_commit",
    "read_line",
    "unframe",
    "write_commit",
]

FORMAT = 1
MAX_LINE_BYTES = 32 << 20
MAX_NAME = 200
CRC_LENGTH = 9
ID_LENGTH = 64
ENTRY_START = ID_LENGTH + 4  # ["<id>",

# Only plain JSON types are a body; anything else is a mistake of the caller, not something to guess at.
STRICT = orjson.OPT_PASSTHROUGH_DATETIME | orjson.OPT_PASSTHROUGH_DATACLASS | orjson.OPT_PASSTHROUGH_SUBCLASS


Check = Literal["all", "checksum", "nothing"]
"""How far a line is to be doubted: ``all`` for files of unknown origin (checksum, ids, bodies),
``checksum`` for what this laptop wrote, ``nothing`` for lines of a file that was read in full
before and still matches its name."""


class LineError(ValueError):
    """The bytes are no whole, undamaged line."""


class Revision(NamedTuple):
    """One state of one document: who wrote it, when, why, and after which other revisions.

    ``clock`` orders display only. ``raw`` is the body exactly as it lies on disk, None a deletion.
    """

    id: str
    table: str
    document: str
    parents: tuple[str, ...]
    clock: int
    device: str
    by: str
    why: str
    raw: bytes | None

    @property
    def body(self) -> dict[str, Any] | None:
        """The body, read anew on each call, so that no caller can change what others see."""
        return None if self.raw is None else orjson.loads(self.raw)

    @property
    def deleted(self) -> bool:
        return self.raw is None

    @property
    def at(self) -> datetime:
        """The moment of writing by the writer's clock, in UTC, for display."""
        return instant_of(self.clock)


@dataclass(frozen=True, slots=True)
class Change:
    """A wish: this document shall have this body (None: be deleted), after these revisions."""

    table: str
    document: str
    body: dict[str, Any] | None
    parents: tuple[str, ...] = ()


class Header(NamedTuple):
    """The first line of a file: whose it is and which files of the same laptop came before."""

    format: int
    store: str
    device: str
    previous: tuple[str, ...]
    clock: int

    def line(self) -> bytes:
        return frame(orjson.dumps(self._asdict()))

    @classmethod
    def read(cls, payload: bytes) -> Header:
        """Read a header's payload; LineError where it is none."""
        try:
            fields = orjson.loads(payload)
            header = cls(
                int(fields["format"]),
                str(fields["store"]),
                str(fields["device"]),
                tuple(str(name) for name in fields["previous"]),
                int(fields["clock"]),
            )
        except (ValueError, KeyError, TypeError):
            raise LineError("it has no header") from None
        return header


def frame(payload: bytes) -> bytes:
    """Return the whole line for a payload."""
    return b"%08x %b\n" % (crc32(payload), payload)


def unframe(line: bytes) -> bytes:
    """Return the payload of a line given without its line end; LineError where the checksum fails."""
    payload = line[CRC_LENGTH:]
    if line[:CRC_LENGTH] != b"%08x " % crc32(payload):
        raise LineError("the checksum does not fit")
    return payload


def body_bytes(body: dict[str, Any]) -> bytes:
    """Return a body as JSON bytes; InputError where it holds something JSON cannot say."""
    try:
        raw = orjson.dumps(body, option=STRICT)
    except TypeError as error:  # orjson's encode error is one
        raise InputError(f"the record cannot be written as JSON ({error})") from None
    # The encoder writes NaN as null without a word; only then is the walk worth its time.
    if b"null" in raw and not _all_finite(body):
        raise InputError("the record holds a number that is not finite", "leave it out or give null")
    return raw


def canonical(raw: bytes | None) -> bytes | None:
    """Return a body's bytes with sorted keys, so that equal bodies compare equal."""
    return None if raw is None else orjson.dumps(orjson.loads(raw), option=orjson.OPT_SORT_KEYS)


def names_fit(table: str, document: str) -> bool:
    """Tell whether a table and a record's id are neither empty nor longer than ``MAX_NAME`` characters."""
    return 0 < len(table) <= MAX_NAME and 0 < len(document) <= MAX_NAME


def write_commit(
    changes: Sequence[tuple[str, str, tuple[str, ...], bytes | None]],
    *,
    clock: int,
    device: str,
    by: str,
    why: str,
) -> tuple[bytes, list[Revision]]:
    """Return the line for ``(table, document, parents, raw body)`` changes, and its revisions.

    The first change gets the stamp ``clock``, each further one the next.
    """
    revisions, entries = [], []
    for stamp, (table, document, parents, raw) in enumerate(changes, start=clock):
        try:
            start = orjson.dumps((table, document, parents, stamp, device, by, why))[1:-1]
        except TypeError as error:  # half a character, as a terminal with another encoding may give
            raise InputError(f"a name or reason cannot be written as text ({error})") from None
        rest = b"%b,%b" % (start, b"null" if raw is None else raw)
        identity = hashlib.sha256(rest).hexdigest()
        entries.append(b'["%b",%b]' % (identity.encode(), rest))
        revisions.append(Revision(identity, table, document, parents, stamp, device, by, why, raw))
    line = frame(b"[%b]" % b",".join(entries))
    if len(line) > MAX_LINE_BYTES:
        raise InputError(
            f"the change is {len(line) >> 20} MiB, larger than {MAX_LINE_BYTES >> 20} MiB",
            "keep recordings as traces",
        )
    return line, revisions


def read_commit(payload: bytes) -> list[Revision]:
    """Return the revisions of a commit's payload, each checked against its id and its types.

    Raises LineError where anything does not fit.
    """
    try:
        entries = orjson.loads(payload)
        places = _places(payload, entries)
        return [_read_entry(entry, payload[a:b]) for entry, (a, b) in zip(entries, places, strict=True)]
    except (ValueError, TypeError, LookupError, AttributeError) as error:
        raise LineError(f"the line is no commit ({error})") from None


def read_line(line: bytes, pool: dict[bytes, str], check: Check = "all") -> list[Revision]:
    """Return the revisions of a line given without its line end; LineError where anything does not fit.

    ``check`` says how far the line is to be doubted. The usual line (one revision, no parents,
    nothing escaped) is taken apart without a JSON reader, every other one takes the long way.
    ``pool`` keeps one copy of texts that repeat.
    """
    payload = line[CRC_LENGTH:] if check == "nothing" else unframe(line)
    parts = payload.split(b'"', 12)
    if len(parts) == 13:
        before, identity, c1, table, c2, document, middle, device, c3, by, c4, why, rest = parts
        if (
            c1 == c2 == c3 == c4 == b","
            and before == b"[["
            and middle.startswith(b",[],")
            and rest.startswith(b",{")
            and rest.endswith(b"}]]")
            and b'],["' not in rest
            and b"\\" not in table + document + device + by + why
        ):
            raw = rest[1:-2]
            if check == "all":
                _check_usual(payload, identity, middle, raw)
            try:
                return [
                    Revision(
                        identity.decode(),
                        pool.get(table) or pool.setdefault(table, table.decode()),
                        document.decode(),
                        (),
                        int(middle[4:-1]),
                        pool.get(device) or pool.setdefault(device, device.decode()),
                        pool.get(by) or pool.setdefault(by, by.decode()),
                        pool.get(why) or pool.setdefault(why, why.decode()),
                        raw,
                    )
                ]
            except ValueError as error:
                raise LineError(f"the line is no commit ({error})") from None
    return read_commit(payload) if payload.startswith(b"[") else []


def _check_usual(payload: bytes, identity: bytes, middle: bytes, raw: bytes) -> None:
    if hashlib.sha256(payload[ENTRY_START + 1 : -2]).hexdigest().encode() != identity:
        raise LineError("a revision does not match its id")
    if not middle[4:-1].isdigit() or int(middle[4:-1]) > LARGEST_STAMP:
        raise LineError("a revision has no clock")
    try:
        orjson.loads(raw)
    except ValueError as error:
        raise LineError(f"a revision's body is no JSON ({error})") from None


def _read_entry(entry: list[Any], exact: bytes) -> Revision:
    identity, table, document, parents, clock, device, by, why, body = entry
    rest = exact[ENTRY_START:-1]
    if hashlib.sha256(rest).hexdigest() != identity:
        raise LineError("a revision does not match its id")
    if not (
        type(table) is type(document) is type(device) is type(by) is type(why) is str
        and type(clock) is int
        and 0 <= clock <= LARGEST_STAMP
        and (body is None or type(body) is dict)
    ):
        raise LineError("a revision has a field of the wrong type")
    for parent in parents:
        if type(parent) is not str:
            raise LineError("a revision has a parent that is no id")
    if body is None:
        raw = None
    else:
        start = orjson.dumps((table, document, parents, clock, device, by, why))[1:-1]
        # Another writer may escape text differently; its id was checked, so the body may be written anew.
        raw = rest[len(start) + 1 :] if rest.startswith(start) else orjson.dumps(body)
    return Revision(identity, table, document, tuple(parents), clock, device, by, why, raw)


def _places(payload: bytes, entries: list[list[Any]]) -> Iterator[tuple[int, int]]:
    """Yield where each entry's exact bytes lie; a quote inside JSON text is escaped, so ids mark them."""
    start = 1
    for following in entries[1:]:
        end = payload.index(b'],["%b",' % following[0].encode(), start) + 1
        yield start, end
        start = end + 1
    yield start, len(payload) - 1


def _all_finite(value: Any) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, dict):
        return all(_all_finite(inner) for inner in value.values())
    if isinstance(value, list | tuple):
        return all(_all_finite(inner) for inner in value)
    return True
