"""Moments of body segments.

Winter D.A. (2009), table 4.1: read in a stored transcription by a university laboratory; the moments are
recomputed closed forms. College Physics (OpenStax 2012), example 9.4: numbers from memory, recomputed.
"""

import numpy as np
import orjson
import pytest

from fieldlog.analysis.limb import fit_weight_torque
from fieldlog.analysis.limb_plausibility import segment_weight_nm
from fieldlog.fieldwork.catalogue import read_shipped
from fieldlog.fieldwork.recording.body_segments import handbook_range_nm


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


def test_the_shipped_table_holds_the_published_shares():
    # Winter 2009, table 4.1: share of body mass, centre of mass from the near joint.
    published = {
        "foot": (0.0145, 0.5),
        "shank": (0.0465, 0.433),
        "thigh": (0.1, 0.433),
        "shank and foot": (0.061, 0.606),
        "whole leg": (0.161, 0.447),
        "hand": (0.006, 0.506),
        "forearm": (0.016, 0.43),
        "upper arm": (0.028, 0.436),
        "forearm and hand": (0.022, 0.682),
        "whole arm": (0.05, 0.53),
        "head, arms and trunk": (0.678, 0.626),
    }
    shipped = orjson.loads(read_shipped("body_segments.json"))
    assert "Winter" in shipped["source"]
    assert {
        name: (segment["mass_share"], segment["centre_share"])
        for name, segment in shipped["segments"].items()
    } == published


def test_the_published_shares_add_up():
    # Printed to three digits: the parts give the whole within 0.0011 of body mass.
    share = {
        name: segment["mass_share"]
        for name, segment in orjson.loads(read_shipped("body_segments.json"))["segments"].items()
    }
    assert share["foot"] + share["shank"] == pytest.approx(share["shank and foot"], abs=1.1e-3)
    assert share["thigh"] + share["shank and foot"] == pytest.approx(share["whole leg"], abs=1.1e-3)
    assert share["upper arm"] + share["forearm and hand"] == pytest.approx(share["whole arm"], abs=1.1e-3)
    assert share["head, arms and trunk"] + 2 * share["whole leg"] == pytest.approx(1.0, abs=1.1e-3)


def test_the_shipped_table_gives_the_shank_and_foot_of_eighty_kilogram():
    # 0.4 m of shank, reached from a lever 5 cm and 15 cm shorter: 11.6005 N m, recomputed from table 4.1.
    least_nm, _ = handbook_range_nm("knee", 80.0, 35.0)
    _, greatest_nm = handbook_range_nm("knee", 80.0, 25.0)
    assert (least_nm, greatest_nm) == pytest.approx((11.6005, 11.6005), abs=2e-4)
