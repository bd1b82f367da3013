"""Rows of text from a CSV file or the first sheet of an XLSX workbook, bounded against giant and crafted files.

The workbook is read by hand (ECMA-376: a zip of XML parts), since only plain cells of a squad list are wanted.
"""

from __future__ import annotations

import csv
import io
import lzma
import re
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import IO
from xml.etree import ElementTree as ET

from fieldlog.errors import InputError
from fieldlog.fieldwork.entry import separator_of

__all__ = ["MOST_ROWS", "read_text_rows"]

MOST_ROWS = 2000
MOST_COLUMNS = 60
LARGEST_FILE_BYTES = 4 << 20
LARGEST_PART_BYTES = 16 << 20
_SHEET = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
# Whatever zip, its compressions and XML say of a broken workbook; RuntimeError is an encrypted one.
_UNREADABLE = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    ET.ParseError,
    EOFError,
    LookupError,
    OSError,
    RuntimeError,
    ValueError,
)
_PACKAGE = "{http://schemas.openxmlformats.org/package/2006/relationships}"


def read_text_rows(path: Path) -> list[tuple[int, list[str]]]:
    """Return (line number, cells) of every row that is not blank.

    Raises InputError naming the file, and the line where one is wrong.
    """
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        raise InputError(f"{path.name}: {error.strerror or error}", "name a CSV or XLSX file") from None
    if len(data) > LARGEST_FILE_BYTES:
        raise InputError(
            f"{path.name}: larger than {LARGEST_FILE_BYTES >> 20} MB, no squad list is", "split it"
        )
    rows = _xlsx_rows(data, path.name) if data.startswith(b"PK") else _csv_rows(data, path.name)
    kept: list[tuple[int, list[str]]] = []
    for number, cells in rows:
        if len(kept) >= MOST_ROWS:
            raise InputError(f"{path.name}: more than {MOST_ROWS} rows", "split the list")
        if len(cells) > MOST_COLUMNS:
            raise InputError(
                f"{path.name}, line {number}: more than {MOST_COLUMNS} columns", "check the file"
            )
        stripped = [cell.strip() for cell in cells]
        if any(stripped):
            kept.append((number, stripped))
    if not kept:
        raise InputError(f"{path.name}: the file is empty", "it needs a header line and one athlete a line")
    return kept


def _csv_rows(data: bytes, name: str) -> Iterator[tuple[int, list[str]]]:
    if b"\0" in data:
        raise InputError(f"{name}: not a text file", "save the list as CSV (UTF-8) or XLSX")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(f"{name}, line {line}: not UTF-8", "save the list as CSV (UTF-8) or XLSX") from None
    header = next((line for line in text.splitlines() if line.strip() and not line.startswith("#")), "")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator_of(header), strict=True)
    try:
        for cells in reader:
            if not (cells and cells[0].startswith("#")):
                yield reader.line_num, cells
    except csv.Error as error:
        raise InputError(f"{name}, line {reader.line_num}: {error}", "check the quotation marks") from None


def _xlsx_rows(data: bytes, name: str) -> Iterator[tuple[int, list[str]]]:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            shared = _shared_texts(book)
            yield from _sheet_rows(book, _first_sheet(book), shared)
    except _UNREADABLE as error:
        hint = "save it anew as XLSX, or as CSV (UTF-8)"
        raise InputError(f"{name}: not a workbook that can be read ({error})", hint) from None


def _part(book: zipfile.ZipFile, part: str) -> IO[bytes]:
    info = book.getinfo(part)
    if info.file_size > LARGEST_PART_BYTES:
        raise ValueError(f"{part} is larger than {LARGEST_PART_BYTES >> 20} MB")
    data = book.open(info).read(LARGEST_PART_BYTES + 1)
    if len(data) > LARGEST_PART_BYTES:
        raise ValueError(f"{part} is larger than it says")
    # No part of a workbook declares entities; a crafted one might, to swell when it is read.
    if b"<!DOCTYPE" in data or b"<!ENTITY" in data:
        raise ValueError(f"{part} declares entities")
    return io.BytesIO(data)


def _first_sheet(book: zipfile.ZipFile) -> str:
    root = ET.parse(_part(book, "xl/workbook.xml")).getroot()  # noqa: S314 (entities are refused in _part)
    sheet = root.find(f"{_SHEET}sheets/{_SHEET}sheet")
    if sheet is None:
        raise ValueError("it has no sheet")
    relations = ET.parse(_part(book, "xl/_rels/workbook.xml.rels")).getroot()  # noqa: S314 (as above)
    for relation in relations.iter(f"{_PACKAGE}Relationship"):
        if relation.get("Id") == sheet.get(_RELATION):
            target = relation.get("Target", "")
            return target.lstrip("/") if target.startswith("/") else f"xl/{target}"
    raise ValueError("its first sheet is missing")


def _shared_texts(book: zipfile.ZipFile) -> list[str]:
    if "xl/sharedStrings.xml" not in book.namelist():
        return []
    root = ET.parse(_part(book, "xl/sharedStrings.xml")).getroot()  # noqa: S314 (as above)
    return [_text_of(item) for item in root.iter(f"{_SHEET}si")]


def _sheet_rows(book: zipfile.ZipFile, part: str, shared: list[str]) -> Iterator[tuple[int, list[str]]]:
    number = 0
    for _, row in ET.iterparse(_part(book, part)):  # noqa: S314 (as above)
        if row.tag != f"{_SHEET}row":
            continue
        number = int(row.get("r", number + 1))
        cells: list[str] = []
        for cell in row.iter(f"{_SHEET}c"):
            place = _column(cell.get("r", ""), len(cells))
            if place > MOST_COLUMNS:
                raise ValueError(f"line {number} has more than {MOST_COLUMNS} columns")
            if place < len(cells):
                raise ValueError(f"the cells of line {number} are out of order")
            cells += [""] * (place - len(cells))
            cells.append(_cell_text(cell, shared))
        yield number, cells
        row.clear()


def _column(reference: str, following: int) -> int:
    letters = re.match(r"[A-Z]{1,3}", reference)
    if letters is None:
        return following
    place = 0
    for letter in letters[0]:
        place = 26 * place + ord(letter) - ord("A") + 1
    return place - 1


def _cell_text(cell: ET.Element, shared: list[str]) -> str:
    kind, value = cell.get("t", "n"), cell.findtext(f"{_SHEET}v", "")
    if kind == "s":
        place = int(value)
        if not 0 <= place < len(shared):
            raise ValueError(f"a text that is not there: {place}")
        return shared[place]
    if kind == "inlineStr":
        return "".join(_text_of(part) for part in cell.iter(f"{_SHEET}is"))
    if kind == "b":
        return "yes" if value == "1" else "no"
    if kind == "n" and re.fullmatch(r"-?\d+\.0+", value):
        # A code typed as a number is kept as typed.
        return value.partition(".")[0]
    return value


def _text_of(item: ET.Element) -> str:
    """The text of an item, its runs joined, readings of characters (phonetic runs) left out."""
    plain = item.find(f"{_SHEET}t")
    runs = [run.findtext(f"{_SHEET}t", "") for run in item.findall(f"{_SHEET}r")]
    return (plain.text or "" if plain is not None else "") + "".join(runs)
