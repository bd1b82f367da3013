"""The team's own error bank: what counts as a repeated test, and how published errors stand in."""

import datetime as dt
import math

import numpy as np
import pytest

from fieldlog.analysis.reliability import typical_error
from fieldlog.errors import InputError
from fieldlog.fieldwork.change.own_errors import ErrorBank
from fieldlog.fieldwork.change.published_errors import Wanted, published_error, type_in_error, typed_errors
from fieldlog.fieldwork.change.repeated_tests import key_of, repetition_class
from fieldlog.fieldwork.change.trial_book import TrialBook
from fieldlog.fieldwork.results.measure_list import MEASURES, PEAK
from fieldlog.records.repeat_span import RepeatSpan
from tests.simulation.squad_tests import KNEE, TRUNK, InventedTeam

FIRST, ONE, TWO = "2031-03-01", "2031-03-08", "2031-03-15"


@pytest.fixture
def team(tmp_path):
    team = InventedTeam(tmp_path / "workspace")
    yield team
    team.workspace.close()


def repeated(team, *, days=(FIRST, ONE, TWO), athletes=8, error=0.05, seed=1, told=lambda day, number: {}):
    """Athletes tested on these days; the logarithms of their torques, athletes × days."""
    rng = np.random.default_rng(seed)
    people = [team.athlete(f"R{number:02d}", sex="male", squad="rowers") for number in range(athletes)]
    logs = rng.normal(5.2, 0.2, (athletes, 1)) + rng.normal(0.0, error, (athletes, len(days)))
    for place, day in enumerate(days):
        visit = team.day(day)
        for number, athlete in enumerate(people):
            team.test(visit, athlete, float(np.exp(logs[number, place])), **told(place, number))
    return people, logs


def last_score(team, athlete, measure=PEAK):
    trials = TrialBook(team.workspace)
    return ErrorBank(trials), trials.scores(athlete.id, MEASURES[measure], trials.trials(athlete.id)[0].line)[
        -1
    ]


def test_repeated_tests_give_the_typical_error_of_their_logarithms_without_the_first_visit(team):
    people, logs = repeated(team)
    bank, score = last_score(team, people[0])
    own = bank.own(score)
    assert own.value == pytest.approx(typical_error(logs[:, 1], logs[:, 2]))
    assert (own.dof, own.pairs, own.athletes, own.left_out) == (7, 8, 8, 8)


def test_first_visits_count_where_asked_for(team):
    people, _ = repeated(team)
    bank, score = last_score(team, people[0])
    bank.with_first_visits = True
    assert (bank.own(score).pairs, bank.own(score).dof) == (16, 14)


def test_tests_further_apart_than_two_weeks_are_no_repeats(team):
    people, _ = repeated(team, days=(FIRST, ONE, "2031-03-23"))
    bank, score = last_score(team, people[0])
    assert bank.own(score) is None


def test_the_team_can_say_that_nothing_was_done_between(team):
    people, _ = repeated(team, days=(FIRST, ONE, "2031-03-23"))
    day = dt.date.fromisoformat
    team.keep(
        RepeatSpan(id="s1", kind="repeat", first_day=day(ONE), last_day=day("2031-03-23"), squad="rowers")
    )
    bank, score = last_score(team, people[0])
    assert bank.own(score).pairs == 8


def test_a_treatment_parts_tests_whatever_else_is_said(team):
    people, _ = repeated(team)
    day = dt.date.fromisoformat
    team.keep(
        RepeatSpan(id="s1", kind="treatment", first_day=day(ONE), last_day=day(TWO), athlete_id=people[0].id)
    )
    bank, score = last_score(team, people[1])
    assert bank.own(score).pairs == 7


@pytest.mark.parametrize(
    "told",
    [
        lambda day, number: {"repetitions": 3 if day == 2 else 6},
        lambda day, number: {"gravity": "sweep" if day == 2 else "none"},
        lambda day, number: {"recipe": {"cutoff_hz": 8.0 if day == 2 else 15.0}},
        lambda day, number: {"setup": {"foot_plate": 21.0} if day == 2 else {}},
    ],
    ids=["repetitions", "weight", "recipe", "setup"],
)
def test_tests_that_do_not_compare_are_no_repeats(team, told):
    people, _ = repeated(team, told=told)
    bank, score = last_score(team, people[0])
    assert bank.own(score) is None


def test_a_shift_of_the_whole_squad_is_no_error_of_the_test(team):
    people, logs = repeated(team)
    later = team.day("2031-03-22")
    for number, athlete in enumerate(people):
        team.test(later, athlete, 1.1 * float(np.exp(logs[number, 2])))
    bank, score = last_score(team, people[0])
    # The last two tests of everybody differ by the same 10 %, so they add nothing but degrees of freedom.
    assert bank.own(score).dof == 14
    assert bank.own(score).value < 0.06


def test_another_tester_has_an_error_of_their_own(team):
    people, logs = repeated(team, told=lambda day, number: {"by": "tester 2" if day == 2 else "tester 1"})
    bank, score = last_score(team, people[0])
    assert bank.own(score, "same") is None
    changed = bank.own(score, "changed")
    assert changed.value == pytest.approx(typical_error(logs[:, 1], logs[:, 2]))
    assert bank.in_use(score, "changed").own_pct == 100.0


def test_of_a_changed_tester_nothing_is_known_without_own_tests(team):
    people, _ = repeated(team, days=(FIRST,))
    bank, score = last_score(team, people[0])
    assert bank.in_use(score, "changed") is None
    type_in_error(
        team.workspace,
        by="lead",
        family="peak torque",
        value=9.0,
        tester="changed",
        citation="an invented paper",
    )
    bank, score = last_score(team, people[0])
    assert bank.in_use(score, "changed").percent == pytest.approx(9.0)


def test_without_own_tests_the_published_error_stands_with_its_source(team):
    people, _ = repeated(team, days=(FIRST,))
    bank, score = last_score(team, people[0])
    error = bank.in_use(score)
    assert error.percent == pytest.approx(7.0)
    assert (error.dof, error.own_pct) == (10.0, 0.0)
    assert error.words.startswith("typical error 7.0 %: Roth 2017")
    assert error.words.endswith("no own repeated tests yet")


def test_own_tests_take_over_as_they_grow(team):
    people, _ = repeated(team, error=0.02)
    bank, score = last_score(team, people[0])
    own, used = bank.own(score), bank.in_use(score)
    assert own.value < used.value < math.log1p(0.07)
    assert used.dof == pytest.approx(7 + 10 * (1 - 7 / 30))
    assert "8 own pairs, shrunk towards Roth 2017" in used.words


def test_a_typed_in_error_that_says_more_goes_first(team):
    people, _ = repeated(team, days=(FIRST,))
    for value, more in (
        (6.0, {}),
        (5.0, {"region": "trunk"}),
        (4.0, {"region": "trunk", "direction": "down"}),
    ):
        type_in_error(
            team.workspace, by="lead", family="peak torque", value=value, citation="an invented paper", **more
        )
    bank, score = last_score(team, people[0])
    assert score.line.direction == "up"
    assert bank.in_use(score).percent == pytest.approx(5.0)
    assert "an invented paper" in bank.in_use(score).words


def test_an_error_without_citation_or_given_twice_is_refused(team):
    with pytest.raises(InputError, match="citation"):
        type_in_error(team.workspace, by="lead", family="peak torque", value=5.0, citation=" ")
    with pytest.raises(InputError, match="points"):
        type_in_error(team.workspace, by="lead", family="angle", value=5.0, citation="an invented paper")
    type_in_error(team.workspace, by="lead", family="work", value=5.0, citation="an invented paper")
    with pytest.raises(InputError, match="there already"):
        type_in_error(team.workspace, by="lead", family="work", value=6.0, citation="another paper")
    assert [kept.record.value for kept in typed_errors(team.workspace)] == [5.0]


def test_measures_without_a_published_error_say_whose_they_take():
    work = published_error((), Wanted("work", "knee"))
    assert (work.value, work.source[:20]) == (7.5, "as for peak torque (")
    ratio = published_error((), Wanted("ratio", "trunk"))
    assert ratio.value == pytest.approx(7.0 * math.sqrt(2))
    assert published_error((), Wanted("ratio", "knee")).value == 9.9
    assert published_error((), Wanted("side difference", "hip")).unit == "points"


def test_ratios_are_taken_as_they_are(team):
    rng = np.random.default_rng(3)
    people = [team.athlete(f"R{number}") for number in range(6)]
    ratios = 140.0 + rng.normal(0.0, 4.0, (6, 3))
    for place, day in enumerate((FIRST, ONE, TWO)):
        visit = team.day(day)
        for number, athlete in enumerate(people):
            team.test(visit, athlete, 200.0, 2.0 * float(ratios[number, place]))
    bank, score = last_score(team, people[0], "ratio_pct")
    assert score.value == pytest.approx(ratios[0, 2])
    assert bank.own(score).value == pytest.approx(typical_error(ratios[:, 1], ratios[:, 2]))
    assert bank.own(score).pairs == 6


def test_each_side_has_its_error_and_their_difference_one_for_both(team):
    people = [team.athlete(f"R{number}") for number in range(5)]
    rng = np.random.default_rng(4)
    for day in (FIRST, ONE, TWO):
        visit = team.day(day)
        for athlete in people:
            for side in ("right", "left"):
                peak = 150.0 * float(np.exp(rng.normal(0.0, 0.05)))
                team.test(visit, athlete, peak, protocol=KNEE, side=side, gravity="sweep")
    bank, score = last_score(team, people[0])
    assert score.line.side == "right"
    assert bank.own(score).pairs == 5
    bank, difference = last_score(team, people[0], "side_difference_pct")
    assert bank.own(difference).pairs == 5
    assert key_of(difference).side == "both"


def test_one_athlete_tested_alone_gives_no_error(team):
    people, _ = repeated(team, athletes=1)
    bank, score = last_score(team, people[0])
    assert bank.own(score) is None
    assert bank.in_use(score).pairs == 0


def test_athletes_tested_on_their_own_days_are_paired_by_occasion(team):
    rng = np.random.default_rng(6)
    people = [team.athlete(f"R{number}") for number in range(6)]
    logs = 5.0 + rng.normal(0.0, 0.05, (6, 3))
    for number, athlete in enumerate(people):
        for place in range(3):
            visit = team.day((dt.date(2031, 3, 1) + dt.timedelta(days=number + 7 * place)).isoformat())
            team.test(visit, athlete, float(np.exp(logs[number, place])))
    bank, score = last_score(team, people[0])
    own = bank.own(score)
    assert own.value == pytest.approx(typical_error(logs[:, 1], logs[:, 2]))
    assert own.dof == 5


def test_a_number_of_repetitions_has_its_class():
    assert [repetition_class(n) for n in (1, 3, 4, 5, 6, 10, 30)] == [
        "1–2",
        "3",
        "4–5",
        "4–5",
        "6–8",
        "9–14",
        "15 or more",
    ]


def test_nobody_tested_at_all_is_no_error(team):
    assert TrialBook(team.workspace).lines() == []
    assert TRUNK in TrialBook(team.workspace).book.protocol(TRUNK).id
