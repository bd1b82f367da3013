"""Damaged tables of repeated tests are counted whole or refused in one line; changed ones change as they must."""

from __future__ import annotations

import csv
import io
import math
from collections import Counter

import numpy as np
import pytest

from tests.fuzz.cases import answer, cases, run, say
from tests.fuzz.damage import damaged_bytes, damaged_rows

# Weir 2005, data set A (the table is also checked in tests/published).
TABLE = [
    ["code", "one", "two"], ["A", "146", "140"], ["B", "148", "152"], ["C", "170", "152"], ["D", "90", "99"],
    ["E", "157", "145"], ["F", "156", "153"], ["G", "176", "167"], ["H", "205", "218"],
]  # fmt: skip


def text_of(table, mark=",", end="\n") -> str:
    return end.join(mark.join(row) for row in table) + end


def test_a_damaged_table_is_counted_whole_or_refused_in_one_line(tmp_path):
    file, tally = tmp_path / "scores.csv", Counter()
    for chance, where in cases("damaged table", 100):
        if chance.random() < 0.5:
            data = damaged_bytes(chance, text_of(TABLE).encode())
        else:
            mark, end = chance.choice(",;\t"), chance.choice(("\n", "\r\n"))
            data = text_of(damaged_rows(chance, TABLE), mark, end).encode(
                chance.choice(("utf-8", "utf-8-sig"))
            )
        file.write_bytes(data)
        body = answer(run("reliability", file, "--json"), where, "scores.csv", allowed={0, 2})
        tally["refused" if body is None else "counted"] += 1
        if body is not None:
            assert_whole(body, data.decode("utf-8-sig"), where)
    assert tally["counted"]
    assert tally["refused"]
    say("damaged tables", tally)


def assert_whole(body, text, where):
    """Athletes, visits and the change from the first to the last visit are those of a plain reading of the file."""
    first = next(line for line in text.splitlines() if line.strip())
    mark = max(";\t,", key=first.count)
    rows = [
        row
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=mark)
        if any(c.strip() for c in row)
    ]
    while not rows[0][-1].strip():
        rows[0].pop()
    visits = len(rows[0]) - 1
    scores = [[cell.strip().replace(",", ".") for cell in row[1 : 1 + visits]] for row in rows[1:]]
    complete = np.array([[float(c) for c in row] for row in scores if len(row) == visits and all(row)])
    assert (body["visits"], body["n"]) == (visits, len(complete)), where
    changes = complete[:, -1] - complete[:, 0]
    assert body["mean_change"] == pytest.approx(changes.mean(), rel=1e-9, abs=1e-6), where
    if visits == 2:
        assert body["typical_error"] == pytest.approx(
            changes.std(ddof=1) / math.sqrt(2), rel=1e-9, abs=1e-3
        ), where


def test_a_changed_table_changes_the_figures_as_it_must(tmp_path):
    file, tally = tmp_path / "scores.csv", Counter()
    file.write_text(text_of(TABLE))
    usual = answer(run("reliability", file, "--json"), "as it is")
    for chance, where in cases("changed table", 60):
        kind = chance.choice(("order", "scale", "shift", "style", "missing", "garbage"))
        tally[kind] += 1
        head, *rows = [list(row) for row in TABLE]
        factor, shift, mark, end, expected = 1.0, 0.0, ",", "\n", ""
        if kind == "order":
            chance.shuffle(rows)
        elif kind == "scale":
            factor = chance.choice((0.5, 2.0, chance.uniform(0.1, 50)))
        elif kind == "shift":
            shift = chance.uniform(-50, 500)
        elif kind == "style":
            mark, end = chance.choice(";\t"), chance.choice(("\n", "\r\n", "\n\n"))
            rows = [[code, *(cell + ",0" for cell in cells)] for code, *cells in rows]
        elif kind == "missing":
            rows.insert(
                chance.randrange(9), ["Z", *chance.choice((["", "150"], ["150", ""], ["", ""], ["150"]))]
            )
        else:
            at, column = chance.randrange(8), chance.choice((1, 2))
            rows[at][column] = chance.choice(("x", "nan", "inf", "1e99", "1.2.3", "0x10", "1 5", "−5"))
            expected = f"line {at + 2}"
        if factor != 1.0 or shift:
            rows = [[code, *(repr(float(cell) * factor + shift) for cell in cells)] for code, *cells in rows]
        file.write_text(text_of([head, *rows], mark, end), newline="")
        outcome = run("reliability", file, "--json")
        if expected:
            assert answer(outcome, where, expected) is None, where
            continue
        body = answer(outcome, where)
        for form, found in usual["icc"].items():
            assert body["icc"][form] == pytest.approx(found, rel=1e-6), where
        for key in ("typical_error", "mdc90", "mdc95", "swc", "mean_change"):
            assert body[key] == pytest.approx(usual[key] * factor, rel=1e-6), (where, key)
        if not shift:
            assert body["typical_error_cv_pct"] == pytest.approx(usual["typical_error_cv_pct"], rel=1e-6), (
                where
            )
    say("changed tables", tally)
