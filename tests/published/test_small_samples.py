"""Squad statistics against the NIST/SEMATECH e-Handbook (two or more transcriptions seen)."""

import pytest

from fieldlog.analysis.calibration import coverage_factor
from fieldlog.analysis.squad import mean_interval, percentile, z_score

PARTICLES = [50, 48, 44, 56, 61, 52, 53, 55, 67, 51]
GAUGE = [
    95.1772,
    95.1567,
    95.1937,
    95.1959,
    95.1442,
    95.061,
    95.1591,
    95.1195,
    95.1772,
    95.0925,
    95.199,
    95.1682,
]


def test_the_t_interval_of_particle_counts():
    # Clause 7.2.2; the interval is recomputed from the same data.
    interval = mean_interval(PARTICLES)
    assert interval.mean == pytest.approx(53.7, abs=1e-9)
    assert interval.sd == pytest.approx(6.567, abs=5e-4)
    assert (interval.mean - 50) / (interval.sd / 10**0.5) == pytest.approx(1.782, abs=6e-4)
    assert coverage_factor(9) == pytest.approx(2.262, abs=5e-4)
    assert (interval.low, interval.high) == pytest.approx((49.002429, 58.397571), abs=1e-6)


def test_the_ninetieth_percentile_of_gauge_readings():
    # Clause 7.2.6.2: rank p(N + 1).
    assert percentile(GAUGE, 0.9, smallest=12) == pytest.approx(95.1981, abs=5e-5)


def test_a_z_score_takes_n_minus_one():
    assert z_score(9, [2, 4, 4, 4, 5, 5, 7, 9], smallest=8) == pytest.approx(1.870829, abs=1e-6)
