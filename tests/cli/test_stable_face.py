"""What other programs may rely on: commands, keys, units and statuses stay as they are.

A key may be added; none of these may go or change its unit.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import pytest

from fieldlog.cli.main import COMMANDS
from fieldlog.cli.main import fieldlog as door

TRACE = {"file", "samples", "rate_hz", "duration_s", "mode", "set_speed_deg_s", "set_speed_source", "recipe",
         "weight_torque", "movements", "set", "isometric", "quality"}  # fmt: skip
RECIPE = {"version", "cutoff_hz", "band_pct", "gravity"}
WEIGHT = {"cos_nm", "sin_nm", "offset_nm", "rms_nm", "range_deg", "up_down_difference_nm", "separable"}
MOVEMENT = {"index", "direction", "mode", "start_s", "end_s", "start_deg", "end_deg", "range_deg",
            "load_range_deg", "load_range_share_pct", "mean_speed_deg_s", "peak_torque_nm",
            "peak_torque_angle_deg", "time_to_peak_s", "work_j", "load_range_work_j", "mean_power_w",
            "peak_power_w", "impulse_nms", "torque_at_nm", "flags"}  # fmt: skip
SET = {"movements", "best_peak_torque_nm", "best_peak_torque_nm_kg", "mean_peak_torque_nm",
       "mean_best_three_nm", "peak_torque_cv_pct", "total_work_j", "work_thirds_drop_pct", "decline_pct",
       "work_slope_j"}  # fmt: skip
HOLD = {"angle_deg", "peak_torque_nm", "mean_torque_nm", "onset_s", "rtd_50_nm_s", "rtd_100_nm_s",
        "rtd_200_nm_s", "flags"}  # fmt: skip
CHECK = {
    "rig",
    "stage",
    "state",
    "local_gravity_m_s2",
    "torque",
    "zero",
    "angle",
    "speed",
    "verdict",
    "remarks",
}
POINT = {"mass_kg", "direction", "run", "reference_nm", "reading_nm", "error_nm", "error_pct", "tolerance_nm",
         "u_expanded_nm", "coverage_factor", "verdict", "undecidable"}  # fmt: skip
LINE = {"slope", "intercept_nm", "u_slope", "u_intercept_nm", "correlation", "residual_sd_nm", "points"}
HISTORY = {"rig", "checks", "lines", "points", "suggested_interval_days", "due_on"}
HISTORY_POINT = {
    "mass_kg",
    "direction",
    "reference_nm",
    "at",
    "errors_pct",
    "individuals",
    "ewma",
    "signals",
    "drift",
}
RELIABILITY = {"n", "visits", "icc", "typical_error", "typical_error_dof", "typical_error_cv_pct", "mdc90", "mdc95",
               "swc", "mean_change", "limits_of_agreement"}  # fmt: skip
ICC = {"value", "low", "high", "f", "df1", "df2", "p"}
RESULTS = ["site", "visit", "athlete", "protocol", "set", "direction", "mode", "set_speed_deg_s", "peak_torque_nm",
           "peak_torque_angle_deg", "work_j", "mean_power_w", "peak_torque_cv_pct", "quality", "cover", "recipe"]  # fmt: skip
UNITS = (
    "_nm",
    "_deg",
    "_deg_s",
    "_s",
    "_j",
    "_w",
    "_kg",
    "_m",
    "_hz",
    "_pct",
    "_nms",
    "_nm_s",
    "_nm_kg",
    "_c",
)


def recordings(sample: Path) -> Path:
    return sample / "recordings"


def test_every_command_of_the_face_is_there() -> None:
    wanted = {"trace", "check", "history", "reliability", "open", "show", "new", "site", "tour", "sheet", "export",
              "sync", "conflicts", "base", "audit"}  # fmt: skip
    assert wanted <= set(COMMANDS)


def commands(group: click.Group = door) -> Iterator[tuple[str, click.Command]]:
    """Every command, those inside groups too, by what a person types."""
    for name in group.list_commands(click.Context(group)):
        command = group.get_command(click.Context(group), name)
        yield name, command
        if isinstance(command, click.Group):
            yield from ((f"{name} {inner}", found) for inner, found in commands(command))


@pytest.mark.parametrize(
    ("called", "command"), list(commands()), ids=lambda value: value if isinstance(value, str) else ""
)
def test_help_explains_each_option_with_default_and_example(
    fieldlog, called: str, command: click.Command
) -> None:
    outcome = fieldlog(*called.split(), "--help")
    assert (outcome.status, outcome.err) == (0, "")
    text = " ".join(outcome.out.split())
    assert "Example: " in text or "Commands:" in text
    for option in command.params:
        if isinstance(option, click.Option):
            assert option.help, (called, option.name)
            assert "Example: " in option.help, (called, option.name)
            known = (
                "efault: " in option.help or "No default" in option.help or option.required or option.is_flag
            )
            assert known or option.show_default, (called, option.name)


def test_a_trace_has_its_keys(fieldlog, sample_folder: Path) -> None:
    raw = recordings(sample_folder)
    body = fieldlog(
        "trace", raw / "2026-05-06_R03_knee_right_060.csv", "--json", "--at", "30,60", "--body-mass", "93.4",
        "--gravity", raw / "2026-05-06_R03_knee_right_sweep.csv", "--speed", "60",
    ).json  # fmt: skip
    assert set(body) >= TRACE
    assert set(body["recipe"]) >= RECIPE
    assert body["recipe"]["gravity"] == "sweep"
    assert set(body["weight_torque"]) >= WEIGHT
    assert set(body["set"]) >= {"up", "down", "down_up_peak_ratio_pct"}
    assert set(body["set"]["up"]) >= SET
    assert body["set_speed_source"] == "given"
    for movement in body["movements"]:
        assert set(movement) >= MOVEMENT
        assert set(movement["torque_at_nm"]) == {"30", "60"}
    numbers_carry_units(body)


def test_a_hold_has_its_keys(fieldlog, tmp_path: Path) -> None:
    lines = ["time_s,angle_deg,torque_nm"]
    for i in range(5000):
        t = i / 1000
        torque = 0.0 if t < 1 else 120 * (1 - math.exp(-(t - 1) / 0.08)) * min(1.0, (5 - t) / 0.8)
        lines.append(f"{t:.3f},60.0,{torque + 0.05 * math.sin(1000 * t):.3f}")
    file = tmp_path / "hold.csv"
    file.write_text("\n".join(lines))
    body = fieldlog("trace", file, "--json").json
    assert body["mode"] == "isometric"
    assert set(body["isometric"]) >= {"holds", "rtd_cutoff_hz"}
    assert set(body["isometric"]["holds"][0]) >= HOLD
    assert body["isometric"]["holds"][0]["peak_torque_nm"] == pytest.approx(120, rel=0.01)


def test_a_check_has_its_keys_and_a_failed_one_status_1(fieldlog, sample_folder: Path) -> None:
    file = recordings(sample_folder) / "2026-05-06_opening.json"
    outcome = fieldlog("check", file, "--json")
    assert outcome.status == 0
    body = outcome.json
    assert set(body) >= CHECK
    assert set(body["torque"]) >= {"points", "lines", "hysteresis_pct", "verdict"}
    assert all(set(point) >= POINT for point in body["torque"]["points"])
    assert all(set(body["torque"]["lines"][direction]) >= LINE for direction in ("up", "down"))
    entry = json.loads(file.read_text())
    for point in entry["torque"]:
        point["reading_nm"] *= 1.05
    (sample_folder / "off.json").write_text(json.dumps(entry))
    failed = fieldlog("check", sample_folder / "off.json", "--json")
    assert failed.status == 1
    assert failed.json["verdict"] == "fail"
    numbers_carry_units(
        body, also={"coverage_factor", "slope", "u_slope", "correlation", "points", "version"}
    )


def test_a_history_has_its_keys(fieldlog, sample_folder: Path) -> None:
    body = fieldlog("--workspace", sample_folder, "history", "--rig", "rig A", "--json").json
    assert set(body) >= HISTORY
    assert set(body["checks"][0]) >= {"at", "site", "stage", "state", "verdict"}
    for point in body["points"]:
        assert set(point) >= HISTORY_POINT
        assert len(point["at"]) == len(point["errors_pct"]) == len(point["ewma"]["values"])
        assert set(point["individuals"]) >= {"centre", "lower", "upper", "mean_moving_range", "range_upper"}
        assert set(point["drift"]) >= {"slope_pct_per_day", "crosses_on", "earliest", "latest"}


def test_a_reliability_report_has_its_keys(fieldlog, tmp_path: Path) -> None:
    file = tmp_path / "visits.csv"
    # Weir 2005, data set A (the table is also checked in tests/published).
    file.write_text(
        "code,one,two\nA,146,140\nB,148,152\nC,170,152\nD,90,99\nE,157,145\nF,156,153\nG,176,167\nH,205,218\n"
    )
    body = fieldlog("reliability", file, "--json").json
    assert set(body) >= RELIABILITY
    assert set(body["icc"]) == {"icc1", "icc2", "icc3", "icc1k", "icc2k", "icc3k"}
    assert all(set(form) >= ICC for form in body["icc"].values())
    assert set(body["limits_of_agreement"]) >= {"bias", "sd", "low", "high"}
    assert body["typical_error"] == pytest.approx(7.557, abs=0.0005)


def test_exports_have_their_columns(fieldlog, sample_folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert fieldlog("--workspace", sample_folder, "export", "--as", "csv", "-o", out).status == 0
    assert (out / "results.csv").read_text(encoding="utf-8").splitlines()[0].split(",")[:16] == RESULTS
    assert {path.name for path in out.iterdir()} == {"results.csv", "repetitions.csv", "checks.csv"}
    assert fieldlog("--workspace", sample_folder, "export", "--as", "json", "-o", out / "json").status == 0
    for name in ("results", "repetitions", "checks"):
        assert json.loads((out / "json" / f"{name}.json").read_text())["rows"]
    assert fieldlog("--workspace", sample_folder, "export", "--as", "xlsx", "-o", out / "xlsx").status == 0
    assert [path.name for path in (out / "xlsx").iterdir()] == ["fieldlog.xlsx"]


def test_an_audit_has_its_keys(fieldlog, sample_folder: Path) -> None:
    outcome = fieldlog("--workspace", sample_folder, "audit", "--json")
    assert outcome.status == 0
    assert set(outcome.json) >= {"ok", "stores", "records", "problems", "notes"}
    sealed = next(sample_folder.glob("*/sealed/*.jsonl"))
    sealed.write_bytes(sealed.read_bytes()[:-40])
    damaged = fieldlog("--workspace", sample_folder, "audit", "--json")
    assert damaged.status == 1
    assert damaged.json["problems"][0]["kind"] == "damaged"
    assert set(damaged.json["problems"][0]) >= {"kind", "file", "text"}


def test_a_sync_has_its_keys_and_a_second_one_moves_nothing(
    fieldlog, sample_folder: Path, tmp_path: Path
) -> None:
    depot = tmp_path / "depot"
    first = fieldlog("--workspace", sample_folder, "sync", depot, "--json")
    assert first.status == 0
    assert set(first.json) >= {"sent", "received", "by_site", "conflicts", "missing", "set_aside"}
    again = fieldlog("--workspace", sample_folder, "sync", depot, "--json")
    assert (again.json["sent"], again.json["received"]) == (0, 0)


def test_a_sheet_is_current_until_a_result_changes(fieldlog, sample_folder: Path, tmp_path: Path) -> None:
    page = tmp_path / "coach.pdf"
    call = ("--workspace", sample_folder, "sheet", "coach", "--site", "Skarvik boathouse", "-o", page)
    assert fieldlog(*call).status == 0
    bytes_once = page.read_bytes()
    assert fieldlog(*call).status == 0
    assert page.read_bytes() == bytes_once
    assert fieldlog("--workspace", sample_folder, "sheet", "verify", page).status == 0
    from fieldlog.fieldwork.results.sets import change_standing, sets_of
    from fieldlog.fieldwork.visit.visits import find_visit
    from fieldlog.store.workspace import Workspace

    with Workspace.open(sample_folder) as workspace:
        store = workspace.site_named("Skarvik boathouse")
        kept = sets_of(store, find_visit(store).record.id)[0]
        change_standing(store, kept, "stopped", by="tester 1", why="strap slipped")
    assert fieldlog("--workspace", sample_folder, "sheet", "verify", page).status == 1
    (tmp_path / "other.pdf").write_bytes(b"%PDF-1.4\n%%EOF\n")
    assert fieldlog("--workspace", sample_folder, "sheet", "verify", tmp_path / "other.pdf").status == 2


def numbers_carry_units(body: Any, key: str = "", also: frozenset[str] | set[str] = frozenset()) -> None:
    """Every plain decimal number stands under a key that ends in its unit."""
    if isinstance(body, dict):
        for name, value in body.items():
            numbers_carry_units(value, name if not name.lstrip("-").replace(".", "").isdigit() else key, also)
    elif isinstance(body, list):
        for value in body:
            numbers_carry_units(value, key, also)
    elif isinstance(body, float):
        assert math.isfinite(body)
        assert key.endswith(UNITS) or key in also or key.endswith("m_s2"), key
