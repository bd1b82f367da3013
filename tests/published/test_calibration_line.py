"""Straight lines against JCGM 100:2008 (GUM) H.3 and the NIST Statistical Reference Datasets."""

import numpy as np
import pytest

from fieldlog.analysis.calibration import fit_line

# JCGM 100:2008 table H.6 (read in a stored document, recomputed).
TEMPERATURE = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.01, 26.511]
CORRECTION = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.16]

# NIST StRD, Norris (unmodified dataset file seen).
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
    0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
    0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
]  # fmt: skip
NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
    0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
    0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
]  # fmt: skip


def test_the_thermometer_line_of_gum_h3_is_found_as_printed():
    # JCGM 100:2008 H.3.3, equations H.13a-g; half a unit of the last printed digit.
    line = fit_line(TEMPERATURE, CORRECTION, origin=20.0)
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.u_intercept == pytest.approx(0.0029, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.u_slope == pytest.approx(0.00067, abs=5e-6)
    assert line.correlation == pytest.approx(-0.93, abs=5e-4)
    assert line.residual_sd == pytest.approx(0.0035, abs=5e-5)
    assert line.dof == 9


def test_the_thermometer_line_predicts_the_printed_corrections():
    # Table H.6, columns "predicted" and "residual"; one unit, as one residual sits on a rounding boundary.
    line = fit_line(TEMPERATURE, CORRECTION, origin=20.0)
    predicted = [
        -0.1679,
        -0.1668,
        -0.1657,
        -0.1646,
        -0.1635,
        -0.1625,
        -0.1614,
        -0.1603,
        -0.1592,
        -0.1581,
        -0.157,
    ]
    residuals = [-0.0031, -0.0022, -0.0003, 0.0056, -0.0005, -0.0025, 0.0054, 0.0033, 0.0002, -0.0029, -0.003]
    for t, b, expected, residual in zip(TEMPERATURE, CORRECTION, predicted, residuals, strict=True):
        assert line.predict(t)[0] == pytest.approx(expected, abs=1e-4)
        assert b - line.predict(t)[0] == pytest.approx(residual, abs=1e-4)


def test_the_correction_at_30_degrees_has_the_printed_uncertainty():
    # JCGM 100:2008 H.3.4: b(30) = -0.1494 with 0.0041 (from memory of the printed example; recomputed).
    value, u = fit_line(TEMPERATURE, CORRECTION, origin=20.0).predict(30.0)
    assert value == pytest.approx(-0.1494, abs=5e-5)
    assert u == pytest.approx(0.0041, abs=5e-5)


def test_with_the_origin_at_the_mean_the_parameters_are_uncorrelated():
    # JCGM 100:2008 H.3.5, equations H.16 and H.17.
    line = fit_line(TEMPERATURE, CORRECTION, origin=float(np.mean(TEMPERATURE)))
    assert line.intercept == pytest.approx(-0.1625, abs=5e-5)
    assert line.u_intercept == pytest.approx(0.0011, abs=5e-5)
    assert line.correlation == pytest.approx(0.0, abs=1e-9)


def test_norris_comes_out_to_nine_certified_digits():
    line = fit_line(NORRIS_X, NORRIS_Y)
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-9)
    assert line.u_intercept == pytest.approx(0.232818234301152, rel=1e-9)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-9)
    assert line.u_slope == pytest.approx(0.000429796848199937, rel=1e-9)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=1e-9)
    assert line.dof == 34
