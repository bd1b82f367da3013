"""Damaged check files are judged in finite numbers and known words, or refused in one line."""

from __future__ import annotations

import json
from collections import Counter

import pytest

from fieldlog.analysis.calibration import VERDICTS
from tests.conftest import SAMPLE
from tests.fuzz.cases import answer, cases, run, say
from tests.fuzz.damage import damaged_bytes, damaged_json

OPENING = SAMPLE / "recordings" / "2026-05-06_opening.json"


def test_a_damaged_check_file_is_judged_or_refused_in_one_line(tmp_path):
    plain = OPENING.read_bytes()
    entry = json.loads(plain)
    file, tally = tmp_path / "check.json", Counter()
    for chance, where in cases("damaged check file", 60):
        data = damaged_bytes(chance, plain)
        if chance.random() < 0.7:
            data = damaged_json(chance, entry).encode("utf-8", "surrogatepass")
        file.write_bytes(data)
        outcome = run("check", file, "--json")
        body = answer(outcome, where, "check.json")
        tally["refused" if body is None else "judged"] += 1
        if body is None:
            continue
        read = json.loads(data.decode("utf-8-sig"))
        assert (outcome[0] == 0) == (body["verdict"] in ("pass", "conditional pass")), where
        points = body["torque"]["points"]
        assert [p["reading_nm"] for p in points] == [p["reading_nm"] for p in read["torque"]], where
        assert [p["mass_kg"] for p in points] == [p["mass_kg"] for p in read["torque"]], where
        parts = [
            body["torque"]["hysteresis_verdict"],
            *(body[part]["verdict"] for part in ("torque", "zero", "angle", "speed")),
        ]
        assert body["verdict"] == max((word for word in parts if word), key=VERDICTS.index), where
    assert tally["judged"]
    assert tally["refused"]
    say("damaged check files", tally)


def test_a_changed_check_changes_the_verdict_as_it_must(tmp_path):
    entry = json.loads(OPENING.read_bytes())
    file, tally = tmp_path / "check.json", Counter()
    file.write_bytes(OPENING.read_bytes())
    usual = answer(run("check", file, "--json"), "as it is")
    for chance, where in cases("changed check", 30):
        kind = chance.choice(("order", "keys", "shift", "field"))
        tally[kind] += 1
        changed, expected = json.loads(json.dumps(entry)), ""
        if kind == "order":
            chance.shuffle(changed["torque"])
        elif kind == "keys":
            changed = dict(sorted(changed.items(), key=lambda _: chance.random()))
        elif kind == "shift":  # the whole display reads higher: the tare takes it out
            higher = round(chance.uniform(-20, 20), 3)
            for point in changed["torque"]:
                point["reading_nm"] += higher
            changed["tare"] = {name: value + higher for name, value in changed["tare"].items()}
        else:
            at = chance.randrange(len(changed["torque"]))
            field = chance.choice(("mass_kg", "arm_m", "reading_nm"))
            changed["torque"][at][field] = chance.choice(
                (None, "5", True, [5], {"nm": 5}, float("nan"), 1e300)
            )
            expected = f"torque[{at}].{field}"
        file.write_text(json.dumps(changed))
        outcome = run("check", file, "--json")
        if expected:
            assert answer(outcome, where, expected) is None, where
            continue
        body = answer(outcome, where)
        assert body["verdict"] == usual["verdict"], where
        assert errors(body) == pytest.approx(errors(usual), abs=1e-9), where
    say("changed checks", tally)


def errors(body) -> list[float]:
    return sorted(point["error_nm"] for point in body["torque"]["points"])
