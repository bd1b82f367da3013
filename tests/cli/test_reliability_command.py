"""``fieldlog reliability`` as others call it."""

import json

import pytest

from fieldlog.cli.main import main

WEIR_A = (
    "athlete,one,two\nA,146,140\nB,148,152\nC,170,152\nD,90,99\nE,157,145\nF,156,153\nG,176,167\nH,205,218\n"
)


@pytest.fixture
def run(tmp_path, capsys):
    def run(content, *options):
        path = tmp_path / "scores.csv"
        path.write_text(content, encoding="utf-8")
        with pytest.raises(SystemExit) as left:
            main(["reliability", str(path), *options])
        printed = capsys.readouterr()
        return left.value.code, printed.out, printed.err

    return run


def test_as_json_it_is_one_object_with_every_key(run):
    status, out, err = run(WEIR_A, "--json")
    assert (status, err, out.count("\n")) == (0, "", 1)
    report = json.loads(out)
    assert {
        "n", "visits", "icc", "typical_error", "typical_error_dof", "typical_error_cv_pct", "mdc90", "mdc95", "swc",
        "mean_change", "limits_of_agreement",
    } <= set(report)  # fmt: skip
    assert set(report["icc"]) == {"icc1", "icc2", "icc3", "icc1k", "icc2k", "icc3k"}


def test_as_text_it_names_the_forms(run):
    status, out, _ = run(WEIR_A)
    assert status == 0
    assert "typical error 7.557" in out
    assert "(2,1)" in out


def test_equal_values_are_0_with_null_and_no_nan(run):
    status, out, _ = run("athlete,one,two\nA,5,5\nB,5,5\n", "--json")
    assert status == 0
    assert "NaN" not in out
    assert json.loads(out)["icc"]["icc3"]["value"] is None
    assert run("athlete,one,two\nA,5,5\nB,5,5\n")[0] == 0


@pytest.mark.parametrize(
    "content",
    [
        "",
        "athlete,one\nA,1\nB,2\n",
        "athlete,one,two\nA,1,2\n",
        "athlete,one,two\nA,1,2\nA,1,2\n",
        "x,y,z\na,b,c\n",
    ],
)
def test_bad_tables_are_2_with_one_line(run, content):
    status, out, err = run(content, "--json")
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert "scores.csv" in err


def test_missing_visits_leave_complete_cases_and_say_what_every_test_gives(run):
    table = WEIR_A + "I,150,\nJ,,170\n"
    report = json.loads(run(table, "--json")[1])
    whole = json.loads(run(WEIR_A, "--json")[1])
    assert (report["n"], report["left_out"]) == (8, ["I", "J"])
    assert report["typical_error"] == whole["typical_error"]
    # Athletes tested once add nothing to the error itself.
    assert report["typical_error_every_test"]["value"] == pytest.approx(report["typical_error"])
    assert report["typical_error_every_test"]["tests"] == 18
    assert whole["typical_error_every_test"] is None
    assert "complete cases: 8 of 10 athletes have every visit" in run(table)[1]


def test_a_negative_torque_is_named_and_leaves_the_coefficient_of_variation_null(run):
    table = WEIR_A.replace("C,170,152", "C,170,-152")
    report = json.loads(run(table, "--json")[1])
    assert report["typical_error_cv_pct"] is None
    assert report["not_above_zero"] == [{"athlete": "C", "visit": "two", "value": -152.0}]
    assert any("not above zero: C, two: -152" in remark for remark in report["remarks"])


def test_a_visit_in_another_unit_is_pointed_out(run):
    rows = [line.split(",") for line in WEIR_A.splitlines()[1:]]
    table = "athlete,one,two\n" + "".join(f"{a},{x},{float(y) / 1.35582:.1f}\n" for a, x, y in rows)
    report = json.loads(run(table, "--json")[1])
    assert [(mix["visit"], mix["units"]) for mix in report["mixed_units"]] == [("two", "N·m and lbf·ft")]
    assert "stands to the other visits as N·m and lbf·ft do" in run(table)[1]
    assert json.loads(run(WEIR_A, "--json")[1])["mixed_units"] == []


def test_units_mixed_in_the_heading_are_refused(run):
    status, out, err = run("athlete,one (N·m),two (lbf ft)\nA,100,70\nB,120,80\n")
    assert (status, out) == (2, "")
    assert "line 1 mixes units" in err


def test_the_change_from_visit_to_visit_is_said_with_its_interval(run):
    status, out, _ = run("athlete,one,two,three\nA,100,110,111\nB,120,131,130\nC,140,149,151\nD,90,101,100\n")
    assert status == 0
    assert "one to two: +10.25 (" in out
    assert "familiarisation? leave a first visit out" in out
