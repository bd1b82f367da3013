"""Reliability beside pingouin and statsmodels, on invented tables; values from ``make_reliability_values.py``."""

import json
import math
from pathlib import Path

import pytest

from fieldlog.analysis.reliability import icc, typical_error_of, typical_error_of_tests

VALUES = json.loads(Path(__file__).with_name("reliability_values.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", VALUES["complete"], ids=lambda case: f"{len(case['scores'])} athletes")
def test_the_six_forms_are_those_of_pingouin(case):
    found = icc(case["scores"])
    for form, values in case["icc"].items():
        for key in ("value", "f", "p"):
            assert found[form][key] == pytest.approx(values[key], rel=1e-9)
        # pingouin rounds its limits to two decimals.
        assert found[form]["low"] == pytest.approx(values["low"], abs=0.0051)
        assert found[form]["high"] == pytest.approx(values["high"], abs=0.0051)


@pytest.mark.parametrize("case", VALUES["complete"], ids=lambda case: f"{len(case['scores'])} athletes")
def test_the_typical_error_is_the_residual_of_a_linear_model(case):
    assert typical_error_of(case["scores"]) == (pytest.approx(case["typical_error"]), case["dof"])


@pytest.mark.parametrize("case", VALUES["with_gaps"], ids=lambda case: f"{len(case['scores'])} athletes")
def test_with_tests_missing_every_test_gives_the_residual_of_a_linear_model(case):
    cells = [
        (str(i), str(j), score)
        for i, row in enumerate(case["scores"])
        for j, score in enumerate(row)
        if score is not None and not math.isnan(score)
    ]
    error, dof = typical_error_of_tests(*zip(*cells, strict=True))
    assert (error, dof) == (pytest.approx(case["typical_error"]), case["dof"])
    # A mixed model also uses what it assumes of the athletes' levels; here that moves nothing that counts.
    assert error == pytest.approx(case["mixed_model_error"], rel=0.01)
