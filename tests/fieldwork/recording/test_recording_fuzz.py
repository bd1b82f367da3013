"""Damaged recordings are measured whole or refused in one line; changed ones change as they must."""

from __future__ import annotations

import csv
import json
import math
import re
from collections import Counter
from functools import cache

import pytest

from tests.fuzz.cases import answer, cases, run, say
from tests.fuzz.damage import TEXTS, damaged_bytes, damaged_rows
from tests.simulation.acquisition import Acquisition
from tests.simulation.lever import to_and_fro
from tests.simulation.muscle import HalfSine
from tests.simulation.recording import Effort, Scene
from tests.simulation.writers import PER_UNIT, own_columns

NAMES = ("time_s", "angle_deg", "velocity_deg_s", "torque_nm")
FIGURES = ("best_peak_torque_nm", "mean_peak_torque_nm", "total_work_j")
SCALED = {"peak_torque_nm", "work_j", "load_range_work_j", "mean_power_w", "peak_power_w", "impulse_nms",
          "best_peak_torque_nm", "mean_peak_torque_nm", "total_work_j"}  # fmt: skip
TIMES = {"start_s", "end_s"}


@cache
def rows() -> tuple[tuple[str, ...], ...]:
    """A small recording as rows of cells: two repetitions each way at 120°/s and 100 Hz."""
    efforts = {1: Effort(HalfSine(110, 0, 100), 1, 0.1, 0.1), -1: Effort(HalfSine(180, 0, 100), -1, 0.1, 0.1)}
    scene = Scene(to_and_fro(10, 90, 120, repetitions=2, dwell_s=0.2, lead_s=0.3), efforts)
    text = own_columns(Acquisition(rate_hz=100).sample(scene), decimals=(2, 2, 2, 2))
    return tuple(tuple(line.split(",")) for line in text.splitlines())


def text_of(table, separator=",", end="\n") -> str:
    return end.join(separator.join(row) for row in table) + end


def test_a_damaged_recording_is_measured_whole_or_refused_in_one_line(tmp_path):
    plain = text_of(rows()).encode()
    file, tally = tmp_path / "set.csv", Counter()
    for chance, where in cases("damaged recording", 50):
        if chance.random() < 0.5:
            data = damaged_bytes(chance, plain)
        else:
            coding = chance.choice(("utf-8", "utf-8", "utf-8-sig", "utf-16"))
            mark, end = chance.choice(",;\t"), chance.choice(("\n", "\r\n", "\r"))
            data = text_of(damaged_rows(chance, [list(row) for row in rows()]), mark, end).encode(
                coding, "replace"
            )
        file.write_bytes(data)
        body = answer(run("trace", file, "--json"), where, "set.csv", allowed={0, 2})
        tally["refused" if body is None else "measured"] += 1
        if body is not None:
            assert_whole(body, data, where)
    assert tally["measured"]
    assert tally["refused"]
    say("damaged recordings", tally)


def assert_whole(body, data, where):
    """Every row was taken, first and last time are the file's, and no torque is larger than its column allows."""
    text = data.decode("utf-8-sig")
    lines = re.split("\r\n|\n" if "\n" in text else "\r", text)
    table = [line for line in lines if line.strip() and not line.strip().startswith("#")]
    assert body["samples"] == len(table) - 1, where
    mark = max(",;\t", key=lambda mark: len(set(NAMES) & {cell.strip() for cell in cells_in(table[0], mark)}))
    head = [cell.strip() for cell in cells_in(table[0], mark)]
    column = {
        name: [number(cells_in(line, mark)[head.index(name)]) for line in table[1:]]
        for name in ("time_s", "torque_nm")
    }
    assert body["duration_s"] == pytest.approx(column["time_s"][-1] - column["time_s"][0], rel=1e-9), where
    largest = max(abs(torque) for torque in column["torque_nm"])
    for movement in body["movements"]:
        # The low-pass may overshoot a step by a fifth.
        peak = movement["peak_torque_nm"]
        assert peak is None or abs(peak) <= 1.25 * largest + 1e-6, (where, peak, largest)


def cells_in(line: str, mark: str) -> list[str]:
    return next(csv.reader([line.replace("\r", " ")], delimiter=mark))


def number(cell: str) -> float:
    return float(cell.strip().replace(",", "."))


def test_a_changed_recording_changes_the_measures_as_it_must(tmp_path):
    file, map_file, tally = tmp_path / "set.csv", tmp_path / "map.json", Counter()
    file.write_text(text_of(rows()))
    usual = answer(run("trace", file, "--json"), "as it is")
    for chance, where in cases("changed recording", 30):
        change = chance.choice((rescaled, shifted, rewritten, restyled, spoiled))
        tally[change.__name__] += 1
        data, column_map, expected = change(chance)
        file.write_bytes(data)
        options = []
        if column_map:
            map_file.write_text(json.dumps(column_map), encoding="utf-8")
            options = ["--columns", map_file]
        outcome = run("trace", file, "--json", *options)
        if isinstance(expected, str):
            assert answer(outcome, where, "set.csv") is None, where
            assert expected in outcome[2], (where, outcome[2], expected)
        else:
            factor, shift_s = expected
            found = answer(outcome, where)
            assert found is not None, (where, outcome)
            compare(found, usual, factor, shift_s, where)
    say("changed recordings", tally)


def cells(change):
    """The rows with each number of the columns (time, angle, velocity, torque) changed by a function."""
    head, *body = rows()
    return [
        list(head),
        *([repr(change(name, float(c))) for name, c in zip(NAMES, row, strict=True)] for row in body),
    ]


def rescaled(chance):
    factor = chance.choice((0.1, 0.5, 2.0, chance.uniform(0.2, 3.0)))
    table = cells(lambda name, value: value * factor if name == "torque_nm" else value)
    return text_of(table).encode(), None, (factor, 0.0)


def shifted(chance):
    shift_s = chance.choice((-100.0, 3600.0, 86_400.0, chance.uniform(-1e4, 1e4)))
    table = cells(lambda name, value: value + shift_s if name == "time_s" else value)
    return text_of(table).encode(), None, (1.0, shift_s)


def rewritten(chance):
    """Other names, units, signs, separators, order, columns nobody asked for: with the map, the same recording."""
    units = {
        "time": chance.choice(("s", "ms")), "angle": chance.choice(("deg", "rad")),
        "velocity": chance.choice(("deg/s", "rad/s")), "torque": chance.choice(("nm", "lbf_ft", "lbf_in", "kgf_m")),
    }  # fmt: skip
    signs = {
        "angle": chance.choice((1, -1)),
        "velocity": chance.choice((1, -1)),
        "torque": chance.choice((1, -1)),
    }
    offset = chance.choice((0.0, 90.0, -12.5))
    order = chance.sample(list(units), 4)
    junk = chance.choice(("", "Bemerkung, frei", "x"))

    def cell(kind, value):
        moved = value - offset if kind == "angle" else value
        return repr(float(signs.get(kind, 1) * moved * PER_UNIT[units[kind]]))

    mark, decimal = chance.choice(((";", ","), (";", "."), ("\t", ","), (",", ".")))
    lines = ["Kopf"] * (skip := chance.choice((0, 0, 1, 5)))
    kinds = ("time", "angle", "velocity", "torque")
    head = [f"Größe {kind}" for kind in order] + ([f'"{junk}"'] if junk else [])
    lines.append(mark.join(head))
    for row in rows()[1:]:
        values = {kind: cell(kind, float(c)) for kind, c in zip(kinds, row, strict=True)}
        written = [values[kind].replace(".", decimal) for kind in order] + (
            [chance.choice(("ok", "-"))] if junk else []
        )
        lines.append(mark.join(written))
    column_map = {kind: {"column": f"Größe {kind}", "unit": units[kind]} for kind in kinds}
    for kind, sign in signs.items():
        column_map[kind]["sign"] = sign
    column_map["angle"]["offset_deg"] = offset
    column_map["skip_lines"] = skip
    if chance.random() < 0.5:
        column_map |= {"decimal": decimal, "separator": mark}
    data = "\n".join(lines).encode(chance.choice(("utf-8", "utf-8-sig")))
    return data, column_map, (1.0, 0.0)


def restyled(chance):
    """Separators, decimal signs, quotes, blanks, comments, line ends and empty lines say nothing."""
    mark, decimal = chance.choice(((";", ","), (";", "."), ("\t", ","), ("\t", "."), (",", ".")))
    order = chance.sample(range(4), 4)
    quote = chance.choice(("", "", '"'))
    blank = chance.choice(("", "", " "))
    trailing = chance.choice(("", "", mark))
    lines = []
    for number, row in enumerate(rows()):
        written = [row[i] if number == 0 else row[i].replace(".", decimal) for i in order]
        lines.append(mark.join(f"{blank}{quote}{cell}{quote}" for cell in written) + trailing)
        if chance.random() < 0.02:
            lines.append(chance.choice(("", "# a remark; with, all\tmarks 1,5", "  ")))
    if quote and blank:
        lines = [line.replace(" ", "") for line in lines]
    if chance.random() < 0.3:
        lines.insert(0, "# made by a rig")
    end = chance.choice(("\n", "\r\n", "\r"))
    text = end.join(lines) + chance.choice(("", end))
    return text.encode(chance.choice(("utf-8", "utf-8-sig"))), None, (1.0, 0.0)


def spoiled(chance):
    """One line of garbage: refused, and the line is named."""
    table = [list(row) for row in rows()]
    at = chance.randrange(2, len(table) - 1)
    kind = chance.choice(("cell", "twice", "swap", "short", "long", "huge"))
    line = at + 1
    if kind == "cell":
        table[at][chance.randrange(4)] = chance.choice(
            [t for t in TEXTS if not is_number(t.strip()) and not {",", "\0"} & set(t)]
        )
    elif kind == "twice":
        table.insert(at, table[at])
        line += 1
    elif kind == "swap":
        table[at], table[at - 1] = table[at - 1], table[at]
    elif kind == "short":
        table[at] = table[at][:-1]
    elif kind == "long":
        table[at] = [*table[at], "7"]
    else:
        table[at][3] = chance.choice(("1e7", "-1e9", "1e300"))
    data = text_of(table).encode()
    return data, None, f"line {line}"


def is_number(text: str) -> bool:
    try:
        return text.isascii() and "_" not in text and math.isfinite(float(text))
    except ValueError:
        return False


def compare(found, usual, factor, shift_s, where):
    """The same movements, flags and figures, but for the factor of the torque and the shift of the time."""
    assert found["samples"] == usual["samples"], where
    assert found["mode"] == usual["mode"], where
    assert len(found["movements"]) == len(usual["movements"]), where
    for mine, theirs in zip(found["movements"], usual["movements"], strict=True):
        for key, value in theirs.items():
            same(mine[key], value, key, factor, shift_s, where)
    for way in ("up", "down"):
        for key in FIGURES:
            same(found["set"][way][key], usual["set"][way][key], key, factor, shift_s, where)
    assert [q["code"] for q in found["quality"]] == [q["code"] for q in usual["quality"]], where


def same(mine, theirs, key, factor, shift_s, where):
    if isinstance(theirs, float):
        expected = theirs * factor if key in SCALED else theirs + shift_s if key in TIMES else theirs
        assert mine == pytest.approx(expected, rel=1e-6, abs=1e-6), (where, key)
    else:
        assert mine == theirs, (where, key)
