"""The team's own error, shrunk towards a published one."""

import math

import pytest

from fieldlog.analysis.error_bank import expected_chance_marks, pool_errors, shrink_error


def test_errors_pool_as_variances_weighted_by_degrees_of_freedom():
    value, dof = pool_errors([3.0, 6.0], [10, 20])
    assert value == pytest.approx(math.sqrt((10 * 9 + 20 * 36) / 30))
    assert dof == 30


def test_without_own_retests_the_published_error_stands():
    estimate = shrink_error(0.0, 0, 8.0)
    assert (estimate.value, estimate.dof, estimate.own_pct) == (8.0, 10.0, 0.0)


def test_own_data_take_over_as_they_grow():
    few, more = shrink_error(4.0, 5, 8.0), shrink_error(4.0, 20, 8.0)
    assert 4.0 < more.value < few.value < 8.0
    assert (few.dof, more.dof) == (pytest.approx(5 + 10 * 25 / 30), pytest.approx(20 + 10 / 3))
    assert few.own_pct < more.own_pct < 100.0


def test_from_thirty_degrees_of_freedom_on_own_data_stand_alone():
    estimate = shrink_error(4.0, 30, 8.0)
    assert (estimate.value, estimate.dof, estimate.own_pct) == (4.0, 30.0, 100.0)
    assert shrink_error(4.0, 500, 8.0).value == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("errors", "dofs"), [([], []), ([1], [0]), ([-1], [2]), ([math.nan], [2]), ([1], [2, 3])]
)
def test_what_cannot_be_pooled_is_refused(errors, dofs):
    with pytest.raises(ValueError):
        pool_errors(errors, dofs)


def test_chance_alone_marks_one_in_twenty():
    assert expected_chance_marks(40) == pytest.approx(2.0)
