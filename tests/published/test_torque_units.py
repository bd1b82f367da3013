"""Unit factors against NIST SP 811 (2008), appendix B.8, and the definitions they follow from.

Definitions (1 in = 0.0254 m, 1 lb = 0.45359237 kg, standard gravity 9.80665 m/s2): from memory, recomputed.
SP 811 factors for lbf ft and lbf in: read in stored texts that quote it; kgf m: from memory, recomputed.
"""

import math

import pytest

from fieldlog.analysis.units import DEG_PER_UNIT, DEG_S_PER_UNIT, NM_PER_UNIT, S_PER_UNIT


@pytest.mark.parametrize(
    ("unit", "printed", "exact"),
    [
        ("lbf_ft", 1.355818, 1.3558179483314003),
        ("lbf_in", 0.1129848, 0.1129848290276167),
        ("kgf_m", 9.80665, 9.80665),
        ("nm", 1.0, 1.0),
    ],
)
def test_torque_units(unit, printed, exact):
    assert NM_PER_UNIT[unit] == pytest.approx(exact, rel=1e-14)
    assert NM_PER_UNIT[unit] == pytest.approx(printed, rel=6e-7)


def test_two_hundred_pound_force_feet():
    assert 200 * NM_PER_UNIT["lbf_ft"] == pytest.approx(271.1635896662801, rel=1e-13)
    assert 100 / NM_PER_UNIT["lbf_ft"] == pytest.approx(73.75621492772655, rel=1e-13)


def test_angles_speeds_and_times():
    assert 1 / DEG_PER_UNIT["rad"] == pytest.approx(0.017453292519943295, rel=1e-14)
    assert 60 / DEG_S_PER_UNIT["rad/s"] == pytest.approx(1.0471975511965976, rel=1e-14)
    assert S_PER_UNIT["ms"] == 0.001
    assert math.isclose(DEG_PER_UNIT["rad"] * math.pi, 180)
