"""The load range: joined over short gaps, the longest run, nothing under 50 ms."""

import numpy as np
import pytest

from fieldlog.analysis.load_range import estimate_set_speed_deg_s, find_load_range
from fieldlog.analysis.movements import Span


def speeds(*stretches):
    return np.concatenate([np.full(count, float(speed)) for speed, count in stretches])


def test_the_band_is_a_share_of_the_set_speed():
    speed = speeds((0, 10), (113.9, 100), (114.1, 200), (125.9, 100), (126.1, 100))
    assert find_load_range(speed, 1000, 120, 5) == (110, 409)


def test_the_band_is_two_degrees_a_second_at_least():
    assert find_load_range(speeds((12.1, 50), (11.9, 100), (8.1, 100), (7.9, 50)), 1000, 10, 5) == (50, 249)


def test_a_gap_of_fifty_milliseconds_is_closed_and_a_longer_one_is_not():
    assert find_load_range(speeds((60, 300), (70, 50), (60, 200)), 1000, 60, 5) == (0, 549)
    assert find_load_range(speeds((60, 300), (70, 51), (60, 200)), 1000, 60, 5) == (0, 299)


def test_the_longest_run_counts_even_when_it_is_not_the_first():
    assert find_load_range(speeds((60, 100), (80, 200), (60, 300)), 1000, 60, 5) == (300, 599)


def test_many_short_gaps_of_a_lever_that_oscillates_are_joined():
    time_s = np.arange(1000) / 1000
    speed = 60 * (1 + 0.12 * np.exp(-time_s / 0.2) * np.sin(2 * np.pi * 12 * time_s))
    first, last = find_load_range(speed, 1000, 60, 5)
    assert (first, last) == (0, 999)


def test_a_run_of_less_than_fifty_milliseconds_is_none():
    assert find_load_range(speeds((0, 100), (60, 49), (0, 100)), 1000, 60, 5) is None
    assert find_load_range(speeds((0, 100), (60, 50), (0, 100)), 1000, 60, 5) == (100, 149)
    assert find_load_range(speeds((30, 500)), 1000, 60, 5) is None


def test_at_a_hundred_samples_a_second_five_samples_are_fifty_milliseconds():
    assert find_load_range(speeds((0, 10), (60, 5), (0, 10)), 100, 60, 5) == (10, 14)
    assert find_load_range(speeds((0, 10), (60, 4), (0, 10)), 100, 60, 5) is None


def ramp(speed, hold_s, ramp_s=0.1):
    rise = np.linspace(0, speed, round(ramp_s * 1000))
    return np.concatenate((rise, np.full(round(hold_s * 1000), float(speed)), rise[::-1]))


@pytest.mark.parametrize("speed", [5, 30, 60, 120, 180, 300, 450])
def test_the_set_speed_is_found_from_the_plateau(speed):
    velocity = ramp(speed, hold_s=0.15) + np.random.default_rng(4).normal(0, 0.3, 350)
    estimate = estimate_set_speed_deg_s(velocity, [Span(0, 349, "up")], 5)
    assert estimate == pytest.approx(speed, rel=0.005, abs=0.15)


def test_a_short_plateau_at_high_speed_is_still_found():
    velocity = ramp(300, hold_s=0.07, ramp_s=0.15)
    assert estimate_set_speed_deg_s(velocity, [Span(0, velocity.size - 1, "up")], 5) == 300


def test_an_estimate_close_to_a_step_of_five_is_rounded_and_another_one_is_not():
    velocity = ramp(59.8, hold_s=1)
    assert estimate_set_speed_deg_s(velocity, [Span(0, velocity.size - 1, "up")], 5) == 60
    velocity = ramp(43.6, hold_s=1)
    assert estimate_set_speed_deg_s(velocity, [Span(0, velocity.size - 1, "up")], 5) == pytest.approx(
        43.6, abs=0.05
    )


def test_downward_movements_count_as_speed_too():
    velocity = -ramp(90, hold_s=0.5)
    assert estimate_set_speed_deg_s(velocity, [Span(0, velocity.size - 1, "down")], 5) == 90
