"""Damaged squad lists, text and workbook: every row shown with its own line, or one line that refuses the file."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections import Counter

import openpyxl
import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork.athletes.squad_list import look_at_squad
from fieldlog.store.workspace import Workspace
from tests.faults.failing_disk import HastyDisk
from tests.fuzz.cases import cases, say
from tests.fuzz.damage import PIECES, damaged_bytes, damaged_rows

ROWS = [
    ["code", "squad", "sex", "minor", "position", "name"],
    ["R01", "Skarvik", "f", "no", "bow", "Ann Example"],
    ["R02", "Skarvik", "male", "yes", "", "Bo Example"],
    ["R03", "", "", "", "cox", ""],
    ["7", "Lowfield", "w", "0", "stroke", "Cé Example"],
]


@pytest.fixture
def workspace(tmp_path):
    with Workspace.create(tmp_path / "workspace", disk=HastyDisk()) as made:
        yield made


def looked(workspace, file, where, tally):
    """Rows of the list, None where it was refused in one line."""
    refusal = found = None
    try:
        found = look_at_squad(workspace, file)
    except InputError as error:
        refusal = error
    tally["refused" if refusal else "shown"] += 1
    if refusal is not None:
        assert str(refusal).startswith(file.name), (where, str(refusal))
        assert str(refusal).isprintable(), where
        assert refusal.hint, where
        return None
    for row in found.rows:
        assert row.word in ("new", "wrong"), where
        assert (row.athlete is None) == (row.word == "wrong"), where
        assert row.text, where
    codes = [row.athlete.code for row in found.rows if row.athlete]
    assert len(codes) == len(set(codes)), where
    return found.rows


def test_a_damaged_text_list_shows_every_row_or_is_refused_in_one_line(workspace, tmp_path):
    file, tally = tmp_path / "squad.csv", Counter()
    for chance, where in cases("damaged squad list", 150):
        mark, end = chance.choice(",;\t"), chance.choice(("\n", "\r\n"))
        if chance.random() < 0.5:
            data = damaged_bytes(chance, written(ROWS, mark, end).encode())
        else:
            data = written(damaged_rows(chance, ROWS), mark, end).encode(
                chance.choice(("utf-8", "utf-8-sig"))
            )
        file.write_bytes(data)
        rows = looked(workspace, file, where, tally)
        if rows is None:
            continue
        # The same file by the plain reader of the standard library: as many rows, the codes in their order.
        text = data.decode("utf-8-sig")
        header = next(line for line in text.splitlines() if line.strip() and not line.startswith("#"))
        table = [
            [cell.strip() for cell in row]
            for row in csv.reader(io.StringIO(text, newline=""), delimiter=max(";\t,", key=header.count))
            if any(cell.strip() for cell in row) and not row[0].startswith("#")
        ]
        at = [" ".join(cell.casefold().split()) for cell in table[0]].index("code")
        told = [row[at] if at < len(row) else "" for row in table[1:]]
        assert len(rows) == len(told), where
        for row, code in zip(rows, told, strict=True):
            assert row.athlete is None or row.athlete.code == code, where
    assert tally["shown"]
    assert tally["refused"]
    say("damaged squad lists", tally)


def written(table, mark, end) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=mark, lineterminator=end).writerows(table)
    return out.getvalue()


def test_a_damaged_workbook_shows_its_rows_or_is_refused_in_one_line(workspace, tmp_path):
    book = openpyxl.Workbook()
    for row in ROWS:
        book.active.append(row)
    book.save(tmp_path / "plain.xlsx")
    plain = (tmp_path / "plain.xlsx").read_bytes()
    with zipfile.ZipFile(io.BytesIO(plain)) as parts:
        contents = {name: parts.read(name) for name in parts.namelist()}
    file, tally = tmp_path / "squad.xlsx", Counter()
    for chance, where in cases("damaged workbook", 60):
        if chance.random() < 0.3:
            file.write_bytes(damaged_bytes(chance, plain))
        else:
            file.write_bytes(zipped(damaged_parts(chance, contents)))
        rows = looked(workspace, file, where, tally)
        assert rows is None or len(rows) < 2000, where
    assert tally["shown"]
    assert tally["refused"]
    say("damaged workbooks", tally)


def damaged_parts(chance, contents):
    """The parts of the workbook with one dropped, renamed, swapped, or changed in its bytes or its tags."""
    parts = dict(contents)
    name = chance.choice(
        [n for n in parts if "sheet" in n.lower() or "shared" in n.lower() or "workbook" in n or "rels" in n]
    )
    kind = chance.randrange(6)
    if kind == 0:
        del parts[name]
    elif kind == 1:
        parts[chance.choice(("../../x.xml", "xl/workbook.xml", name.upper(), "/etc/x"))] = parts.pop(name)
    elif kind == 2:
        other = chance.choice(list(parts))
        parts[name], parts[other] = parts[other], parts[name]
    elif kind == 3:
        parts[name] = damaged_bytes(chance, parts[name])
    else:
        found = list(re.finditer(rb'"[^"]*"|>[^<]+<|<[^ >]+', parts[name]))
        at = chance.choice(found)
        old, piece = (
            at.group(),
            chance.choice((*PIECES, b"99999999", b"-1", b"A1048577", b"XFE1", b"e", b"inlineStr", b"1e9")),
        )
        piece = piece.replace(b"<", b"").replace(b"\0", b"")
        new = old[:1] + piece + (old[-1:] if old[:1] in b'">' else b"")
        parts[name] = parts[name][: at.start()] + new + parts[name][at.end() :]
    return parts


def zipped(parts) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as book:
        for name, data in parts.items():
            book.writestr(name, data)
    return out.getvalue()
