"""Local gravity: sensible everywhere, refused off the earth."""

import math
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldlog.analysis.gravity import local_gravity


@settings(max_examples=50)
@given(st.floats(-90, 90), st.floats(-400, 8000))
def test_gravity_lies_within_what_the_earth_has(latitude_deg, height_m):
    assert 9.755 < local_gravity(latitude_deg, height_m) < 9.834


@settings(max_examples=30)
@given(st.floats(0, 89), st.floats(0.01, 1))
def test_gravity_grows_towards_the_poles(latitude_deg, step_deg):
    assert local_gravity(latitude_deg + step_deg) > local_gravity(latitude_deg)


@pytest.mark.parametrize(
    "place", [(90.01,), (-91.0,), (math.nan,), (math.inf,), (45.0, math.nan), (45.0, math.inf)]
)
def test_a_place_off_the_earth_is_refused(place):
    with pytest.raises(ValueError, match=r"latitude|height"):
        local_gravity(*place)


def test_neither_gravity_nor_a_reference_torque_needs_numpy():
    code = (
        "import sys; from fieldlog.analysis.gravity import local_gravity; "
        "from fieldlog.analysis.calibration import reference_torque, decide, fit_line; "
        "reference_torque(20, .5, gravity_m_s2=local_gravity(60)); fit_line([1, 2, 3], [1, 2, 4]); "
        "decide(0.1, 0.1, 1.0); sys.exit(bool({'numpy', 'scipy'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
