"""Reliability against published tables: Shrout and Fleiss, Weir, Bland and Altman, Hopkins.

Data of Shrout and Fleiss and of Weir were seen in stored transcriptions; figures marked "from memory" were
not seen in print and agree with a recomputation by independent programs.
"""

import math

import pytest

from fieldlog.analysis.change import judge_change
from fieldlog.analysis.reliability import (
    icc,
    limits_of_agreement,
    minimal_detectable_change,
    smallest_worthwhile_change,
    two_way,
    typical_error,
    typical_error_cv_pct,
    typical_error_of,
)

# Shrout and Fleiss 1979, table 2: six targets, four judges.
JUDGES = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
# Weir 2005, data set A: two trials, in lb.
WEIR_A = [[146, 140], [148, 152], [170, 152], [90, 99], [157, 145], [156, 153], [176, 167], [205, 218]]
# Bland and Altman 1986, table 1: peak flow by two meters, first readings, l/min.
WRIGHT = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]


def test_the_six_forms_of_shrout_and_fleiss():
    # Table 4, two decimals (printed coefficients from memory).
    printed = {"icc1": 0.17, "icc2": 0.29, "icc3": 0.71, "icc1k": 0.44, "icc2k": 0.62, "icc3k": 0.91}
    found = icc(JUDGES)
    assert {form: found[form]["value"] for form in printed} == pytest.approx(printed, abs=0.005)


def test_the_analysis_of_variance_of_shrout_and_fleiss():
    # Table 3 (from memory).
    table = two_way(JUDGES)
    assert table.between == pytest.approx(11.24, abs=0.005)
    assert table.within == pytest.approx(6.26, abs=0.006)
    assert table.of_visits == pytest.approx(32.49, abs=0.005)
    assert table.error == pytest.approx(1.02, abs=0.005)
    forms = icc(JUDGES)
    assert (forms["icc1"]["df1"], forms["icc1"]["df2"]) == (5, 18)
    assert (forms["icc3"]["df1"], forms["icc3"]["df2"]) == (5, 15)


def test_the_limits_of_the_six_forms():
    # R package psych 2.2.9 on the same data, two-sided 95 %.
    expected = {
        "icc1": (0.165742, -0.132933, 0.722560),
        "icc2": (0.289764, 0.018787, 0.761084),
        "icc3": (0.714841, 0.342465, 0.945858),
        "icc1k": (0.442797, -0.884442, 0.912415),
        "icc2k": (0.620051, 0.071137, 0.927232),
        "icc3k": (0.909316, 0.675675, 0.985892),
    }
    found = icc(JUDGES)
    for form, values in expected.items():
        assert [found[form][key] for key in ("value", "low", "high")] == pytest.approx(values, abs=2e-6)


def test_weirs_example_a():
    first, second = zip(*WEIR_A, strict=True)
    error, dof = typical_error_of(WEIR_A)
    assert error == pytest.approx(7.6, abs=0.05)  # SEM, p. 236 (seen in a quoting test)
    assert dof == 7
    assert typical_error(first, second) == pytest.approx(7.557, abs=0.0005)
    table = two_way(WEIR_A)
    assert table.between == pytest.approx(2098.4, abs=0.2)  # from memory
    assert table.of_visits == pytest.approx(30.2, abs=0.1)  # from memory
    assert table.error == pytest.approx(57.0, abs=0.2)  # from memory
    assert minimal_detectable_change(error) == pytest.approx(21, abs=0.5)  # from memory
    for form in ("icc1", "icc2", "icc3"):
        assert icc(WEIR_A)[form]["value"] == pytest.approx(0.95, abs=0.005)  # from memory


def test_weirs_standard_errors_of_estimate_and_prediction_follow_from_the_icc():
    # P. 236-237: SEE = SD·√(ICC(1 − ICC)), SEP = SD·√(1 − ICC²), SD over all scores (seen in a quoting test).
    scores = [score for row in WEIR_A for score in row]
    mean = sum(scores) / len(scores)
    sd = math.sqrt(sum((score - mean) ** 2 for score in scores) / (len(scores) - 1))
    coefficient = icc(WEIR_A)["icc3"]["value"]
    assert sd * math.sqrt(coefficient * (1 - coefficient)) == pytest.approx(7.1, abs=0.05)
    assert sd * math.sqrt(1 - coefficient**2) == pytest.approx(10.2, abs=0.05)


def test_bland_and_altman_on_peak_flow_meters():
    # Data as in table 1; here bias is second − first, the paper takes Wright − mini. From memory, 2 SD there.
    limits = limits_of_agreement(MINI, WRIGHT)
    assert limits.bias == pytest.approx(-2.1, abs=0.05)
    assert limits.sd == pytest.approx(38.8, abs=0.05)
    assert limits.bias - 2 * limits.sd == pytest.approx(-79.7, abs=0.15)
    assert limits.bias + 2 * limits.sd == pytest.approx(75.5, abs=0.15)
    assert limits.sd / math.sqrt(limits.n) == pytest.approx(9.4, abs=0.05)
    assert math.sqrt(3 * limits.sd**2 / limits.n) == pytest.approx(16.3, abs=0.05)


def test_limits_of_agreement_take_1_96_standard_deviations():
    # Same data, recomputed.
    limits = limits_of_agreement(MINI, WRIGHT)
    assert (limits.bias, limits.sd) == pytest.approx((-2.117647, 38.76513), abs=2e-6)
    assert (limits.low, limits.high) == pytest.approx((-78.097302, 73.862007), abs=2e-6)


def test_hopkins_definitions_hold():
    # Hopkins 2000 (definitions; from memory): 1.96·√2 = 2.772; a log SD of 0.05 is a CV of 5.127 %.
    assert minimal_detectable_change(1.0) == pytest.approx(2.772, abs=0.0005)
    scores = [
        [math.exp(4 + 0.05), math.exp(4 - 0.05)],
        [math.exp(5), math.exp(5)],
        [math.exp(6 - 0.05), math.exp(6 + 0.05)],
    ]
    assert typical_error_cv_pct(scores) == pytest.approx(100 * math.expm1(0.05 * math.sqrt(2)), rel=1e-9)
    assert smallest_worthwhile_change([-10 / math.sqrt(2), 10 / math.sqrt(2)]) == pytest.approx(2.0)
    assert smallest_worthwhile_change([-10 / math.sqrt(2), 10 / math.sqrt(2)], 0.6) == pytest.approx(6.0)


def test_chances_are_those_of_the_normal_distribution():
    # Hopkins 2004 (definition; from memory): true change normal about the observed one with SD √2·TE.
    verdict = judge_change(10.0, 5.0, 4.0)
    z = (4.0 - 10.0) / (math.sqrt(2) * 5.0)
    assert verdict.chance_higher == pytest.approx(0.5 * math.erfc(z / math.sqrt(2)), rel=1e-12)
