"""A squad list from a file: looked at row by row before anything is entered."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pydantic import ValidationError

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.athletes.athletes import add_athlete, athletes_with_code
from fieldlog.fieldwork.athletes.list_rows import read_text_rows
from fieldlog.fieldwork.athletes.person_entries import put_entry
from fieldlog.records.athlete import Athlete
from fieldlog.records.base import first_fault, new_id
from fieldlog.store.workspace import Workspace

__all__ = ["COLUMNS", "SquadList", "SquadRow", "enter_athlete", "enter_squad", "look_at_squad"]

COLUMNS = ("code", "squad", "sex", "minor", "position", "name")
"""The columns a list may have, in any order; only ``code`` is required."""

_SEX = {"f": "female", "female": "female", "w": "female", "m": "male", "male": "male"}
_YES_NO = {
    "yes": True,
    "y": True,
    "true": True,
    "1": True,
    "no": False,
    "n": False,
    "false": False,
    "0": False,
}


@dataclass(frozen=True)
class SquadRow:
    """One row as it would be entered: ``new``, ``known`` (the code is there already) or ``wrong``."""

    line: int
    word: Literal["new", "known", "wrong"]
    text: str
    athlete: Athlete | None = None
    name: str = ""


@dataclass(frozen=True)
class SquadList:
    """A list that was looked at; nothing is entered yet."""

    file: str
    rows: tuple[SquadRow, ...]
    unused_columns: tuple[str, ...]

    def count(self, word: str) -> int:
        """How many rows are of this word."""
        return sum(row.word == word for row in self.rows)


def look_at_squad(workspace: Workspace, path: Path, *, squad: str = "") -> SquadList:
    """Return what each row of a CSV or XLSX file would enter; ``squad`` is for rows that name none.

    Raises InputError where the file cannot be read or has no ``code`` column; a wrong row is only marked.
    """
    (_, head), *rows = read_text_rows(path)
    names = [" ".join(cell.casefold().split()) for cell in head]
    if "code" not in names:
        raise InputError(
            f"{path.name}: no column is called code",
            f"name the columns {', '.join(COLUMNS)}; only code is required",
        )
    if len(set(names) & set(COLUMNS)) != len([name for name in names if name in COLUMNS]):
        raise InputError(f"{path.name}: two columns have one name", "name each column once")
    seen: dict[str, int] = {}
    looked = [
        _look_at_row(workspace, line, dict(zip(names, cells, strict=False)), squad, seen)
        for line, cells in rows
    ]
    if not looked:
        raise InputError(f"{path.name}: there is no row below the header", "write one athlete a line")
    unused = tuple(name for name in names if name and name not in COLUMNS)
    return SquadList(path.name, tuple(looked), unused)


def enter_squad(workspace: Workspace, looked: SquadList, *, by: str, at: dt.datetime) -> list[Athlete]:
    """Enter the new athletes of a list; names go into persons files. Known codes are left as they are.

    Raises RefusedError, entering nothing, where a row is wrong.
    """
    wrong = [row for row in looked.rows if row.word == "wrong"]
    if wrong:
        raise RefusedError(
            f"{looked.file}, line {wrong[0].line}: {wrong[0].text}", "correct the list; nothing was entered"
        )
    entered = []
    for row in looked.rows:
        # Looked at again: a sync may have brought the code since.
        if row.word != "new" or row.athlete is None or athletes_with_code(workspace, row.athlete.code):
            continue
        fields = row.athlete.model_dump(include={"sex", "minor", "position"})
        identity = new_id()
        if row.name:
            # The name is durable first: the code of an athlete who is there is passed over another time.
            put_entry(workspace, "person", identity, by=by, at=at, name=row.name)
        kept = add_athlete(workspace, row.athlete.code, by=by, squad=row.athlete.squad, id=identity, **fields)
        entered.append(kept.record)
    return entered


def enter_athlete(workspace: Workspace, cells: dict[str, str], *, by: str, at: dt.datetime) -> Athlete:
    """Enter one athlete from the cells of a row, by the names of ``COLUMNS``.

    Raises InputError, entering nothing, where a cell is wrong or the code is used already.
    """
    row = _look_at_row(workspace, 1, {name: text.strip() for name, text in cells.items()}, "", {})
    if row.word != "new":
        raise InputError(row.text, "nothing was entered")
    return enter_squad(workspace, SquadList("", (row,), ()), by=by, at=at)[0]


def _look_at_row(
    workspace: Workspace, line: int, cells: dict[str, str], squad: str, seen: dict[str, int]
) -> SquadRow:
    code = cells.get("code", "")
    faults = list(_faults(cells))
    if code in seen:
        faults.append(f"code: {code} stands in line {seen[code]} already")
    if faults:
        return SquadRow(line, "wrong", faults[0])
    seen[code] = line
    try:
        athlete = Athlete.model_validate(
            {
                "id": "looked-at",
                "code": code,
                "squad": cells.get("squad") or squad,
                "sex": _SEX.get(cells.get("sex", "").casefold()),
                "minor": _YES_NO.get(cells.get("minor", "").casefold(), False),
                "position": cells.get("position", ""),
            }
        )
    except ValidationError as error:
        return SquadRow(line, "wrong", first_fault(error))
    if athletes_with_code(workspace, code):
        return SquadRow(line, "known", f"{code} is entered already and is left as it is", athlete)
    return SquadRow(line, "new", f"{code}, {athlete.squad or 'no squad'}", athlete, cells.get("name", ""))


def _faults(cells: dict[str, str]) -> Sequence[str]:
    faults = []
    if not cells.get("code"):
        faults.append("code: missing")
    elif not cells["code"].isprintable():
        faults.append("code: holds control characters")
    if cells.get("sex") and cells["sex"].casefold() not in _SEX:
        faults.append(f"sex: {cells['sex'][:20]!r} is neither female nor male; leave it empty if not known")
    if cells.get("minor") and cells["minor"].casefold() not in _YES_NO:
        faults.append(f"minor: {cells['minor'][:20]!r} is neither yes nor no")
    if len(cells.get("name", "")) > 200:
        faults.append("name: longer than 200 characters")
    return faults
