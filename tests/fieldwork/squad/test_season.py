"""Retests that are due, histories of athletes and squads, and the season's report."""

import datetime as dt

import numpy as np
import pytest

from fieldlog.errors import InputError, NotFoundError
from fieldlog.exchange.likeness import decide_kinship
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.change.last_results import last_results
from fieldlog.fieldwork.results.measure_list import MEASURES, PEAK
from fieldlog.fieldwork.results.results import ResultBook
from fieldlog.fieldwork.squad.retests import call_off, plan_retest, retests_due
from fieldlog.fieldwork.squad.season_history import athlete_history, latest_squad_day, squad_history
from fieldlog.fieldwork.squad.season_report import season_report
from fieldlog.fieldwork.squad.squad_questions import SquadFilter, SquadQuestion
from tests.simulation.squad_tests import KNEE, TRUNK, InventedTeam

DAYS = ("2030-11-12", "2031-01-20", "2031-03-04", "2031-05-04")
QUESTION = SquadQuestion(MEASURES[PEAK], TRUNK, "concentric", 60.0, "up")


@pytest.fixture
def team(tmp_path):
    team = InventedTeam(tmp_path / "workspace")
    yield team
    team.workspace.close()


@pytest.fixture
def season(team):
    """Five athletes over four visits; the squad rises by 5 % a visit, one is away at the third."""
    people = [team.athlete(f"R{number}", sex="male", squad="rowers") for number in range(5)]
    for place, day in enumerate(DAYS):
        visit = team.day(day)
        for number, athlete in enumerate(people):
            if (place, number) != (2, 4):
                team.test(visit, athlete, (150.0 + 10 * number) * 1.05**place, by=f"tester {1 + place // 3}")
    team.athlete("R9", sex="male", squad="rowers")
    return people


def day(text):
    return dt.date.fromisoformat(text)


def test_an_athletes_history_gives_every_visit_with_its_change(team, season):
    comparer = Comparer(team.workspace)
    history = athlete_history(comparer, season[0].id, MEASURES[PEAK], QUESTION.line("both"))
    assert [point.date for point in history.points] == [day(text) for text in DAYS]
    assert history.points[0].first_visit
    assert history.points[0].change.word == "first visit, no comparison"
    assert [round(point.change.change_pct, 6) for point in history.points[1:]] == [5.0, 5.0, 5.0]
    assert all(point.low < point.value < point.high for point in history.points)
    assert history.points[3].tester == "tester 2"
    # From the second visit on: the first is familiarisation.
    assert history.overall.change_pct == pytest.approx(100 * (1.05**2 - 1))


def test_a_single_visit_has_no_overall_change(team):
    athlete = team.athlete("R1")
    team.test(team.day(DAYS[0]), athlete, 150.0)
    history = athlete_history(Comparer(team.workspace), athlete.id, MEASURES[PEAK], QUESTION.line("both"))
    assert len(history.points) == 1
    assert history.overall is None


def test_a_squads_history_gives_people_mean_and_mean_change(team, season):
    days = squad_history(Comparer(team.workspace), QUESTION, SquadFilter(squad="rowers"))
    assert [(each.people, each.changes) for each in days] == [(5, 0), (5, 5), (4, 4), (5, 5)]
    assert days[0].mean_change is None
    assert days[1].mean_change.mean == pytest.approx(5.0)
    assert days[2].mean_change.low == pytest.approx(5.0)
    assert days[0].mean.mean == pytest.approx(np.mean([150, 160, 170, 180, 190]))
    # Who was away is compared with the visit before: that is two steps.
    assert days[3].mean_change.mean == pytest.approx(100 * (1.05 ** (6 / 5) - 1))


def test_the_latest_day_alone_says_what_the_history_says_of_it(team, season):
    comparer, asked = Comparer(team.workspace), SquadFilter(squad="rowers")
    assert latest_squad_day(comparer, QUESTION, asked) == squad_history(comparer, QUESTION, asked)[-1]
    assert latest_squad_day(comparer, QUESTION, SquadFilter(squad="nobody")) is None


def test_a_reading_can_be_watched_and_stopped(team, season):
    comparer, seen = Comparer(team.workspace), []

    def watch(people):
        seen.append(people)
        if people == 3:
            raise TimeoutError

    comparer.trials.watch = watch
    with pytest.raises(TimeoutError):
        squad_history(comparer, QUESTION)
    assert max(seen) == 3
    # What was read is kept, and the rest is read when it is asked for again.
    comparer.trials.watch = None
    assert squad_history(comparer, QUESTION) == squad_history(Comparer(team.workspace), QUESTION)


def test_both_sides_of_an_athlete_are_one_person(team):
    visit = team.day(DAYS[0])
    for number in range(3):
        athlete = team.athlete(f"K{number}", squad="court")
        for side in ("left", "right"):
            team.test(visit, athlete, 100.0 + 10 * number, protocol=KNEE, side=side, gravity="sweep")
    question = SquadQuestion(MEASURES[PEAK], KNEE, "concentric", 60.0, "up")
    (only,) = squad_history(Comparer(team.workspace), question, SquadFilter(squad="court"))
    assert only.people == 3


def plan(team, **fields):
    given = {
        "protocol_id": TRUNK,
        "squad": "rowers",
        "due_from": day("2031-05-18"),
        "due_by": day("2031-05-31"),
    }
    return plan_retest(team.workspace, by="lead", **{**given, **fields})


@pytest.mark.parametrize(
    ("today", "state", "words"),
    [
        ("2031-05-10", "to come", "due from 2031-05-18 (6 athletes)"),
        ("2031-05-18", "due", "due until 2031-05-31 (6 athletes)"),
        ("2031-06-09", "overdue", "overdue by 9 days (6 athletes)"),
    ],
)
def test_a_retest_is_due_until_everybody_is_tested(team, season, today, state, words):
    plan(team)
    (due,) = retests_due(team.workspace, day(today))
    assert (due.state, due.words, due.who) == (state, words, "rowers")
    assert due.waiting == ("R0", "R1", "R2", "R3", "R4", "R9")


def test_who_was_tested_no_longer_waits(team, season):
    plan(team)
    team.test(team.day("2031-05-13"), season[0], 150.0)  # a few days early counts
    team.test(team.day("2031-05-20"), season[1], 150.0)
    team.test(team.day("2031-05-21"), season[2], 150.0, standing="stopped")
    (due,) = retests_due(team.workspace, day("2031-05-22"))
    assert due.tested == ("R0", "R1")
    assert due.waiting == ("R2", "R3", "R4", "R9")


def test_who_was_tested_under_another_id_of_the_same_person_no_longer_waits(team, season):
    plan(team)
    twin = team.athlete("R0b", squad="guests")
    team.test(team.day("2031-05-20"), twin, 150.0)
    decide_kinship(team.workspace, season[0].id, twin.id, same=True, by="lead")
    (due,) = retests_due(team.workspace, day("2031-05-22"))
    assert due.tested == ("R0",)


def test_a_test_after_the_day_asked_for_does_not_count(team, season):
    plan(team)
    team.test(team.day("2031-05-20"), season[0], 150.0)
    (due,) = retests_due(team.workspace, day("2031-05-19"), upto=day("2031-05-19"))
    assert due.tested == ()


def test_the_last_result_of_an_athlete_entered_twice_is_found_under_either_id(team, season):
    twin = team.athlete("R0b", squad="guests")
    decide_kinship(team.workspace, season[0].id, twin.id, same=True, by="lead")
    visit = team.day("2031-05-20")
    found = last_results(ResultBook(team.workspace), visit, twin.id)
    assert {earlier.date for earlier, _ in found.values()} == {day("2031-05-04")}


def test_overdue_comes_first_and_done_last(team, season):
    plan(team, athlete_id=season[3].id, squad="", due_from=day("2031-04-28"), due_by=day("2031-05-05"))
    plan(team)
    plan(team, due_from=day("2031-03-01"), due_by=day("2031-03-10"))
    found = retests_due(team.workspace, day("2031-05-20"))
    assert [(each.who, each.state) for each in found] == [
        ("rowers", "overdue"),
        ("rowers", "due"),
        ("R3", "done"),
    ]
    assert found[2].words == "done"


def test_a_retest_called_off_is_no_longer_due(team, season):
    call_off(team.workspace, plan(team), by="lead", why="camp moved")
    assert retests_due(team.workspace, day("2031-05-20")) == []


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        ({"due_by": day("2031-05-01")}, "due_by is before due_from"),
        ({"squad": ""}, "for a squad or for one athlete"),
        ({"protocol_id": "nothing"}, "no protocol"),
    ],
)
def test_a_retest_that_cannot_be_is_refused(team, fields, named):
    with pytest.raises(InputError, match=named):
        plan(team, **fields)


def test_the_seasons_report_compares_ends_without_the_first_visit(team, season):
    plan(team)
    report = season_report(Comparer(team.workspace), "rowers", day("2030-09-01"), day("2031-06-30"))
    assert [measure.name for measure in report.measures] == ["flexion", "extension"]
    line = report.measures[0].lines[0]
    assert (line.code, line.tests, line.first_date, line.last_date) == ("R0", 4, day(DAYS[1]), day(DAYS[3]))
    assert line.change.change_pct == pytest.approx(100 * (1.05**2 - 1))
    assert report.not_tested == ("R9",)
    assert report.rig_checks == {"pass": 8}
    assert set(report.covers) == {"confirmed"}
    assert report.due[0].state == "overdue"
    assert report.chance.startswith("10 changes judged")
    assert not report.names_nobody
    assert len(report.measures[0].days) == 4


def test_a_season_knows_its_bounds(team, season):
    report = season_report(Comparer(team.workspace), "rowers", day("2031-02-01"), day("2031-03-31"))
    assert report.not_tested == ("R4", "R9")
    (line, *_) = report.measures[0].lines
    assert (line.tests, line.change.word) == (1, "no comparison: one test in the season")


def test_a_squad_with_a_minor_is_not_set_out(team, season):
    team.athlete("Y1", squad="rowers", minor=True)
    assert season_report(
        Comparer(team.workspace), "rowers", day("2030-09-01"), day("2031-06-30")
    ).names_nobody


def test_a_season_that_cannot_be_is_refused(team, season):
    with pytest.raises(NotFoundError, match="no athlete"):
        season_report(Comparer(team.workspace), "nobody", day("2030-09-01"), day("2031-06-30"))
    with pytest.raises(InputError, match="before it begins"):
        season_report(Comparer(team.workspace), "rowers", day("2031-09-01"), day("2031-06-30"))
