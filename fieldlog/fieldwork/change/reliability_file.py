"""Reading a table of repeated tests: one row an athlete, one column a visit."""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from fieldlog.errors import InputError
from fieldlog.fieldwork.entry import separator_of

__all__ = ["MAX_TABLE_BYTES", "ScoreTable", "read_score_table"]

MAX_TABLE_BYTES = 20_000_000
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_UNIT = re.compile(r"(?<![a-z])(nm|n·m|lbf?[ ._-]?ft|ft[ ._-]?lbf?|kgf?[ ._-]?m|%|j|w)(?![a-z])", re.ASCII)
_LARGEST = 1e9
_CORNERS = ("", "athlete", "code", "id", "name", "participant", "person", "subject")


@dataclass(frozen=True)
class ScoreTable:
    """Scores of athletes × visits as read; None where a test is missing."""

    athletes: tuple[str, ...]
    visits: tuple[str, ...]
    scores: tuple[tuple[float | None, ...], ...]

    def complete(self) -> ScoreTable:
        """The athletes who have every visit."""
        kept = [i for i, row in enumerate(self.scores) if None not in row]
        return ScoreTable(
            tuple(self.athletes[i] for i in kept), self.visits, tuple(self.scores[i] for i in kept)
        )


def read_score_table(path: Path) -> ScoreTable:
    """Return the table in a CSV file (comma, semicolon or tab; decimal point or comma; BOM allowed).

    The first line names the visits, the first column the athletes; an empty cell is a missing test.
    Raises InputError naming the line and column for anything else.
    """
    name = str(path)
    with path.open("rb") as stream:
        content = stream.read(MAX_TABLE_BYTES + 1)
    if len(content) > MAX_TABLE_BYTES:
        raise InputError(f"{name}: larger than a table of tests ever is", "name one CSV table")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise InputError(f"{name}: line {line} is no UTF-8 text", "save the table as UTF-8 CSV") from None
    rows = _rows(text, name)
    if not rows:
        raise InputError(f"{name}: the file is empty", "give one row an athlete, one column a visit")
    visits = _visits(rows[0][1], name)
    if len(rows) == 1:
        raise InputError(f"{name}: no athlete after the first line", "give one row an athlete")
    athletes: dict[str, int] = {}
    scores: list[tuple[float | None, ...]] = []
    for line, cells in rows[1:]:
        athlete = cells[0].strip()
        if not athlete:
            raise InputError(f"{name}: line {line}: no athlete code in the first column", "add the code")
        if athlete in athletes:
            raise InputError(
                f"{name}: line {line}: athlete {athlete} stands twice, first in line {athletes[athlete]}",
                "keep one row, or tell the two apart",
            )
        values = [cell.strip() for cell in cells[1:]]
        if len(values) > len(visits) and any(values[len(visits) :]):
            raise InputError(
                f"{name}: line {line}: {len(values)} values for {len(visits)} visits",
                "give one column a visit; a decimal comma needs semicolons or tabs between columns",
            )
        values = (values + [""] * len(visits))[: len(visits)]
        athletes[athlete] = line
        scores.append(
            tuple(
                _score(cell, f"{name}: line {line}, {visit}")
                for cell, visit in zip(values, visits, strict=True)
            )
        )
    return ScoreTable(tuple(athletes), visits, tuple(scores))


def _rows(text: str, name: str) -> list[tuple[int, list[str]]]:
    first = next((line for line in text.splitlines() if line.strip()), "")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator_of(first), strict=True)
    try:
        return [(reader.line_num, cells) for cells in reader if any(cell.strip() for cell in cells)]
    except csv.Error as error:
        raise InputError(f"{name}: line {reader.line_num}: {error}", "save the table as plain CSV") from None


def _visits(header: list[str], name: str) -> tuple[str, ...]:
    while header and not header[-1].strip():
        header = header[:-1]
    visits = tuple(cell.strip() or f"column {i}" for i, cell in enumerate(header[1:], start=2))
    if len(visits) < 2:
        raise InputError(
            f"{name}: line 1 names {'one visit' if visits else 'no visit'}; reliability needs at least two",
            "give the athlete's code first, then one column a visit, separated by comma, semicolon or tab",
        )
    if all(_NUMBER.fullmatch(visit) for visit in visits) and not _names_by_number(header[0], visits):
        raise InputError(
            f"{name}: line 1 holds scores where the visits should be named",
            "add a first line such as athlete,visit 1,visit 2",
        )
    units = {match[0].replace(" ", "") for visit in visits if (match := _UNIT.search(visit.lower()))}
    if len(units) > 1:
        raise InputError(
            f"{name}: line 1 mixes units ({', '.join(sorted(units))})", "bring all visits to one unit first"
        )
    return visits


def _names_by_number(corner: str, visits: tuple[str, ...]) -> bool:
    """Tell a first line of visit numbers or years from one of scores, which would be lost as a heading."""
    numbers = [int(visit) if visit.isdecimal() else -1 for visit in visits]
    in_order = all(b == a + 1 for a, b in pairwise(numbers))
    return (
        in_order and (numbers[0] in (0, 1) or 1900 < numbers[0] < 2200)
    ) or corner.strip().lower() in _CORNERS


def _score(cell: str, place: str) -> float | None:
    if not cell:
        return None
    if not _NUMBER.fullmatch(cell):
        raise InputError(
            f"{place}: {cell[:40]!r} is no number", "write a plain number, or leave a missing test empty"
        )
    value = float(cell.replace(",", "."))
    if not (math.isfinite(value) and abs(value) <= _LARGEST):
        raise InputError(f"{place}: {cell[:40]} is beyond any test", "correct the entry")
    return value
