"""Even grids: what is left alone, what is put right, what is refused."""

import numpy as np
import pytest

from fieldlog.analysis.sampling import on_even_grid


def test_even_samples_come_back_untouched():
    time_s = np.arange(500) / 250
    torque = np.arange(500.0)
    grid = on_even_grid(time_s, (torque,))
    assert grid.signals[0] is torque
    assert grid.rate_hz == pytest.approx(250)
    assert not grid.uneven
    assert not grid.resampled
    assert grid.gaps_s == ()


@pytest.mark.parametrize(("rate_hz", "decimals"), [(300, 3), (1000, 3), (2000, 4), (66.67, 2)])
def test_instants_rounded_to_their_last_digit_count_as_even(rate_hz, decimals):
    time_s = np.round(12.0 + np.arange(3000) / rate_hz, decimals)
    grid = on_even_grid(time_s, (np.zeros(3000),))
    assert not grid.uneven
    assert grid.rate_hz == pytest.approx(rate_hz, rel=1e-3)


def test_jitter_is_found_and_resampled():
    random = np.random.default_rng(1)
    time_s = np.arange(4000) / 1000 + random.uniform(-0.0003, 0.0003, 4000)
    grid = on_even_grid(time_s, (np.sin(time_s),))
    assert grid.uneven
    assert grid.resampled
    assert grid.signals[0] == pytest.approx(np.sin(grid.time_s), abs=1e-6)
    assert np.ptp(np.diff(grid.time_s)) < 1e-9


def test_a_change_of_rate_half_way_is_uneven():
    time_s = np.concatenate((np.arange(1000) / 1000, 1 + np.arange(500) / 500))
    assert on_even_grid(time_s, (time_s,)).uneven


def test_a_lost_stretch_is_a_gap_and_not_jitter():
    time_s = np.arange(4000) / 1000
    kept = time_s[(time_s < 1.2) | (time_s >= 1.3)]
    grid = on_even_grid(kept, (kept,))
    assert not grid.uneven
    assert grid.gaps_s == ((pytest.approx(1.199), pytest.approx(1.3)),)
    assert grid.time_s.size == 4000
    assert grid.signals[0] == pytest.approx(grid.time_s)


def test_one_lost_sample_is_bridged_without_calling_it_a_gap():
    time_s = np.delete(np.arange(1000) / 500, 400)
    grid = on_even_grid(time_s, (time_s,))
    assert grid.gaps_s == ()
    assert grid.uneven


def test_a_break_longer_than_the_recording_is_refused_instead_of_filling_the_memory():
    time_s = np.concatenate((np.arange(500) / 1000, 86_400 + np.arange(500) / 1000))
    with pytest.raises(ValueError, match=r"nothing was recorded for 8.64e\+04 s after 0.499 s"):
        on_even_grid(time_s, (time_s,))


@pytest.mark.parametrize("step_s", [1.0, 1e-7])
def test_a_rate_no_rig_has_is_a_wrong_unit_of_time(step_s):
    with pytest.raises(ValueError, match="check the unit of time"):
        on_even_grid(np.arange(100) * step_s, (np.zeros(100),))


@pytest.mark.parametrize(("gap_s", "refused"), [(2, False), (5, True)])
def test_most_of_a_recording_must_have_been_recorded(gap_s, refused):
    time_s = np.concatenate((np.arange(500) / 1000, gap_s + np.arange(500) / 1000))
    if refused:
        with pytest.raises(ValueError, match="nothing was recorded"):
            on_even_grid(time_s, (time_s,))
    else:
        assert on_even_grid(time_s, (time_s,)).time_s.size == 1000 * gap_s + 500
