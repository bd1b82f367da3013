"""A flat top is found, and a coarse converter, a steady hold or a quiet limb is not taken for one."""

import numpy as np
import pytest

from fieldlog.analysis.clipping import clipped_samples

RATE_HZ = 1000
TIME_S = np.arange(0, 6, 1 / RATE_HZ)
EFFORTS = 180 * np.maximum(np.sin(np.pi * TIME_S), 0) - 110 * np.maximum(-np.sin(np.pi * TIME_S), 0)


def noise(sd):
    return np.random.default_rng(9).normal(0, sd, TIME_S.size)


@pytest.mark.parametrize("limit", [60, 120, 175, 178])
@pytest.mark.parametrize("sd", [0, 0.3, 2])
def test_a_torque_limit_is_noticed(limit, sd):
    torque = np.round(np.minimum(EFFORTS + noise(sd), limit), 2)
    found = clipped_samples(torque, RATE_HZ)
    assert found.size
    assert (torque[found] == limit).all()


def test_a_limit_of_the_downward_torque_is_noticed():
    found = clipped_samples(np.maximum(EFFORTS, -90), RATE_HZ)
    assert found.size
    assert (EFFORTS[found] <= -90).all()


@pytest.mark.parametrize("step", [0.001, 0.05, 0.5, 1, 2, 4])
@pytest.mark.parametrize("sd", [0, 0.1, 0.5, 1])
def test_a_coarse_converter_is_no_limit(step, sd):
    torque = np.round((EFFORTS + noise(sd)) / step) * step
    assert clipped_samples(torque, RATE_HZ).size == 0


def test_a_hold_that_creeps_up_to_its_plateau_is_no_limit():
    hold = 200 * (1 - np.exp(-np.maximum(TIME_S - 1, 0) / 0.08)) * np.exp(-np.maximum(TIME_S - 4, 0) / 0.08)
    assert clipped_samples(np.round(hold, 3), RATE_HZ).size == 0


def test_rest_at_exactly_zero_is_no_limit():
    assert clipped_samples(np.maximum(EFFORTS, 0), RATE_HZ).size == 0
    assert clipped_samples(np.zeros(1000), RATE_HZ).size == 0


def test_a_flat_top_of_a_few_samples_is_no_limit():
    torque = EFFORTS.copy()
    torque[500:504] = 190.0
    assert clipped_samples(torque, RATE_HZ).size == 0
