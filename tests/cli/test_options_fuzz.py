"""Any options in any order: an answer that follows them, or one line; never a traceback, never an option unheard."""

from __future__ import annotations

import math
import shutil
from collections import Counter

import pytest

from tests.conftest import SAMPLE
from tests.fuzz.cases import answer, cases, run, say

RAW = SAMPLE / "recordings"
NUMBERS = ("60", "0", "-1", "1e3", "15", "0.5", "5", "nan", "inf", "-inf", "1e999", "9" * 400, "1_0", "١٢", "½", "", " ", "x",
           "0x10", "60,", "1,5", "--", "71.5", "400", "1e-320", "\x1b[2J", "-0.0", "3", "2", "\ud7ff", "+8", "50")  # fmt: skip
LISTS = ("30,60", "30", "-5,10", "", ",", "1,2,3", "11.6,-2.1,0.4", "1,2", "nan,1,1", "1e400,0,0", "3,3", "3.0", "0", "x,y", "1e9",
         ",".join(["1"] * 60), "30, 60", "1;2", "2", "4,5")  # fmt: skip
FILES = (
    "set.csv",
    "hold.csv",
    "sweep.csv",
    "none.csv",
    "",
    ".",
    "/",
    "map.json",
    "check.json",
    "é" * 300,
    "\x1b[2J",
)
TRACE = {
    "--columns": FILES, "--speed": NUMBERS, "--gravity": FILES, "--gravity-fit": LISTS, "--cutoff": NUMBERS, "--band": NUMBERS,
    "--at": LISTS, "--body-mass": NUMBERS, "--mode": ("concentric", "eccentric", "isometric", "Concentric", "", "x"),
    "--drop": NUMBERS, "--leave-out": LISTS,
}  # fmt: skip
STRAY = ("--json", "--json", "-h", "--help", "--version", "--", "-x", "--speed", "--workspace", "extra", "", "-", "--at=30", "=",
         "--no-json", "--columns=map.json", "trace", "\x1b]0;x\x07")  # fmt: skip
OTHERS = (
    ("check", "check.json"), ("check",), ("reliability", "scores.csv"), ("reliability",), ("history", "--rig", "rig A"), ("history",),
    ("audit",), ("conflicts",), ("export", "--as", "csv", "-o", "out"), ("sync",), ("site", "add", "X"), ("new",), ("sheet", "coach"),
    ("sheet", "verify", "set.csv"), ("show", "places"), ("base", "prepare"), ("tour", "--unattended"), ("nothing",), (),
)  # fmt: skip
OTHER_OPTIONS = ("--rig", "--rules", "--site", "--visit", "--as", "-o", "--into", "--latitude", "--height", "--width", "--save",
                 "--take", "--why", "--join", "--athlete", "--with-traces", "--verify", "--paper")  # fmt: skip
OPENS_THE_APPLICATION = {(), ("tour",), ("open",)}


@pytest.fixture
def folder(tmp_path, monkeypatch):
    lines = (RAW / "2026-05-06_R03_knee_right_180.csv").read_text().splitlines()
    (tmp_path / "set.csv").write_text("\n".join(lines[:500]))
    shutil.copy(RAW / "2026-05-06_R03_knee_right_sweep.csv", tmp_path / "sweep.csv")
    hold = ["time_s,angle_deg,torque_nm", *(f"{i / 100},60,{120 * (100 < i < 300)}" for i in range(400))]
    (tmp_path / "hold.csv").write_text("\n".join(hold))
    columns = '{"time":{"column":"time_s"},"angle":{"column":"angle_deg"},"torque":{"column":"torque_nm","unit":"lbf_ft"}}'
    (tmp_path / "map.json").write_text(columns)
    shutil.copy(RAW / "2026-05-06_opening.json", tmp_path / "check.json")
    (tmp_path / "scores.csv").write_text("code,one,two\nA,146,140\nB,148,152\nC,170,152\n")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FIELDLOG_WORKSPACE", str(tmp_path / "nowhere"))
    return tmp_path


def test_any_options_of_a_trace_are_followed_or_refused_in_one_line(folder):
    tally = Counter()
    there = set(folder.iterdir())
    for chance, where in cases("options of a trace", 120):
        given = [
            (name, chance.choice(TRACE[name] if chance.random() < 0.9 else NUMBERS + LISTS))
            for name in chance.choices(list(TRACE), k=chance.choice((0, 1, 1, 2, 3, 5)))
        ]
        words = [word for pair in given for word in pair]
        plain = chance.random() < 0.8
        if not plain:
            words.insert(chance.randrange(len(words) + 1), chance.choice(STRAY))
        words.insert(
            chance.choice((0, len(words))), chance.choice(("set.csv", "set.csv", "hold.csv", "none.csv"))
        )
        outcome = run("trace", *words, *(["--json"] if plain else []))
        if not plain and outcome[0] == 0:
            tally["text or help"] += 1
            assert outcome[2] == "", where
            continue
        body = answer(outcome, where, allowed={0, 2})
        tally["refused" if body is None else "measured"] += 1
        if body is not None:
            assert_followed(body, dict(given), where)
    assert set(folder.iterdir()) == there
    assert tally["measured"]
    assert tally["refused"]
    say("options of a trace", tally)


def assert_followed(body, given, where):
    """What was asked for stands in the recipe, digit by digit."""
    recipe = body["recipe"]
    for option, key in (("--cutoff", "cutoff_hz"), ("--band", "band_pct"), ("--speed", "speed_deg_s"),
                        ("--body-mass", "body_mass_kg"), ("--drop", "drop")):  # fmt: skip
        if option in given:
            assert recipe[key] == float(given[option]), (where, option)
    if "--mode" in given:
        assert recipe["mode"] == given["--mode"], where
    for option, key in (("--at", "at_deg"), ("--leave-out", "leave_out")):
        if option in given:
            assert recipe[key] == [float(part) for part in given[option].split(",")], (where, option)
    weighed = "given" if "--gravity-fit" in given else "sweep" if "--gravity" in given else "none"
    assert recipe["gravity"] == weighed, where
    if "--gravity-fit" in given:
        fit = [float(part) for part in given["--gravity-fit"].split(",")]
        assert [body["weight_torque"][key] for key in ("cos_nm", "sin_nm", "offset_nm")] == fit, where
    if "--speed" in given and body["mode"] != "isometric":
        assert (body["set_speed_deg_s"], body["set_speed_source"]) == (float(given["--speed"]), "given"), (
            where
        )
    for movement in body["movements"]:
        assert len(movement["torque_at_nm"]) == len(set(recipe["at_deg"])), where
        left_out = {"left_out"} if movement["index"] in recipe["leave_out"] else set()
        assert left_out == {"left_out"} & set(movement["flags"]), where
    for way in ("up", "down"):
        listed = [m for m in body["movements"] if m["direction"] == way]
        counted = [m for m in listed if not {"dropped", "left_out"} & set(m["flags"])]
        assert body["set"][way]["movements"] == len(counted), where
        peaks = [m["peak_torque_nm"] for m in counted if m["peak_torque_nm"] is not None]
        assert body["set"][way]["best_peak_torque_nm"] == (max(peaks) if peaks else None), where
    assert all(math.isfinite(m["range_deg"]) for m in body["movements"]), where


def test_any_words_after_any_command_are_answered_or_refused_in_one_line(folder):
    tally = Counter()
    for chance, where in cases("words after a command", 120):
        words = list(chance.choice(OTHERS))
        for _ in range(chance.choice((0, 1, 2, 3))):
            pool = chance.choice(
                (OTHER_OPTIONS, STRAY, NUMBERS, FILES[:7], ("set.csv", "depot", "2026-05-06", "rig A"))
            )
            words.insert(chance.randrange(len(words) + 1), chance.choice(pool))
        if chance.random() < 0.1:
            words = chance.sample(words, len(words))
        if would_open(words):
            continue
        status, out, err = run(*words)
        tally[f"status {status}"] += 1
        assert status in {0, 1, 2}, (where, words)
        if status == 2:
            assert out == "", (where, words)
            assert err.count("\n") == 1, (where, words, err)
            assert err[:-1].isprintable(), (where, words)
        assert not (folder / "nowhere").exists(), (where, words)
    say("words after a command", tally)


def would_open(words: list[str]) -> bool:
    """Opening the application, or going through the tour, is tried elsewhere; here it would wait or take long."""
    from fieldlog.cli.main import COMMANDS

    named = [word for word in words if word in COMMANDS]
    return not named or named[0] in ("tour", "open", "lock", "unlock", "person", "new") or "sync" in named
