"""Entry errors, mixed units, and errors from tests of which some are missing."""

import math

import numpy as np
import pytest

from fieldlog.analysis.doubtful import doubtful_scores, mixed_units, robust_typical_error
from fieldlog.analysis.reliability import typical_error_of
from fieldlog.analysis.repeats import typical_error_of_tests


def squad(seed=3, athletes=20, visits=4, error=0.06):
    """Torques of a squad in N·m whose errors grow with the torque."""
    rng = np.random.default_rng(seed)
    level = rng.normal(5.2, 0.25, (athletes, 1))
    return np.exp(level + rng.normal(0, error, (athletes, visits)))


def test_a_slip_is_found_where_other_tests_of_the_athlete_are_missing():
    scores = squad()
    scores[4, 1], scores[4, 3] = 20.0, math.nan
    assert [(each.athlete, each.visit) for each in doubtful_scores(scores)] == [(4, 1)]


def test_a_slip_of_a_weak_athlete_is_seen_beside_strong_ones():
    scores = squad()
    scores[7] = [60.0, 62.0, 28.0, 59.0]
    found = doubtful_scores(scores)
    assert [(each.athlete, each.visit) for each in found] == [(7, 2)]
    assert found[0].expected == pytest.approx(60.0, rel=0.08)


def test_a_steady_climb_is_no_slip():
    scores = squad()
    scores[7] = [60.0, 80.0, 105.0, 140.0]
    assert doubtful_scores(scores) == ()


def test_a_slip_of_sign_is_found():
    scores = squad()
    scores[2, 2] *= -1
    found = doubtful_scores(scores)
    assert [(each.athlete, each.visit) for each in found] == [(2, 2)]
    assert found[0].expected == pytest.approx(-scores[2, 2], rel=0.2)


def test_a_visit_in_another_unit_is_named_with_both_units():
    scores = squad()
    scores[:, 2] /= 1.35582
    (mix,) = mixed_units(scores)
    assert (mix.visit, mix.units) == (2, "N·m and lbf·ft")
    assert mix.ratio == pytest.approx(0.7376, rel=0.06)


def test_of_two_visits_in_different_units_one_is_named():
    scores = squad(visits=2)
    scores[:, 1] /= 9.80665
    assert [mix.visit for mix in mixed_units(scores)] == [1]


def test_a_squad_that_became_stronger_mixes_no_units():
    scores = squad()
    scores[:, 2:] *= 1.15
    assert mixed_units(scores) == ()
    assert mixed_units(squad() - 300) == ()


@pytest.mark.parametrize("scores", [[1, 2], [[1, math.inf], [2, 3]], [[1, math.nan], [2, math.nan]], [[]]])
def test_what_is_no_table_of_tests_is_refused(scores):
    with pytest.raises(ValueError):
        doubtful_scores(scores)
    with pytest.raises(ValueError):
        robust_typical_error(scores)


def listed(table):
    cells = [
        (str(i), str(j), v) for i, row in enumerate(table) for j, v in enumerate(row) if not math.isnan(v)
    ]
    return zip(*cells, strict=True)


def test_for_a_complete_table_every_test_gives_the_two_way_error():
    scores = squad()
    assert typical_error_of_tests(*listed(scores)) == (
        pytest.approx(typical_error_of(scores)[0]),
        typical_error_of(scores)[1],
    )


def test_missing_tests_cost_degrees_of_freedom_and_leave_the_error_unbiased():
    rng = np.random.default_rng(5)
    squares = []
    for seed in range(60):
        scores = np.log(squad(seed))
        scores[rng.random(scores.shape) < 0.3] = np.nan
        value, dof = typical_error_of_tests(*listed(scores))
        assert dof < 57
        squares.append(value**2)
    assert math.sqrt(np.mean(squares)) == pytest.approx(0.06, rel=0.04)


def test_an_athlete_tested_once_adds_nothing():
    scores = squad()
    athletes, visits, values = (list(each) for each in listed(scores))
    alone = typical_error_of_tests([*athletes, "new"], [*visits, "0"], [*values, 900.0])
    assert alone == (pytest.approx(typical_error_of(scores)[0]), typical_error_of(scores)[1])
    assert typical_error_of_tests(["a", "b"], ["1", "1"], [3.0, 4.0]) is None
    assert typical_error_of_tests([], [], []) is None


def test_equal_scores_have_no_error():
    assert typical_error_of_tests(*listed([[0.1, 0.1], [0.1, 0.1], [0.1, 0.1]]))[0] == 0.0


@pytest.mark.parametrize("tests", [(["a"], ["1"], []), (["a"], ["1"], [math.nan])])
def test_a_test_without_its_score_is_refused(tests):
    with pytest.raises(ValueError):
        typical_error_of_tests(*tests)
