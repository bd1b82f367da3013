"""The simulated rig check: masses, tares and flaws as they would be typed in."""

from dataclasses import replace

import pytest

from tests.simulation.rig import (
    PERFECT_RIG,
    Place,
    SimulatedRig,
    check_entry,
    local_gravity_m_s2,
    mass_torque_nm,
)

HEADER = {"name": "rig A", "stage": "opening", "at": "2026-03-04T08:14:00+01:00", "by": "tester 1"}
PLACE = Place(46.6, 1620.0)


@pytest.mark.parametrize(
    ("latitude_deg", "gravity_m_s2"), [(0, 9.7803267715), (45, 9.806199203), (90, 9.8321863685)]
)
def test_gravity_is_the_published_grs_80_value(latitude_deg, gravity_m_s2):
    # Moritz, Geodetic Reference System 1980, section 4
    assert local_gravity_m_s2(latitude_deg) == pytest.approx(gravity_m_s2, abs=1.5e-9)


def test_gravity_falls_by_the_free_air_gradient():
    assert local_gravity_m_s2(45, 100) - local_gravity_m_s2(45) == pytest.approx(-3.086e-4, abs=1e-7)


def test_a_perfect_rig_shows_the_torque_of_the_masses():
    entry = check_entry(PERFECT_RIG, PLACE, **HEADER)
    for point in entry["torque"]:
        expected_nm = mass_torque_nm(point["mass_kg"], 0.5, PLACE.gravity_m_s2)
        assert point["reading_nm"] == pytest.approx(expected_nm)


def test_a_check_goes_up_and_down_the_masses_in_both_directions():
    entry = check_entry(SimulatedRig(), PLACE, **HEADER, masses_kg=(5, 10, 20))
    up = [(point["run"], point["mass_kg"]) for point in entry["torque"] if point["direction"] == "up"]
    assert up == [("loading", m) for m in (5, 10, 20)] + [("unloading", m) for m in (20, 10, 5)]
    assert len(entry["torque"]) == 12
    assert entry["place"] == {"latitude_deg": 46.6, "height_m": 1620.0}
    assert (entry["stage"], entry["state"], entry["decision"]) == ("opening", "as-found", "guarded")


def test_slope_tare_hysteresis_and_drift_show_where_they_belong():
    rig = replace(PERFECT_RIG, slope_up=1.03, tare_up_nm=7.0, hysteresis_pct=0.5, drift_nm=0.4)
    entry = check_entry(rig, PLACE, **HEADER, masses_kg=(10, 20))
    up = [point["reading_nm"] for point in entry["torque"] if point["direction"] == "up"]
    full_nm = mass_torque_nm(20, 0.5, PLACE.gravity_m_s2)
    assert up[1] - 7.0 == pytest.approx(1.03 * full_nm, abs=0.4)
    assert up[3] - up[0] == pytest.approx(0.005 * full_nm, abs=0.15)
    assert entry["tare"]["up_before_nm"] == pytest.approx(7.0)
    assert entry["tare"]["down_after_nm"] == pytest.approx(0.4)


def test_the_display_rounds_to_its_step_and_noise_is_repeatable():
    entries = [check_entry(SimulatedRig(display_step_nm=0.1), PLACE, **HEADER, seed=3) for _ in range(2)]
    assert entries[0] == entries[1]
    assert entries[0] != check_entry(SimulatedRig(), PLACE, **HEADER, seed=4)
    for point in entries[0]["torque"]:
        assert point["reading_nm"] * 10 == pytest.approx(round(point["reading_nm"] * 10), abs=1e-9)
