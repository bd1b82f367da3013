"""``fieldlog trace`` as a person or a script meets it."""

import dataclasses
import json
import subprocess
import sys

import pytest

from fieldlog.analysis.set_figures import SetFigures
from fieldlog.cli.main import main
from fieldlog.cli.trace_text import FIGURES
from tests.simulation.acquisition import Acquisition
from tests.simulation.lever import stand, to_and_fro
from tests.simulation.muscle import HalfSine
from tests.simulation.recording import Effort, Hold, Scene, Weight
from tests.simulation.writers import GERMAN, own_columns

EFFORTS = {1: Effort(HalfSine(110, 0, 100), 1, 0.1, 0.1), -1: Effort(HalfSine(180, 0, 100), -1, 0.1, 0.1)}
WEIGHT = Weight(11.6, -2.0, 0.5)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("recordings")
    chain = Acquisition(rate_hz=250)
    weighed = Scene(to_and_fro(5, 95, 60, repetitions=3), EFFORTS, weight=WEIGHT)
    sweep = Scene(to_and_fro(2, 98, 8, repetitions=1), weight=WEIGHT)
    hold = Scene(stand(60, 8), holds=(Hold(2, 5, 180),))
    (place / "set.csv").write_text(own_columns(chain.sample(weighed)))
    (place / "sweep.csv").write_text(own_columns(chain.sample(sweep)))
    (place / "hold.csv").write_text(own_columns(Acquisition(rate_hz=500).sample(hold)))
    (place / "german.csv").write_text(GERMAN.text(chain.sample(weighed)), encoding="utf-8")
    (place / "german.json").write_text(json.dumps(GERMAN.column_map()), encoding="utf-8")
    (place / "bad.csv").write_text("time_s,angle_deg,torque_nm\n0,1,2\n0.01,x,2\n")
    return place


@pytest.fixture
def run(folder, monkeypatch, capsys):
    """Run ``fieldlog trace`` in the folder; return status, standard output and standard error."""
    monkeypatch.chdir(folder)

    def trace(*arguments):
        with pytest.raises(SystemExit) as left:
            main(["trace", *arguments])
        out, err = capsys.readouterr()
        return left.value.code, out, err

    return trace


def test_json_is_one_object_on_one_line(run):
    status, out, err = run("set.csv", "--json")
    assert (status, err, out.count("\n")) == (0, "", 1)
    body = json.loads(out)
    assert body["file"] == "set.csv"
    assert [m["direction"] for m in body["movements"]] == ["up", "down"] * 3


def test_every_option_reaches_the_analysis(run):
    status, out, _ = run(
        "set.csv", "--speed", "60", "--gravity", "sweep.csv", "--cutoff", "12", "--band", "8", "--at", "30,62.5",
        "--body-mass", "75", "--drop", "1", "--leave-out", "3", "--json",
    )  # fmt: skip
    body = json.loads(out)
    assert status == 0
    assert body["set_speed_source"] == "given"
    recipe = body["recipe"]
    assert recipe["gravity"] == "sweep"
    assert (recipe["cutoff_hz"], recipe["band_pct"], recipe["drop"], recipe["leave_out"]) == (
        12.0,
        8.0,
        1,
        [3],
    )
    assert set(body["movements"][0]["torque_at_nm"]) == {"30", "62.5"}
    assert body["set"]["up"]["movements"] == 1
    assert body["set"]["down"]["best_peak_torque_nm_kg"] == pytest.approx(180 / 75, rel=0.02)


def test_a_foreign_file_is_read_through_its_map(run):
    status, out, _ = run("german.csv", "--columns", "german.json", "--gravity-fit", "11.6,-2.0,0.5", "--json")
    assert status == 0
    assert json.loads(out)["set"]["up"]["best_peak_torque_nm"] == pytest.approx(110, rel=0.01)


def test_a_mode_that_torque_and_motion_contradict_is_flagged_and_still_fine(run):
    status, out, _ = run("set.csv", "--mode", "eccentric", "--json")
    assert status == 0
    assert "mode_differs" in [entry["code"] for entry in json.loads(out)["quality"]]


def test_a_negative_offset_can_be_given(run):
    assert run("set.csv", "--gravity-fit=-1,-2,-0.5", "--json")[0] == 0


def test_text_fits_a_terminal_and_names_units(run):
    for arguments in (("set.csv", "--at", "30,60", "--gravity", "sweep.csv"), ("hold.csv",)):
        status, out, err = run(*arguments)
        assert (status, err) == (0, "")
        assert "N·m" in out
        assert max(len(line) for line in out.splitlines()) <= 80
    assert "RTD" in run("hold.csv")[1]


def test_text_wraps_what_is_to_be_said(run):
    _, out, _ = run("set.csv")
    assert "gravity_missing" in out
    assert all(len(line) <= 80 for line in out.splitlines())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("nothing.csv",), "nothing.csv"),
        (("bad.csv",), "bad.csv, line 3, angle_deg: 'x' is not a number"),
        (("set.csv", "--columns", "set.csv"), "set.csv, line 1, column 1: not JSON"),
        (("set.csv", "--speed", "fast"), "--speed"),
        (("set.csv", "--speed", "-60"), "fieldlog: --speed: "),
        (("set.csv", "--speed", "nan"), "fieldlog: --speed: "),
        (("set.csv", "--cutoff", "200"), "does not fit a recording at 250 Hz"),
        (("set.csv", "--gravity-fit", "1,2"), "--gravity-fit"),
        (("set.csv", "--gravity-fit", "1,2,x"), "--gravity-fit"),
        (("set.csv", "--gravity-fit", "1,2,nan"), "fieldlog: --gravity-fit: "),
        (("set.csv", "--gravity", "hold.csv"), "hold.csv: the sweep does not move"),
        (("set.csv", "--at", "30,,60"), "--at"),
        (("set.csv", "--at", "30,1e5"), "fieldlog: --at: Input should be less than or equal to 720"),
        (("set.csv", "--body-mass", "2"), "fieldlog: --body-mass: "),
        (("set.csv", "--speed"), "see 'fieldlog trace --help'"),
        (("set.csv", "--leave-out", "1.5"), "--leave-out"),
        (("set.csv", "--leave-out", "1e999"), "--leave-out"),
        (("set.csv", "--leave-out", "nan"), "--leave-out"),
        (("set.csv", "--leave-out", "77"), "movement 77 cannot be left out"),
        (("set.csv", "--mode", "quick"), "--mode"),
        (("hold.csv", "--mode", "concentric"), "a movement was declared"),
        (("set.csv", "--wrong"), "--wrong"),
        ((), "FILE"),
        (("set.csv", "sweep.csv"), "sweep.csv"),
    ],
)
def test_a_wrong_call_is_one_line_and_status_two(run, arguments, said):
    status, out, err = run(*arguments)
    assert (status, out) == (2, "")
    assert err.count("\n") == 1
    assert said in err


def test_help_explains_every_option_with_default_and_example(run):
    _, out, _ = run("--help")
    for option in ("--columns", "--speed", "--gravity", "--gravity-fit", "--cutoff", "--band", "--at", "--body-mass",
                   "--mode", "--drop", "--leave-out"):  # fmt: skip
        assert f"Example: {option} " in " ".join(out.split())
    assert out.count("Default:") >= 11


def test_no_numeric_library_is_loaded_before_a_recording_is_read(folder):
    code = (
        "import sys; from fieldlog.cli.main import main\n"
        "try: main(sys.argv[1:])\n"
        "except SystemExit: pass\n"
        "print(sorted({'numpy', 'scipy', 'scipy.signal', 'scipy.stats', 'textual', 'reportlab'} & set(sys.modules)))"
    )

    def loaded(*arguments):
        done = subprocess.run(
            [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True, cwd=folder
        )
        return done.stdout.splitlines()[-1]

    assert loaded("trace", "--help") == "[]"
    assert loaded("trace", "nothing.csv") == "[]"
    assert loaded("trace", "set.csv", "--json") == "['numpy']"


def test_the_text_has_a_line_for_every_figure_of_a_set():
    assert {key for key, *_ in FIGURES} == {field.name for field in dataclasses.fields(SetFigures)}
