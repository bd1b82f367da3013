"""The bytes of a recording file → columns of numbers, or one line that says what is wrong and where."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import orjson

from fieldlog.errors import InputError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["Table", "read_bytes", "read_table"]

LARGEST_FILE_BYTES = 128 * 1024 * 1024
LONGEST_LINE_BYTES = 64 * 1024
MOST_COLUMNS = 500
_BLOCK_BYTES = 1024 * 1024
_NUMBER_BYTES = b"0123456789+-.eE \t\r\n"


@dataclass(frozen=True, eq=False)
class Table:
    """The wanted columns of a file, in the order asked for, then the optional ones that exist."""

    columns: tuple[Array, ...]
    names: tuple[str, ...]
    body: bytes
    start: int
    first_line: int

    def line_of(self, row: int) -> int:
        """Return the line of the file on which a row of the columns stands."""
        for number, raw in enumerate(self.body[self.start :].split(b"\n"), start=self.first_line):
            if _is_data(raw):
                if row == 0:
                    return number
                row -= 1
        raise IndexError(row)


@dataclass(frozen=True)
class _Layout:
    """Where the numbers are and how they are written."""

    name: str
    header: tuple[str, ...]
    separator: str
    decimal: str
    wanted: tuple[int, ...]


def read_bytes(path: Path) -> bytes:
    """Return what a recording file holds; at most 128 MB, so that a wrong file cannot fill the memory.

    Raises InputError for a file that is too large, empty, a folder, or one endless line.
    """
    try:
        with path.open("rb") as file:
            head = file.read(LONGEST_LINE_BYTES + 1)
            _refuse_wrong_kind(head, path.name)
            rest = file.read(LARGEST_FILE_BYTES + 1 - len(head))
            if len(head) + len(rest) > LARGEST_FILE_BYTES:
                _refuse_large(path.name)
    except OSError as error:
        raise InputError(
            f"{path}: {error.strerror or error}", "name a recording file that can be read"
        ) from None
    return head + rest


def read_table(
    data: bytes,
    name: str,
    wanted: Sequence[str],
    *,
    optional: Sequence[str] = (),
    separator: str | None = None,
    decimal: str | None = None,
    skip_lines: int = 0,
    hint: str = "",
) -> Table:
    """Read the ``wanted`` columns (and the ``optional`` ones that exist) of CSV text.

    Comma, semicolon or tab, decimal point or comma, UTF-8 with or without byte order mark, ``#`` comment
    lines; ``separator`` and ``decimal`` are found out where they are not given. ``hint`` is what to do
    where a column is missing. Raises InputError naming ``name`` and the line.
    """
    if len(data) > LARGEST_FILE_BYTES:
        _refuse_large(name)
    _refuse_wrong_kind(data[: LONGEST_LINE_BYTES + 1], name)
    body = data.removeprefix(b"\xef\xbb\xbf")
    if b"\n" not in body[: LONGEST_LINE_BYTES + 1]:
        body = body.replace(b"\r", b"\n")
    header_text, start, line = _header_line(body, name, skip_lines)
    layout = _layout(header_text, name, line, wanted, optional, separator, hint)
    layout = replace(layout, decimal=_decimal_sign(body, start, line + 1, layout, decimal))
    columns = _columns(body, start, line + 1, layout)
    return Table(columns, tuple(layout.header[i] for i in layout.wanted), body, start, line + 1)


def _refuse_large(name: str) -> NoReturn:
    raise InputError(
        f"{name}: larger than {LARGEST_FILE_BYTES // 1024 // 1024} MB, too large for one recording",
        "export one set a file",
    )


def _refuse_long_line(name: str, number: int) -> NoReturn:
    raise InputError(
        f"{name}, line {number}: longer than {LONGEST_LINE_BYTES // 1024} KB",
        "this is no table of samples; check the export",
    )


def _refuse_wrong_kind(head: bytes, name: str) -> None:
    if not head.strip():
        raise InputError(f"{name}: the file is empty", "export the recording again")
    if head.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in head:
        raise InputError(
            f"{name}: the file is not UTF-8 text (it holds zero bytes or is UTF-16)",
            "save it as CSV in UTF-8",
        )
    if len(head) > LONGEST_LINE_BYTES and b"\n" not in head and b"\r" not in head:
        _refuse_long_line(name, 1)


def _header_line(body: bytes, name: str, skip_lines: int) -> tuple[str, int, int]:
    """Text of the header line, where the next line starts, and the header's line number."""
    position, number = 0, 0
    while position < len(body):
        end = body.find(b"\n", position, position + LONGEST_LINE_BYTES + 1)
        if end < 0:
            if len(body) - position > LONGEST_LINE_BYTES:
                _refuse_long_line(name, number + 1)
            end = len(body)
        line = body[position:end]
        position, number = end + 1, number + 1
        if number > skip_lines and line.strip() and not line.lstrip().startswith(b"#"):
            return _decoded(line, name, number), position, number
    raise InputError(f"{name}: no line with column names was found", "check skip_lines and the export")


def _decoded(line: bytes, name: str, number: int) -> str:
    try:
        return line.decode()
    except UnicodeDecodeError:
        raise InputError(
            f"{name}, line {number}: the text is not UTF-8", "save the file as CSV in UTF-8"
        ) from None


def _layout(
    header_text: str,
    name: str,
    line: int,
    wanted: Sequence[str],
    optional: Sequence[str],
    separator: str | None,
    hint: str,
) -> _Layout:
    candidates = [separator] if separator else [";", "\t", ","]
    headers = {mark: tuple(cell.strip() for cell in _cells(header_text, mark)) for mark in candidates}
    mark = max(candidates, key=lambda mark: (len(set(wanted) & set(headers[mark])), len(headers[mark])))
    header = headers[mark]
    if len(header) > MOST_COLUMNS:
        raise InputError(
            f"{name}, line {line}: {len(header)} columns, more than {MOST_COLUMNS}", "export fewer columns"
        )
    for column in wanted:
        if column not in header:
            shown = ", ".join(cell[:30] or "(empty)" for cell in header[:12])
            raise InputError(f"{name}, line {line}: no column {column!r} among: {shown}", hint)
    found = (*wanted, *(column for column in optional if column in header))
    for column in found:
        if header.count(column) > 1:
            raise InputError(
                f"{name}, line {line}: column {column!r} stands there twice", "rename one of them"
            )
    return _Layout(name, header, mark, ".", tuple(header.index(column) for column in found))


def _cells(line: str, separator: str) -> list[str]:
    if '"' in line:
        return next(csv.reader([line], delimiter=separator), [])
    return line.split(separator)


def _decimal_sign(body: bytes, start: int, first_line: int, layout: _Layout, given: str | None) -> str:
    """Return the decimal sign: the one given, the only one in the file, or the first one in a wanted column."""
    if layout.separator == "," and body.find(b'"', start) < 0:
        if given == ",":
            raise InputError(
                f"{layout.name}: commas separate the columns, so they cannot be decimal signs too",
                "export with semicolons or tabs",
            )
        return "."
    if given is not None:
        return given
    if body.find(b",", start) < 0:
        return "."
    if body.find(b".", start) < 0:
        return ","
    # Both occur, perhaps one of them in a column nobody asked for.
    for number, raw in enumerate(body[start:].split(b"\n"), start=first_line):
        if _is_data(raw):
            cells = _row(raw, number, layout)
            for cell in (cells[index] for index in layout.wanted):
                if ("," in cell) != ("." in cell):
                    return "," if "," in cell else "."
    return "."


def _columns(body: bytes, start: int, first_line: int, layout: _Layout) -> tuple[Array, ...]:
    import numpy as np

    parts: list[Array] = []
    position, line = start, first_line
    while position < len(body):
        end = len(body)
        if position + _BLOCK_BYTES < end:
            end = body.rfind(b"\n", position, position + _BLOCK_BYTES) + 1
            if end <= position:
                _refuse_long_line(layout.name, line)
        block = body[position:end]
        part = _quick_block(block, layout)
        parts.append(_slow_block(block, line, layout) if part is None else part)
        line += block.count(b"\n")
        position = end
    if not parts:
        return tuple(np.empty(0) for _ in layout.wanted)
    return tuple(np.concatenate([part[index] for part in parts]) for index in range(len(layout.wanted)))


def _quick_block(block: bytes, layout: _Layout) -> Array | None:
    """Read a block of nothing but plain numbers at the speed of a JSON reader; None where it is anything else."""
    import numpy as np

    text = block.rstrip()
    separator, decimal = layout.separator.encode(), layout.decimal.encode()
    if text.translate(None, _NUMBER_BYTES.replace(b".", b"") + separator + decimal):
        return None
    codes = np.frombuffer(text, dtype=np.uint8)
    line_ends = np.append(np.flatnonzero(codes == ord("\n")), codes.size)
    marks = np.flatnonzero(codes == ord(separator))
    width = len(layout.header)
    if marks.size != line_ends.size * (width - 1):
        return None
    if (np.searchsorted(marks, line_ends) != np.arange(1, line_ends.size + 1) * (width - 1)).any():
        return None
    table = bytes.maketrans(b"\n" + separator + decimal, b",,.")
    try:
        numbers = orjson.loads(b"[" + text.translate(table) + b"]")
        values = np.array(numbers, dtype=np.float64).reshape(-1, width).T
    except (ValueError, OverflowError):
        # Numbers such as +1, .5 or 1. are fine, but not to a JSON reader.
        return None
    chosen = values[list(layout.wanted)]
    return chosen if np.isfinite(chosen).all() else None


def _slow_block(block: bytes, first_line: int, layout: _Layout) -> Array:
    """Read a block cell by cell, and name the first line and column that is no number."""
    import numpy as np

    rows: list[list[float]] = []
    for number, raw in enumerate(block.split(b"\n"), start=first_line):
        if _is_data(raw):
            cells = _row(raw, number, layout)
            rows.append(
                [_number(cells[index], layout, number, layout.header[index]) for index in layout.wanted]
            )
    return np.array(rows, dtype=np.float64).reshape(-1, len(layout.wanted)).T


def _is_data(raw: bytes) -> bool:
    text = raw.strip()
    return bool(text) and not text.startswith(b"#")


def _row(raw: bytes, number: int, layout: _Layout) -> list[str]:
    if len(raw) > LONGEST_LINE_BYTES:
        _refuse_long_line(layout.name, number)
    width = len(layout.header)
    cells = _cells(_decoded(raw, layout.name, number), layout.separator)
    while len(cells) > width and not cells[-1].strip():
        cells.pop()
    if len(cells) != width:
        hint = (
            "decimal commas need semicolons or tabs between the columns"
            if layout.separator == ","
            else "check the export"
        )
        raise InputError(f"{layout.name}, line {number}: {len(cells)} fields instead of {width}", hint)
    return cells


def _number(cell: str, layout: _Layout, line: int, column: str) -> float:
    text = cell.strip()
    where = f"{layout.name}, line {line}, {column}"
    if not text:
        raise InputError(f"{where}: empty", "give every sample a value, or cut the file there")
    if ("," in text) and ("." in text):
        raise InputError(
            f"{where}: {text[:40]!r} has both a comma and a point",
            "use one decimal sign and no thousands mark",
        )
    other = "," if layout.decimal == "." else "."
    if other in text:
        raise InputError(
            f"{where}: {text[:40]!r} has {other!r} as decimal sign, but this file uses {layout.decimal!r}",
            "use one decimal sign in the whole file",
        )
    try:
        if "_" in text or not text.isascii():
            raise ValueError(text)
        value = float(text.replace(",", "."))
    except ValueError:
        raise InputError(
            f"{where}: {text[:40]!r} is not a number", "correct the line or cut the file there"
        ) from None
    if not math.isfinite(value):
        raise InputError(
            f"{where}: {text[:40]!r} is not a finite number", "correct the line or cut the file there"
        )
    return value
