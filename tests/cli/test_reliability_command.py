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
