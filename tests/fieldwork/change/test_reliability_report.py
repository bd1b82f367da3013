"""The report on repeated tests."""

import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork.change.reliability_file import ScoreTable
from fieldlog.fieldwork.change.reliability_report import reliability_of

# Weir 2005, data set A.
WEIR_A = ((146, 140), (148, 152), (170, 152), (90, 99), (157, 145), (156, 153), (176, 167), (205, 218))


def report(rows, visits=None):
    visits = visits or tuple(f"visit {i + 1}" for i in range(len(rows[0])))
    athletes = tuple(f"A{i}" for i in range(len(rows)))
    return reliability_of(ScoreTable(athletes, visits, tuple(rows)), "scores.csv")


def test_two_visits_give_every_figure():
    found = report(WEIR_A)
    assert (found["n"], found["visits"], found["typical_error_dof"]) == (8, 2, 7)
    assert found["typical_error"] == pytest.approx(7.557, abs=5e-4)
    assert found["mdc95"] == pytest.approx(1.96 * 2**0.5 * found["typical_error"], rel=1e-4)
    assert found["mdc90"] == pytest.approx(1.645 * 2**0.5 * found["typical_error"], rel=1e-4)
    assert found["mean_change"] == pytest.approx(-2.75)
    assert found["limits_of_agreement"]["bias"] == pytest.approx(-2.75)
    assert set(found["limits_of_agreement"]) == {"bias", "sd", "low", "high"}
    assert set(found["icc"]["icc2"]) == {"value", "low", "high", "f", "df1", "df2", "p"}


def test_missing_visits_leave_athletes_out_and_say_so():
    found = report([*WEIR_A, (150, None)])
    assert (found["n"], found["left_out"]) == (8, ["A8"])
    (said,) = [remark for remark in found["remarks"] if remark.startswith("complete cases")]
    assert said.startswith("complete cases: 8 of 9 athletes have every visit;")
    assert said.endswith(f"over every test the typical error is {found['typical_error']:.4g}")
    assert found["typical_error"] == report(WEIR_A)["typical_error"]
    # A test that nobody repeated says nothing of the error.
    assert found["typical_error_every_test"]["value"] == pytest.approx(found["typical_error"])


def test_three_visits_have_no_limits_of_agreement_and_changes_from_visit_to_visit():
    found = report([(100, 110, 111), (120, 131, 130), (90, 99, 101), (150, 161, 160)])
    assert found["limits_of_agreement"] is None
    assert found["mean_change"] == pytest.approx(10.5)
    assert [step["first"] for step in found["from_visit_to_visit"]] == ["visit 1", "visit 2"]
    assert any("familiarisation" in remark for remark in found["remarks"])


def test_all_values_equal_are_honest_nulls():
    found = report([(5, 5), (5, 5), (5, 5)])
    assert found["typical_error"] == 0.0
    assert found["swc"] is None
    assert found["icc"]["icc1"]["value"] is None


def test_a_negative_torque_has_no_coefficient_of_variation():
    found = report([(-5, 6), (7, 8), (9, 11)])
    assert found["typical_error_cv_pct"] is None
    assert "no coefficient of variation: a score is not above zero" in found["remarks"]


def test_an_entry_error_is_named_by_athlete_and_visit():
    rows = [(100.0 + 7 * i, 103.0 + 7 * i + (-1) ** i * 2) for i in range(15)]
    rows[4] = (rows[4][0], 12.8)
    assert any("entry error: A4, visit 2: 12.8" in remark for remark in report(rows)["remarks"])


@pytest.mark.parametrize("rows", [[(1, 2)], [(1, 2), (3, None)], [(None, 2), (3, None)]])
def test_fewer_than_two_complete_athletes_are_refused(rows):
    with pytest.raises(InputError, match="at least two are needed"):
        report(rows)
