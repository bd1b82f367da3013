"""Moments of body segments.

Winter D.A. (2009), table 4.1: read in a stored transcription by a university laboratory; the moments are
recomputed closed forms. College Physics (OpenStax 2012), example 9.4: numbers from memory, recomputed.
"""

import numpy as np
import pytest

from fieldlog.analysis.limb import fit_weight_torque
from fieldlog.analysis.limb_plausibility import segment_weight_nm


def test_shank_and_foot_of_eighty_kilogram():
    # Table 4.1 "Foot leg": 0.061 of the body mass, centre at 0.606 of 0.4 m; theta from horizontal.
    horizontal = segment_weight_nm(80, 0.061, 0.606, 0.4)
    moments = horizontal * np.cos(np.radians([0, 30, 90]))
    assert moments == pytest.approx([11.6005, 10.0463, 0.0], abs=2e-4)


def test_a_sweep_of_that_limb_gives_its_moment_back():
    angle = np.linspace(0, 90, 181)
    weight = fit_weight_torque(angle, segment_weight_nm(80, 0.061, 0.606, 0.4) * np.cos(np.radians(angle)))
    assert weight.amplitude_nm == pytest.approx(11.6005, abs=2e-4)


def test_the_forearm_that_holds_a_book():
    # Forearm 2.5 kg with its centre 0.16 m from the elbow, g = 9.8: the segment alone 3.92 N m.
    assert segment_weight_nm(2.5, 1.0, 1.0, 0.16, gravity_m_s2=9.8) == pytest.approx(3.92, abs=1e-9)
