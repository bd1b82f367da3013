"""Pooled standard deviation against the NIST Statistical Reference Datasets (dataset files seen)."""

import pytest

from fieldlog.analysis.calibration import pooled_sd

# StRD Michelso, speed of light in Mm/s.
MICHELSO = [
    299.85, 299.74, 299.9, 300.07, 299.93, 299.85, 299.95, 299.98, 299.98, 299.88,
    300.0, 299.98, 299.93, 299.65, 299.76, 299.81, 300.0, 300.0, 299.96, 299.96,
    299.96, 299.94, 299.96, 299.94, 299.88, 299.8, 299.85, 299.88, 299.9, 299.84,
    299.83, 299.79, 299.81, 299.88, 299.88, 299.83, 299.8, 299.79, 299.76, 299.8,
    299.88, 299.88, 299.88, 299.86, 299.72, 299.72, 299.62, 299.86, 299.97, 299.95,
    299.88, 299.91, 299.85, 299.87, 299.84, 299.84, 299.85, 299.84, 299.84, 299.84,
    299.89, 299.81, 299.81, 299.82, 299.8, 299.77, 299.76, 299.74, 299.75, 299.76,
    299.91, 299.92, 299.89, 299.86, 299.88, 299.72, 299.84, 299.85, 299.85, 299.78,
    299.89, 299.84, 299.78, 299.81, 299.76, 299.81, 299.79, 299.81, 299.82, 299.85,
    299.87, 299.87, 299.81, 299.74, 299.81, 299.94, 299.95, 299.8, 299.81, 299.87,
]  # fmt: skip

# StRD SiRstv, resistivity of silicon wafers, five instruments.
WAFERS = [
    [196.3052, 196.124, 196.189, 196.2569, 196.3403],
    [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
    [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
    [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
    [196.2119, 196.1051, 196.185, 196.0052, 196.209],
]


@pytest.mark.parametrize(
    ("values", "sd", "digits"),
    [
        ([10000001, 10000003, 10000002], 1.0, 1e-12),
        ([1.2] + [1.1, 1.3] * 500, 0.1, 1e-9),
        # The values cannot be held exactly in binary: 9 to 10 digits of the SD are all there are.
        ([1000000.2] + [1000000.1, 1000000.3] * 500, 0.1, 1e-7),
        (MICHELSO, 0.0790105478190518, 1e-9),
    ],
    ids=["NumAcc1", "NumAcc2", "NumAcc3", "Michelso"],
)
def test_the_sd_of_one_group_is_the_certified_one(values, sd, digits):
    found, dof = pooled_sd([values])
    assert found == pytest.approx(sd, rel=digits)
    assert dof == len(values) - 1


def test_the_pooled_sd_is_the_certified_one_within_groups():
    sd, dof = pooled_sd(WAFERS)
    assert sd == pytest.approx(0.104076068334656, rel=1e-8)
    assert dof == 20
