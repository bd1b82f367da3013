"""Rows of a CSV file → numbers: quickly where they are plain, cell by cell where they are not."""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NoReturn

import orjson

from fieldlog.errors import InputError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = [
    "LONGEST_LINE_BYTES",
    "Layout",
    "cells_of",
    "is_data",
    "read_rows",
    "refuse_long_line",
    "row_cells",
]

LONGEST_LINE_BYTES = 64 * 1024
_BLOCK_BYTES = 1024 * 1024
_NUMBER_BYTES = b"0123456789+-eE \t\r\n"


@dataclass(frozen=True)
class Layout:
    """Where the numbers of a file are and how they are written; ``wanted`` are positions in ``header``."""

    name: str
    header: tuple[str, ...]
    separator: str
    decimal: str
    wanted: tuple[int, ...]


def read_rows(body: bytes, start: int, first_line: int, layout: Layout) -> tuple[Array, ...]:
    """Return the wanted columns of the rows from byte ``start`` on, which is on line ``first_line``.

    Read in blocks, so that memory stays bounded. Raises InputError naming the first line and column that is wrong.
    """
    import numpy as np

    parts: list[Array] = []
    position, line = start, first_line
    while position < len(body):
        end = len(body)
        if position + _BLOCK_BYTES < end:
            end = body.rfind(b"\n", position, position + _BLOCK_BYTES) + 1
            if end <= position:
                refuse_long_line(layout.name, line)
        block = body[position:end]
        part = _quick_block(block, layout)
        parts.append(_slow_block(block, line, layout) if part is None else part)
        line += block.count(b"\n")
        position = end
    if not parts:
        return tuple(np.empty(0) for _ in layout.wanted)
    return tuple(np.concatenate([part[index] for part in parts]) for index in range(len(layout.wanted)))


def is_data(raw: bytes) -> bool:
    """Tell whether a line holds samples: neither blank nor a comment."""
    text = raw.strip()
    return bool(text) and not text.startswith(b"#")


def cells_of(line: str, separator: str, where: str) -> list[str]:
    """Split a line into its cells, quoted ones included; ``where`` names file and line.

    Raises InputError where quotes do not stand around whole cells: what is meant cannot be told.
    """
    if '"' not in line:
        return line.split(separator)
    try:
        return next(csv.reader([line], delimiter=separator, strict=True), [])
    except csv.Error:
        raise InputError(
            f"{where}: quotes do not stand around whole cells", "take them out, or quote the whole cell"
        ) from None


def row_cells(raw: bytes, number: int, layout: Layout) -> list[str]:
    """Return the cells of a line of samples, as many as the header has. Raises InputError."""
    if len(raw) > LONGEST_LINE_BYTES:
        refuse_long_line(layout.name, number)
    try:
        text = raw.decode()
    except UnicodeDecodeError:
        raise InputError(
            f"{layout.name}, line {number}: the text is not UTF-8", "save the file as CSV in UTF-8"
        ) from None
    cells = cells_of(text.rstrip("\r"), layout.separator, f"{layout.name}, line {number}")
    width = len(layout.header)
    while len(cells) > width and not cells[-1].strip():
        cells.pop()
    if len(cells) != width:
        comma = layout.separator == "," and len(cells) > width
        hint = "decimal commas need semicolons or tabs between the columns" if comma else "check the export"
        raise InputError(f"{layout.name}, line {number}: {len(cells)} fields instead of {width}", hint)
    return cells


def refuse_long_line(name: str, number: int) -> NoReturn:
    """Refuse a line that no table of samples has."""
    raise InputError(
        f"{name}, line {number}: longer than {LONGEST_LINE_BYTES // 1024} KB",
        "this is no table of samples; check the export",
    )


def _quick_block(block: bytes, layout: Layout) -> Array | None:
    """Read a block of nothing but plain numbers at the speed of a JSON reader; None where it is anything else."""
    import numpy as np

    text = block.rstrip()
    separator, decimal = layout.separator.encode(), layout.decimal.encode()
    if text.translate(None, _NUMBER_BYTES + separator + decimal):
        return None
    width = len(layout.header)
    codes = np.frombuffer(text, dtype=np.uint8)
    line_ends = np.append(np.flatnonzero(codes == ord("\n")), codes.size)
    marks = np.flatnonzero(codes == ord(separator))
    if marks.size != line_ends.size * (width - 1):
        return None
    # Each line must have its own full count, or a long line would hide a short one.
    if (np.searchsorted(marks, line_ends) != np.arange(1, line_ends.size + 1) * (width - 1)).any():
        return None
    cells = text.translate(bytes.maketrans(b"\n" + separator + decimal, b",,."))
    try:
        values = np.array(_numbers(cells), dtype=np.float64).reshape(-1, width).T
    except (ValueError, OverflowError):
        return None
    chosen = values[list(layout.wanted)]
    return chosen if np.isfinite(chosen).all() else None


def _numbers(cells: bytes) -> list[float]:
    try:
        numbers: list[float] = orjson.loads(b"[" + cells + b"]")
    except ValueError:
        # +1, .5 and 1. are numbers to everybody but a JSON reader.
        return [float(cell) for cell in cells.split(b",")]
    return numbers


def _slow_block(block: bytes, first_line: int, layout: Layout) -> Array:
    """Read a block cell by cell, and name the first line and column that is no number."""
    import numpy as np

    rows: list[list[float]] = []
    for number, raw in enumerate(block.split(b"\n"), start=first_line):
        if is_data(raw):
            cells = row_cells(raw, number, layout)
            rows.append(
                [_number(cells[at], layout, f"line {number}, {layout.header[at]}") for at in layout.wanted]
            )
    return np.array(rows, dtype=np.float64).reshape(-1, len(layout.wanted)).T


def _number(cell: str, layout: Layout, place: str) -> float:
    text = cell.strip()
    where = f"{layout.name}, {place}: {text[:40]!r}"
    if not text:
        raise InputError(f"{layout.name}, {place}: empty", "give every sample a value, or cut the file there")
    if "," in text and "." in text:
        raise InputError(
            f"{where} has both a comma and a point", "use one decimal sign and no thousands mark"
        )
    other = "," if layout.decimal == "." else "."
    if other in text:
        raise InputError(
            f"{where} has {other!r} as decimal sign, but this file uses {layout.decimal!r}",
            "use one decimal sign in the whole file",
        )
    value = _plain_float(text.replace(",", "."))
    if value is None:
        raise InputError(f"{where} is not a number", "correct the line or cut the file there")
    if not math.isfinite(value):
        raise InputError(f"{where} is not a finite number", "correct the line or cut the file there")
    return value


def _plain_float(text: str) -> float | None:
    # Python would also take 1_000 and digits of other scripts.
    if "_" in text or not text.isascii():
        return None
    try:
        return float(text)
    except ValueError:
        return None
