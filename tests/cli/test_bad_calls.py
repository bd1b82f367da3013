"""Whatever is wrong with a call or a file: status 2, nothing on standard output, one line that says what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

FILES: dict[str, bytes] = {
    "empty": b"",
    "blank": b"\n\n  \n",
    "binary": bytes(range(256)) * 40,
    "nul": b"\0" * 4096,
    "truncated json": b'{"rig": "rig A", "stage": "opening", "torque": [{"mass_kg": 5.0,',
    "json list": b"[1, 2, 3]",
    "wrong columns": b"a,b,c\n1,2,x\n4,5,6\n",
    "header only": b"time_s,angle_deg,torque_nm\n",
    "words": b"time_s,angle_deg,torque_nm\n0,zero,none\n",
    "latin-1": "Zeit;Größe\n1;2\n".encode("latin-1"),
    "escapes": b"\x1b[2Jtime_s,angle_deg,torque_nm\n\x1b]0;owned\x07\n",
}


def one_line(outcome) -> str:
    assert outcome.status == 2
    assert outcome.out == ""
    assert outcome.err.count("\n") == 1
    assert outcome.err.endswith("\n")
    assert "Traceback" not in outcome.err
    assert "\x1b" not in outcome.err
    return outcome.err


@pytest.mark.parametrize("command", ["trace", "check", "reliability"])
@pytest.mark.parametrize("name", FILES)
def test_a_file_that_is_none_of_ours_is_refused_by_name(
    fieldlog, tmp_path: Path, command: str, name: str
) -> None:
    file = tmp_path / "input.file"
    file.write_bytes(FILES[name])
    said = one_line(fieldlog(command, file))
    assert "input.file" in said
    said = one_line(fieldlog(command, file, "--json"))
    assert "input.file" in said


@pytest.mark.parametrize("command", ["trace", "check", "reliability"])
def test_a_missing_file_and_a_folder_are_refused(fieldlog, tmp_path: Path, command: str) -> None:
    assert "nowhere.csv" in one_line(fieldlog(command, tmp_path / "nowhere.csv"))
    one_line(fieldlog(command, tmp_path))


@pytest.mark.parametrize(
    "arguments",
    [
        ["unknown"],
        ["--unknown"],
        ["trace"],
        ["trace", "x.csv", "--unknown"],
        ["trace", "x.csv", "--cutoff", "fast"],
        ["check", "x.json", "--save"],
        ["history"],
        ["export"],
        ["export", "--as", "pdf", "-o", "x"],
        ["sheet", "coach"],
        ["sheet", "unknown"],
        ["site", "add"],
        ["site", "add", "X", "--latitude", "91", "--height", "0"],
        ["new"],
        ["tour", "extra"],
        ["open"],
        ["show", "nowhere"],
        ["sync"],
    ],
)
def test_a_wrong_call_is_one_line(fieldlog, tmp_path: Path, monkeypatch, arguments: list[str]) -> None:
    monkeypatch.setenv("FIELDLOG_WORKSPACE", str(tmp_path / "none"))
    one_line(fieldlog(*arguments))


@pytest.mark.parametrize(
    "arguments",
    [
        ["audit"],
        ["history", "--rig", "rig A"],
        ["export", "--as", "csv", "-o", "out"],
        ["sheet", "coach", "--site", "X", "-o", "x.pdf"],
        ["site", "add", "X", "--latitude", "1", "--height", "0"],
        ["show", "places"],
        ["conflicts"],
    ],
)
def test_a_folder_that_is_no_workspace_says_how_to_make_one(
    fieldlog, tmp_path, monkeypatch, arguments
) -> None:
    monkeypatch.chdir(tmp_path)
    said = one_line(fieldlog("--workspace", tmp_path, *arguments))
    assert "fieldlog new" in said
    assert list(tmp_path.iterdir()) == []


def test_a_broken_today_is_named(fieldlog, sample_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FIELDLOG_TODAY", "tomorrow")
    assert "FIELDLOG_TODAY" in one_line(fieldlog("--workspace", sample_folder, "show", "places"))


def test_a_number_with_a_comma_or_a_unit_says_how_to_type_it(fieldlog, tmp_path: Path) -> None:
    call = ("--workspace", tmp_path / "w", "site", "add", "Mill", "--latitude", "52,5", "--height", "4")
    assert "'52,5' is no number (a point for decimals, no unit)" in one_line(fieldlog(*call))


def test_a_group_without_a_command_names_its_commands(fieldlog) -> None:
    assert one_line(fieldlog("site")).startswith("fieldlog: one of its commands is missing: add;")


def test_the_rig_log_of_a_team_without_a_rig_says_where_one_is_named(fieldlog, tmp_path: Path) -> None:
    fieldlog("new", tmp_path / "w")
    said = one_line(fieldlog("--workspace", tmp_path / "w", "show", "rig-log"))
    assert said == "fieldlog: no rig yet; name one in the application: stage 1 of a day\n"
