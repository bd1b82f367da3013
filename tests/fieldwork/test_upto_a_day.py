"""What was said of a day stays so: later tests change no page of an earlier visit."""

import datetime as dt

import numpy as np
import pytest

from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.pages.coach_page import coach_page
from fieldlog.fieldwork.results.measure_list import MEASURES, PEAK
from fieldlog.fieldwork.squad.squad_questions import SquadFilter, questions
from fieldlog.fieldwork.squad.squad_view import squad_view
from fieldlog.sheets.athlete_page import athlete_sheet
from fieldlog.sheets.making import SheetSubject
from tests.simulation.squad_tests import InventedTeam

THEN, LATER = ("2031-03-01", "2031-03-08", "2031-03-15"), ("2031-03-22", "2031-03-29")
LAST_DAY = dt.date.fromisoformat(THEN[-1])


@pytest.fixture
def team(tmp_path):
    team = InventedTeam(tmp_path / "workspace")
    yield team
    team.workspace.close()


def keep_tests(team, people, days, *, error, seed):
    """The visits of these days, at which everybody was tested with this error."""
    rng = np.random.default_rng(seed)
    visits = []
    for day in days:
        visits.append(team.day(day))
        for number, athlete in enumerate(people):
            torque_nm = 180.0 + 4.0 * number
            team.test(visits[-1], athlete, torque_nm * float(np.exp(rng.normal(0.0, error))))
    return visits


@pytest.fixture
def people(team):
    return [team.athlete(f"R{number:02d}", sex="male", squad="rowers") for number in range(8)]


def page(team, visit):
    found = coach_page(team.workspace, team.store, visit)
    return found.groups, found.chance


def test_a_coach_page_does_not_move_with_later_repeated_tests(team, people):
    *_, visit = keep_tests(team, people, THEN, error=0.03, seed=1)
    before = page(team, visit)
    keep_tests(team, people, LATER, error=0.15, seed=2)
    assert [group.typical_errors for group in page(team, visit)[0]] == [
        group.typical_errors for group in before[0]
    ]
    assert page(team, visit) == before


def test_an_athlete_page_does_not_move_whoever_else_the_comparer_serves(team, people):
    *_, visit = keep_tests(team, people, THEN, error=0.03, seed=1)
    subject = SheetSubject("athlete", team.store, visit, athlete_id=people[0].id)
    before = athlete_sheet(team.workspace, subject)
    keep_tests(team, people, LATER, error=0.15, seed=2)
    assert athlete_sheet(team.workspace, subject) == before
    assert athlete_sheet(team.workspace, subject, Comparer(team.workspace)) == before


def test_a_squad_up_to_a_day_is_judged_by_the_tests_up_to_that_day(team, people):
    keep_tests(team, people, THEN, error=0.03, seed=1)
    asked = SquadFilter(until=LAST_DAY)
    question = questions(Comparer(team.workspace))[0]
    before = squad_view(Comparer(team.workspace), question)
    keep_tests(team, people, LATER, error=0.15, seed=2)
    now = Comparer(team.workspace)
    assert squad_view(now, question, asked) == before
    assert squad_view(now, question).errors != before.errors


def test_a_comparer_of_a_day_sees_no_later_test_and_is_made_once(team, people):
    keep_tests(team, people, THEN + LATER, error=0.03, seed=1)
    comparer = Comparer(team.workspace)
    then = comparer.upto(LAST_DAY)
    line = then.trials.trials(people[0].id)[0].line
    days = [score.trial.visit.date for score in then.trials.scores(people[0].id, MEASURES[PEAK], line)]
    assert days == [dt.date.fromisoformat(day) for day in THEN]
    assert comparer.upto(LAST_DAY) is then
    assert then.upto(dt.date(2031, 12, 31)) is then


def test_the_error_of_a_recorded_peak_is_the_teams_own_whatever_was_decided_of_it(team, people):
    keep_tests(team, people, THEN, error=0.03, seed=1)
    comparer = Comparer(team.workspace)
    trial = comparer.trials.trials(people[0].id)[-1]
    error = comparer.bank.in_use(comparer.trials.score(MEASURES[PEAK], trial))
    assert error.pairs == 8
    typical_nm, detectable_nm = comparer.errors_nm(trial.result, 100.0)
    assert typical_nm == pytest.approx(error.percent)
    assert detectable_nm > 2.0 * typical_nm
    own_nm, _ = comparer.errors_nm(trial.result)
    assert own_nm == pytest.approx(typical_nm * trial.result.peak_torque_nm / 100.0)
    assert comparer.errors_nm(trial.result, 0.0) is None
