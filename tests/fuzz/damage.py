"""Damage at the level of bytes, of JSON values and of rows of cells."""

from __future__ import annotations

import copy
import json
import random
from typing import Any

PIECES = (
    b"\x00", b"\xff", b"\xef\xbb\xbf", b"\xff\xfe", b"\x1b[2J", b"\r", b"\r\n", b"\n", b"\n\n", b'"', b"'", b",", b";",
    b"\t", b"#", b"-", b".", b"e", b"1e999", b"nan", b"-inf", b"9" * 40, b"\xc3", b"\xe2\x80\xae", b"{", b"}", b"[", b"]",
    b"\\u0000", b"0x1f", b"1_0", b"\x0b", b"\x85", "١٢".encode(), "½".encode(), b" " * 70,
)  # fmt: skip
TEXTS = (
    "", " ", "x", "nan", "NaN", "inf", "-inf", "1e999", "-1e308", "1e308", "1e-320", "9" * 30, "0", "-0", "1", "-1", "0.5",
    "1,5", "1.5", "1.234,5", "1,234.5", "+3", ".5", "5.", "1_000", "0x10", "١٢", "½", "−5", "1e5", "true", "null", "None",
    "=1+1", "\x1b[2J", "a\x00b", "[/x]", "\u202eabc", "\ud800"[:0], "é" * 300, "2031-05-04", "12:30", "1 5", "\xa05",
)  # fmt: skip
VALUES: tuple[Any, ...] = (
    None, True, False, 0, -0.0, 1, -1, 1e308, -1e308, 5e-324, float("nan"), float("inf"), float("-inf"), 10**30, -(10**30),
    2**63, "", " ", "x", "5", "nan", "\x1b[2J", "a\x00b", "\u202eabc", "é" * 5000, [], {}, [[]], [1, 2], {"a": 1},
    "2031-05-04", "2031-05-04T09:00:00+02:00", "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00",
)  # fmt: skip


def damaged_bytes(chance: random.Random, data: bytes) -> bytes:
    """Return the bytes with one to four of them, or stretches of them, changed."""
    work = bytearray(data)
    for _ in range(chance.choice((1, 1, 1, 2, 3, 4))):
        at, to = sorted(chance.randrange(len(work) + 1) for _ in range(2))
        to = min(to, at + chance.choice((1, 1, 2, 8, 40, 4000)))
        kind = chance.randrange(10)
        if kind == 0 and work:
            work[min(at, len(work) - 1)] ^= 1 << chance.randrange(8)
        elif kind == 1:
            del work[at:to]
        elif kind == 2:
            work[at:at] = work[at:to]
        elif kind == 3:
            work[at:at] = chance.choice(PIECES)
        elif kind == 4:
            work[at:to] = chance.choice(PIECES)
        elif kind == 5:
            del work[at:]
        elif kind == 6:
            work[at:to] = chance.randbytes(to - at)
        elif kind == 7:
            work[at:to] = work[at:to][::-1]
        elif kind == 8:
            old = chance.choice((b",", b".", b"\n", b";", b'"', b"0", b"e"))
            work = bytearray(bytes(work).replace(old, chance.choice(PIECES), chance.choice((1, 2, -1))))
        else:
            work = bytearray(_recoded(chance, bytes(work)))
    return bytes(work)


def _recoded(chance: random.Random, data: bytes) -> bytes:
    coding = chance.choice(("utf-16", "utf-16-le", "utf-32", "latin-1", "utf-8-sig", "utf-7", "cp037"))
    return data.decode("utf-8", "replace").encode(coding, "replace")


def damaged_json(chance: random.Random, body: Any) -> str:
    """Return JSON text of the value with one to three places dropped, retyped, renamed, doubled or swapped."""
    work = copy.deepcopy(body)
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        places = list(_places(work))
        if not places:
            break
        holder, key = chance.choice(places)
        kind = chance.randrange(9)
        if kind <= 2:
            holder[key] = copy.deepcopy(chance.choice(VALUES))
        elif kind == 3:
            del holder[key]
        elif kind == 4:
            other, place = chance.choice(places)
            holder[key] = copy.deepcopy(other[place]) if place in _keys(other) else None
        elif kind == 5 and isinstance(holder, dict):
            name = chance.choice(
                (f"{key}x", key.upper(), "", "\x1b[2J", "schema_version", "é" * 200, f" {key}")
            )
            holder[name] = holder.pop(key)
        elif kind == 6 and isinstance(holder, list):
            holder[key:key] = [copy.deepcopy(holder[key])] * chance.choice((1, 2, 50))
        elif kind == 7 and isinstance(holder[key], int | float):
            holder[key] = holder[key] * chance.choice((-1, 1000, 1e-6, 1e300, 1.5))
        else:
            holder[key] = _nested(chance, holder[key])
    text = json.dumps(work, ensure_ascii=chance.random() < 0.5)
    if chance.random() < 0.1:  # one key twice in an object
        start = text.find("{", chance.randrange(len(text)))
        if start >= 0:
            end = text.find(",", start)
            text = text[: start + 1] + text[start + 1 : end] + "," + text[start + 1 :] if end > 0 else text
    return text


def _places(value: Any, depth: int = 0) -> list[tuple[Any, Any]]:
    found: list[tuple[Any, Any]] = []
    for key in _keys(value) if depth < 20 else ():
        found.append((value, key))
        found += _places(value[key], depth + 1)
    return found


def _keys(value: Any) -> list[Any]:
    if isinstance(value, dict):
        return list(value)
    return list(range(len(value))) if isinstance(value, list) else []


def _nested(chance: random.Random, value: Any) -> Any:
    for _ in range(chance.choice((1, 5, 100))):
        value = [value] if chance.random() < 0.5 else {"a": value}
    return value


def damaged_rows(chance: random.Random, rows: list[list[str]]) -> list[list[str]]:
    """Return rows of cells with one to three of them dropped, doubled, swapped, cut, lengthened or retyped."""
    work = [list(row) for row in rows]
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        at = chance.randrange(len(work)) if chance.random() < 0.8 else 0
        other = chance.randrange(len(work))
        row = work[at]
        kind = chance.randrange(9)
        if kind <= 2 and row:
            row[chance.randrange(len(row))] = chance.choice(TEXTS)
        elif kind == 3 and len(work) > 1:
            del work[at]
        elif kind == 4:
            work.insert(other, list(row))
        elif kind == 5:
            work[at], work[other] = work[other], work[at]
        elif kind == 6 and row:
            del row[chance.randrange(len(row))]
        elif kind == 7:
            row.insert(chance.randrange(len(row) + 1), chance.choice(TEXTS))
        else:
            column = chance.randrange(max(len(row), 1))
            text = chance.choice(TEXTS)
            for each in work[at:]:
                if column < len(each):
                    each[column] = text if chance.random() < 0.9 else each[column]
    return work
