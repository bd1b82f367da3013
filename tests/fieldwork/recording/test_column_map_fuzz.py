"""Damaged column maps are taken as they are written, or refused in one line; nothing in them is guessed at."""

from __future__ import annotations

import json
from collections import Counter

from tests.conftest import SAMPLE
from tests.fuzz.cases import answer, cases, run, say
from tests.fuzz.damage import damaged_bytes, damaged_json

FACTOR = {"nm": 1.0, "lbf_ft": 1.3558179483314004, "lbf_in": 0.1129848290276167, "kgf_m": 9.80665}


def test_a_damaged_column_map_is_used_as_written_or_refused_in_one_line(tmp_path):
    plain = {
        "time": {"column": "t", "unit": "s"},
        "angle": {"column": "a", "unit": "deg", "sign": 1, "offset_deg": 0},
        "velocity": {"column": "v", "unit": "deg/s"},
        "torque": {"column": "m", "unit": "nm", "sign": 1},
        "torque_sign": "signed",
        "already": {"weight_corrected": "no", "filtered": "no", "load_range_only": "no"},
        "decimal": ".", "separator": ";", "skip_lines": 0,
    }  # fmt: skip
    source = (SAMPLE / "recordings" / "2026-05-06_R01_trunk_120.csv").read_text().splitlines()[:500]
    recording, map_file, tally = tmp_path / "set.csv", tmp_path / "map.json", Counter()
    recording.write_text("\n".join(["t;a;v;m", *(line.replace(",", ";") for line in source[1:])]))
    unmapped = tmp_path / "own.csv"
    unmapped.write_text("\n".join(source))
    usual = answer(run("trace", unmapped, "--json"), "as it is")
    usual_nm = usual["set"]["up"]["best_peak_torque_nm"]
    assert usual_nm
    for chance, where in cases("damaged column map", 60):
        data = damaged_bytes(chance, json.dumps(plain).encode())
        if chance.random() < 0.8:
            data = damaged_json(chance, plain).encode("utf-8", "surrogatepass")
        map_file.write_bytes(data)
        body = answer(run("trace", recording, "--columns", map_file, "--json"), where, allowed={0, 2})
        tally["refused" if body is None else "measured"] += 1
        if body is None or body["mode"] == "isometric":
            continue
        told = json.loads(data.decode("utf-8-sig"), object_pairs_hook=once)
        assert set(told) <= set(plain), where
        torque = told["torque"]
        assert torque["column"] == "m", where
        same = [told[part].get("column") == plain[part]["column"] for part in ("time", "angle")]
        assert all(same), where
        if (
            told["time"] == plain["time"]
            and told["angle"] == plain["angle"]
            and torque.get("sign", 1) == 1
            and told.get("torque_sign", "signed") == "signed"
        ):
            expected = usual_nm * FACTOR[torque.get("unit", "nm")]
            found = body["set"]["up"]["best_peak_torque_nm"]
            # Without the velocity column the load range is found from the angle.
            assert abs(found - expected) <= 0.03 * expected, (where, found, expected)
    assert tally["measured"]
    assert tally["refused"]
    say("damaged column maps", tally)


def once(pairs):
    body = dict(pairs)
    assert len(body) == len(pairs), "a key that stands twice must be refused"
    return body
