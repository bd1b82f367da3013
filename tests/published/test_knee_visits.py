"""Reliability on an open data set of knee peak torque: 39 people, two legs, six visits (CC0).

Hammarström and others 2020, J Physiol 598:543. The file is no part of the project; the test looks for it in
``../shared/open-data`` or the folder named by FIELDLOG_OPEN_DATA.
"""

import csv
import json
import os
from pathlib import Path

import pytest

from fieldlog.analysis.reliability import (
    doubtful_scores,
    icc,
    minimal_detectable_change,
    robust_typical_error,
    typical_error_cv_pct,
    typical_error_of,
)
from fieldlog.cli.main import main

FOLDER = Path(os.environ.get("FIELDLOG_OPEN_DATA", Path(__file__).parents[3] / "shared" / "open-data"))
FILE = FOLDER / "knee_peak_torque_visits" / "knee_peak_torque_visits.csv"

pytestmark = pytest.mark.skipif(not FILE.is_file(), reason="the open knee data set is not at hand")


def visits(speed_deg_s, movement):
    """Best attempt at the visits ``pre`` and ``session1``: legs and their scores."""
    best = {}
    with FILE.open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            wanted = (row["test"], row["speed_deg_s"], row["movement"]) == (
                "isokinetic_con",
                speed_deg_s,
                movement,
            )
            if wanted and row["timepoint"] in ("pre", "session1") and row["peak_torque_Nm"] not in ("", "NA"):
                leg = best.setdefault((row["participant"], row["leg"]), {})
                leg[row["timepoint"]] = max(leg.get(row["timepoint"], 0.0), float(row["peak_torque_Nm"]))
    complete = {leg: of for leg, of in best.items() if len(of) == 2}
    return list(complete), [[of["pre"], of["session1"]] for of in complete.values()]


def test_extension_at_60_repeats_as_found_elsewhere():
    # One earlier analysis of the same file: ICC 0.91, typical error 15.4 N·m (CV 9 %), detectable 43 N·m.
    _, scores = visits("60", "ext")
    error, dof = typical_error_of(scores)
    assert len(scores) == 78
    assert dof == 77
    assert error == pytest.approx(15.4, abs=0.05)
    assert icc(scores)["icc2"]["value"] == pytest.approx(0.91, abs=0.005)
    assert typical_error_cv_pct(scores) == pytest.approx(9.2, abs=0.3)
    assert minimal_detectable_change(error) == pytest.approx(43, abs=0.5)


def test_the_entry_error_of_11_newton_metres_is_pointed_out_and_cannot_move_the_robust_error():
    legs, scores = visits("120", "ext")
    found = doubtful_scores(scores)
    assert [(legs[each.athlete], each.visit, each.value) for each in found] == [(("FP14", "R"), 1, 11.0)]
    assert typical_error_cv_pct(scores) == pytest.approx(19.7, abs=0.1)
    without = [row for i, row in enumerate(scores) if i != found[0].athlete]
    assert typical_error_cv_pct(without) < 8.0
    assert robust_typical_error(scores) == pytest.approx(robust_typical_error(without), rel=0.08)


def test_an_ordinary_column_of_the_file_raises_no_doubt():
    _, scores = visits("60", "ext")
    assert doubtful_scores(scores) == ()


VISITS = ("pre", "session1", "week2", "week5", "week9", "post")


def all_visits(speed_deg_s, movement, folder):
    """A table for the command: one row a leg, the best attempt at each of the six visits, gaps left empty."""
    best = {}
    with FILE.open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            if (row["test"], row["speed_deg_s"], row["movement"]) == (
                "isokinetic_con",
                speed_deg_s,
                movement,
            ) and row["peak_torque_Nm"] not in ("", "NA"):
                leg = best.setdefault(f"{row['participant']} {row['leg']}", dict.fromkeys(VISITS, 0.0))
                leg[row["timepoint"]] = max(leg[row["timepoint"]], float(row["peak_torque_Nm"]))
    path = folder / "knee.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(("leg", *VISITS))
        for leg, of in best.items():
            writer.writerow((leg, *(of[visit] or "" for visit in VISITS)))
    return path


def run(capsys, *arguments):
    with pytest.raises(SystemExit) as left:
        main(["reliability", *map(str, arguments)])
    assert left.value.code == 0
    return capsys.readouterr().out


# Entries that cannot be strength: beside them stand five other visits of the same leg, and the other movement.
@pytest.mark.parametrize(
    ("speed_deg_s", "movement", "leg", "visit", "value"),
    [
        ("60", "ext", "FP16 R", "week2", 53.0),  # 121 130 · 135 133 135; flexion that day was 59
        ("120", "ext", "FP14 R", "session1", 11.0),  # 89 · 124 121 144 138
        ("240", "flex", "FP13 R", "session1", 191.0),  # 93 · 98 84 102 104; extension that day was 142
    ],
)
def test_the_command_points_out_the_genuine_entry_errors(
    speed_deg_s, movement, leg, visit, value, tmp_path, capsys
):
    path = all_visits(speed_deg_s, movement, tmp_path)
    report = json.loads(run(capsys, path, "--json"))
    named = [(each["athlete"], each["visit"], each["value"]) for each in report["doubtful"]]
    assert (leg, visit, value) in named
    # One in fifty legs at most is named besides.
    assert len(named) <= 3
    assert report["n"] < 78
    assert report["robust_typical_error"] < report["typical_error"]
    assert f"{leg}, {visit}: {value:g}" in run(capsys, path)


def test_complete_cases_and_every_test_agree_on_the_error(tmp_path, capsys):
    report = json.loads(run(capsys, all_visits("60", "flex", tmp_path), "--json"))
    assert report["n"] == 42
    assert report["typical_error_every_test"]["dof"] > report["typical_error_dof"]
    assert report["typical_error_every_test"]["value"] == pytest.approx(report["typical_error"], rel=0.1)
