"""The bytes of a recording file → columns of numbers, or one line that says what is wrong and where."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from fieldlog.errors import InputError
from fieldlog.fieldwork.entry import separator_of
from fieldlog.fieldwork.recording.number_rows import (
    LONGEST_LINE_BYTES,
    Layout,
    cells_of,
    is_data,
    read_rows,
    refuse_long_line,
    row_cells,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["LARGEST_FILE_BYTES", "Request", "Table", "read_bytes", "read_table"]

LARGEST_FILE_BYTES = 128 * 1024 * 1024
MOST_COLUMNS = 500
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@dataclass(frozen=True)
class Request:
    """What is wanted of a file; ``hint`` is what to do where a column is missing.

    ``optional`` columns may be missing; ``separator`` and ``decimal`` are found out where they are None.
    """

    name: str
    wanted: tuple[str, ...]
    optional: tuple[str, ...] = ()
    separator: str | None = None
    decimal: str | None = None
    skip_lines: int = 0
    hint: str = ""


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
            if is_data(raw):
                if row == 0:
                    return number
                row -= 1
        raise IndexError(row)


def read_bytes(path: Path) -> bytes:
    """Return what a recording file holds; at most 128 MB, so that a wrong file cannot fill the memory.

    Raises InputError for a file that is too large, empty, a folder, or one endless line.
    """
    try:
        with path.open("rb") as file:
            head = file.read(LONGEST_LINE_BYTES + 1)
            _refuse_wrong_kind(head, path.name)
            if os.fstat(file.fileno()).st_size > LARGEST_FILE_BYTES:
                _refuse_large(path.name)
            # A pipe has no size to ask for.
            rest = file.read(LARGEST_FILE_BYTES + 1 - len(head))
    except OSError as error:
        raise InputError(
            f"{path}: {error.strerror or error}", "name a recording file that can be read"
        ) from None
    if len(head) + len(rest) > LARGEST_FILE_BYTES:
        _refuse_large(path.name)
    return head + rest


def read_table(data: bytes, request: Request) -> Table:
    """Read the wanted columns of CSV text.

    Comma, semicolon or tab, decimal point or comma, UTF-8 with or without byte order mark, ``#`` comment
    lines. Raises InputError naming the file and the line.
    """
    if len(data) > LARGEST_FILE_BYTES:
        _refuse_large(request.name)
    _refuse_wrong_kind(data[: LONGEST_LINE_BYTES + 1], request.name)
    body = data.removeprefix(_BYTE_ORDER_MARK)
    if b"\n" not in body[: LONGEST_LINE_BYTES + 1]:
        body = body.replace(b"\r", b"\n")
    header_text, start, line = _header_line(body, request)
    layout = _layout(header_text, line, request)
    layout = replace(layout, decimal=_decimal_sign(body, start, line + 1, layout, request.decimal))
    columns = read_rows(body, start, line + 1, layout)
    return Table(columns, tuple(layout.header[at] for at in layout.wanted), body, start, line + 1)


def _refuse_large(name: str) -> NoReturn:
    raise InputError(
        f"{name}: larger than {LARGEST_FILE_BYTES // 1024 // 1024} MB, too large for one recording",
        "export one set a file",
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
        refuse_long_line(name, 1)


def _header_line(body: bytes, request: Request) -> tuple[str, int, int]:
    """Text of the header line, where the next line starts, and the header's line number."""
    position, number = 0, 0
    while position < len(body):
        end = body.find(b"\n", position, position + LONGEST_LINE_BYTES + 1)
        if end < 0:
            if len(body) - position > LONGEST_LINE_BYTES:
                refuse_long_line(request.name, number + 1)
            end = len(body)
        line = body[position:end]
        position, number = end + 1, number + 1
        if number > request.skip_lines and is_data(line):
            try:
                return line.decode(), min(position, len(body)), number
            except UnicodeDecodeError:
                raise InputError(
                    f"{request.name}, line {number}: the text is not UTF-8", "save the file as CSV in UTF-8"
                ) from None
    raise InputError(
        f"{request.name}: no line with column names was found", "check skip_lines and the export"
    )


def _layout(header_text: str, line: int, request: Request) -> Layout:
    where = f"{request.name}, line {line}"
    separator = request.separator or separator_of(header_text, request.wanted)
    header = tuple(cell.strip() for cell in cells_of(header_text, separator, where))
    if len(header) > MOST_COLUMNS:
        raise InputError(f"{where}: {len(header)} columns, more than {MOST_COLUMNS}", "export fewer columns")
    for column in request.wanted:
        if column not in header:
            shown = ", ".join(cell[:30] or "(empty)" for cell in header[:12])
            raise InputError(f"{where}: no column {column!r} among: {shown}", request.hint)
    found = (*request.wanted, *(column for column in request.optional if column in header))
    for column in found:
        if header.count(column) > 1:
            raise InputError(f"{where}: column {column!r} stands there twice", "rename one of them")
    return Layout(request.name, header, separator, ".", tuple(header.index(column) for column in found))


def _decimal_sign(body: bytes, start: int, first_line: int, layout: Layout, given: str | None) -> str:
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
    # Both occur, perhaps one of them only in a column nobody asked for.
    for number, raw in enumerate(body[start:].split(b"\n"), start=first_line):
        if is_data(raw):
            cells = row_cells(raw, number, layout)
            for cell in (cells[at] for at in layout.wanted):
                if ("," in cell) != ("." in cell):
                    return "," if "," in cell else "."
    return "."
