"""``fieldlog check`` as others call it."""

import copy
import json

import pytest

from fieldlog.cli.main import main
from tests.simulation.rig import Place, SimulatedRig, check_entry

HEADER = {"name": "rig A", "stage": "opening", "at": "2026-05-04T08:14:00+02:00", "by": "tester 1"}


@pytest.fixture
def run(tmp_path, capsys):
    def run(body, *options):
        path = tmp_path / "check.json"
        path.write_text(body if isinstance(body, str) else json.dumps(body), encoding="utf-8")
        with pytest.raises(SystemExit) as left:
            main(["check", str(path), *options])
        printed = capsys.readouterr()
        return left.value.code, printed.out, printed.err

    return run


def body(slope=1.0, seed=1):
    return check_entry(SimulatedRig(slope_up=slope, slope_down=slope), Place(60.2, 4.0), **HEADER, seed=seed)


def test_a_good_check_is_0_and_one_json_object(run):
    status, out, err = run(body(), "--json")
    assert (status, err) == (0, "")
    assert out.count("\n") == 1
    verdict = json.loads(out)
    assert verdict["verdict"] == "pass"
    assert verdict["local_gravity_m_s2"] == pytest.approx(9.81932, abs=1e-5)


def test_a_conditional_pass_is_0_and_a_failure_is_1(run):
    assert run(body(1.019), "--json")[0] == 0
    status, out, err = run(body(1.06), "--json")
    assert (status, err) == (1, "")
    assert json.loads(out)["verdict"] == "fail"


def test_as_text_it_names_points_lines_and_remarks(run):
    status, out, _ = run(body(1.06))
    assert status == 1
    assert "opening check, as-found: fail" in out
    assert "line down: slope 1.0" in out
    assert "every point is off by one percentage" in out
    assert "N·m" in out


def test_bad_input_is_2_with_one_line_and_nothing_on_standard_output(run, tmp_path):
    wrong = copy.deepcopy(body())
    wrong["torque"][3]["mass_kg"] = 0
    status, out, err = run(wrong, "--json")
    assert (status, out) == (2, "")
    assert err.count("\n") == 1
    assert f"{tmp_path / 'check.json'}: torque[3].mass_kg: must be above zero" in err


@pytest.mark.parametrize("content", ["", "{", "[]", "\x00", '{"rig": "A"}'])
def test_broken_files_are_2(run, content):
    status, out, err = run(content)
    assert (status, out, err.count("\n")) == (2, "", 1)


def test_a_file_that_is_not_there_is_2(run, tmp_path, capsys):
    with pytest.raises(SystemExit) as left:
        main(["check", str(tmp_path / "nothing.json")])
    printed = capsys.readouterr()
    assert (left.value.code, printed.out) == (2, "")
    assert "nothing.json" in printed.err


@pytest.mark.parametrize("options", [["--save"], ["--site", "hall"], ["--strict"]])
def test_a_call_that_makes_no_sense_is_2(run, options):
    status, out, err = run(body(), *options)
    assert (status, out, err.count("\n")) == (2, "", 1)


def test_a_rig_name_cannot_trick_the_terminal(run):
    hostile = body() | {"rig": "A\u202e[b]x[/b]"}
    status, out, err = run(hostile)
    assert "\u202e" not in out + err
    assert status in (0, 2)
