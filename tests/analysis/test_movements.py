"""Where a recording moves."""

import numpy as np
import pytest

from fieldlog.analysis.filters import slope_per_s
from fieldlog.analysis.movements import find_movements, rest_speed_deg_s

RATE_HZ = 1000


def course(*stretches):
    """Angle and velocity of (speed in °/s, seconds) stretches, one after another, from 10°."""
    velocity = np.concatenate(
        [np.full(round(seconds * RATE_HZ), float(speed)) for speed, seconds in stretches]
    )
    return 10 + np.cumsum(velocity) / RATE_HZ, velocity


def spans(*stretches):
    return [(span.direction, span.first, span.last) for span in find_movements(*course(*stretches))]


def test_a_movement_runs_from_the_last_sample_at_rest_to_the_first_again_at_rest():
    assert spans((0, 0.5), (60, 1), (0, 0.5)) == [("up", 499, 1500)]


def test_a_dwell_belongs_to_neither_neighbour():
    assert spans((0, 0.5), (60, 1), (0, 0.5), (-60, 1), (0, 0.5)) == [("up", 499, 1500), ("down", 1999, 3000)]


def test_a_turn_without_a_dwell_parts_two_movements():
    assert spans((0, 0.1), (60, 1), (-60, 1), (0, 0.1)) == [("up", 99, 1099), ("down", 1100, 2100)]


def test_a_movement_cut_off_by_the_start_and_end_of_the_recording_is_found():
    assert spans((60, 1), (0, 0.2), (-60, 1)) == [("up", 0, 1000), ("down", 1199, 2199)]


def test_creeping_below_two_percent_of_the_fastest_speed_is_rest():
    assert spans((0, 0.2), (5.9, 1), (300, 0.3), (5.9, 1)) == [("up", 1199, 1500)]
    assert spans((0, 0.2), (6.1, 1), (300, 0.3), (6.1, 1)) == [("up", 199, 2499)]


def test_below_one_degree_a_second_is_rest_however_slow_the_recording():
    assert spans((0, 1), (0.9, 10), (0, 1)) == []
    assert rest_speed_deg_s(np.array([0.0, 4.0])) == 1.0


def test_a_sweep_shorter_than_forty_percent_of_the_longest_is_no_movement():
    assert len(spans((0, 0.1), (60, 1), (0, 0.1), (-60, 0.39), (0, 0.1))) == 1
    assert len(spans((0, 0.1), (60, 1), (0, 0.1), (-60, 0.41), (0, 0.1))) == 2


def test_a_sweep_shorter_than_five_degrees_is_no_movement():
    assert spans((0, 0.1), (60, 0.08), (0, 0.1)) == []


def test_a_rebound_at_the_stop_is_no_movement():
    assert [way for way, *_ in spans((0, 0.1), (60, 1), (-40, 0.05), (20, 0.05), (0, 0.3))] == ["up"]


def test_noise_at_rest_makes_no_movement():
    angle, velocity = course((0, 1), (60, 1), (0, 1))
    noisy = velocity + np.random.default_rng(2).normal(0, 2, velocity.size)
    (span,) = find_movements(angle, noisy)
    assert span.first == pytest.approx(999, abs=3)
    assert span.last == pytest.approx(2000, abs=3)


def test_movements_do_not_depend_on_the_direction_of_the_scale():
    angle, velocity = course((0, 0.2), (60, 1), (0, 0.2), (-60, 0.8))
    mirrored = find_movements(-angle, -velocity)
    assert [(span.first, span.last) for span in mirrored] == [
        (span.first, span.last) for span in find_movements(angle, velocity)
    ]
    assert [span.sign for span in mirrored] == [-1, 1]


def test_a_sine_is_parted_at_its_turns():
    time_s = np.arange(0, 8, 1 / RATE_HZ)
    angle = 45 - 40 * np.cos(np.pi * time_s)
    found = find_movements(angle, slope_per_s(angle, RATE_HZ))
    assert [span.direction for span in found] == ["up", "down"] * 4
    assert [time_s[span.last] for span in found] == pytest.approx(np.arange(1, 9), abs=0.02)
