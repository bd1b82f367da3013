"""A measure over the squad: who, how large, how sure, and nothing graded."""

import datetime as dt

import numpy as np
import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.results.measure_list import MEASURES, PEAK, measure_named
from fieldlog.fieldwork.squad.squad_questions import SquadFilter, SquadQuestion, questions
from fieldlog.fieldwork.squad.squad_thresholds import save_threshold, thresholds
from fieldlog.fieldwork.squad.squad_view import squad_view
from tests.simulation.rig import SimulatedRig
from tests.simulation.squad_tests import KNEE, TRUNK, InventedTeam

DAYS = ("2031-03-01", "2031-03-08", "2031-03-15")


@pytest.fixture
def team(tmp_path):
    team = InventedTeam(tmp_path / "workspace")
    yield team
    team.workspace.close()


def enter(team, count, *, day="2031-03-01", seed=1, protocol=TRUNK, sides=("both",), **fields):
    rng = np.random.default_rng(seed)
    visit = team.day(day)
    people = []
    for number in range(count):
        athlete = team.athlete(f"R{number:02d}", **{"sex": "male", "squad": "rowers", **fields})
        people.append(athlete)
        for side in sides:
            weighed = {"gravity": "sweep"} if protocol == KNEE else {}
            team.test(visit, athlete, float(rng.normal(200, 20)), protocol=protocol, side=side, **weighed)
    return people


def asked(measure=PEAK, protocol=TRUNK, direction="up", speed_deg_s=60.0):
    return SquadQuestion(measure_named(measure), protocol, "concentric", speed_deg_s, direction)


def view(team, question=None, **wanted):
    return squad_view(Comparer(team.workspace), question or asked(), SquadFilter(**wanted))


def test_every_athlete_stands_once_in_order_of_code_with_an_interval(team):
    enter(team, 4)
    seen = view(team)
    assert [row.code for row in seen.rows] == ["R00", "R01", "R02", "R03"]
    assert all(row.low < row.value < row.high for row in seen.rows)
    assert all(row.first_visit and row.change.word == "first visit, no comparison" for row in seen.rows)
    assert seen.unit == "N·m"
    assert seen.heading.endswith("peak torque, best, flexion, 60°/s")


def test_the_latest_figure_counts_within_the_days_asked_for(team):
    (athlete,) = enter(team, 1)
    team.test(team.day("2031-05-04"), athlete, 230.0)
    assert view(team).rows[0].value == pytest.approx(230.0)
    assert view(team, until=dt.date(2031, 4, 1)).rows[0].date == dt.date(2031, 3, 1)
    assert view(team, since=dt.date(2031, 6, 1)).rows == ()


def test_under_twenty_people_there_is_a_mean_and_no_place_in_the_squad(team):
    enter(team, 5)
    seen = view(team)
    assert all(row.z is None and row.percentile is None for row in seen.rows)
    assert seen.small_squad == "5 people: z-scores and percentiles from 20 on"
    summary = seen.sides["both"]
    assert summary.people == 5
    assert summary.mean.low < summary.mean.mean < summary.mean.high


def test_from_twenty_people_on_each_has_a_z_score_and_a_percentile(team):
    enter(team, 20)
    seen = view(team)
    assert seen.small_squad == ""
    strongest = max(seen.rows, key=lambda row: row.value)
    assert strongest.percentile == pytest.approx(97.5)
    assert strongest.z > 1.0
    assert sum(row.z for row in seen.rows) == pytest.approx(0.0, abs=1e-9)


def test_filters_pick_position_sex_age_squad_and_side(team):
    team_day = team.day("2031-03-01")
    for number, fields in enumerate(
        (
            {"sex": "male", "position": "bow", "squad": "rowers"},
            {"sex": "female", "position": "stroke", "squad": "rowers"},
            {"sex": "female", "position": "bow", "squad": "court", "minor": True},
        )
    ):
        athlete = team.athlete(f"A{number}", **fields)
        for side in ("left", "right"):
            team.test(team_day, athlete, 100.0, protocol=KNEE, side=side, gravity="sweep")
    question = asked(protocol=KNEE)

    def codes(**wanted):
        return [(row.code, row.side) for row in view(team, question, **wanted).rows]

    assert codes(sex="female", side="left") == [("A1", "left"), ("A2", "left")]
    assert codes(position="bow", side="right") == [("A0", "right"), ("A2", "right")]
    assert codes(age_band="under 18") == [("A2", "left"), ("A2", "right")]
    assert codes(squad="rowers", position="stroke") == [("A1", "left"), ("A1", "right")]
    assert codes(squad="nobody") == []


def test_worthwhile_changes_stay_within_sex_and_age(team):
    enter(team, 6)
    for number in range(3):
        team.test(team.day("2031-03-01"), team.athlete(f"W{number}", sex="female", squad="rowers"), 120.0)
    seen = view(team)
    groups = {row.code[0]: row.worthwhile for row in seen.rows}
    assert (groups["R"].group, groups["R"].people) == ("male, adult", 6)
    assert (groups["W"].people, groups["W"].value) == (3, None)
    assert "only 3 in the group (female, adult)" in seen.remarks


def test_a_ratio_is_flagged_by_the_teams_own_threshold_only(team):
    athlete = team.athlete("R07", sex="male", squad="rowers")
    team.test(team.day("2031-03-01"), athlete, 200.0, 190.0)
    question = asked("ratio_pct")
    assert view(team, question).rows[0].flag == ""
    save_threshold(
        team.workspace, by="lead", measure="ratio_pct", protocol_id=TRUNK, low_pct=100, reason="our own wish"
    )
    assert view(team, question).rows[0].flag == "below the team's 100 %"
    kept = thresholds(team.workspace)[0]
    with pytest.raises(InputError, match="already"):
        save_threshold(
            team.workspace, by="lead", measure="ratio_pct", protocol_id=TRUNK, low_pct=90, reason="again"
        )
    save_threshold(
        team.workspace,
        by="lead",
        seen=kept,
        measure="ratio_pct",
        protocol_id=TRUNK,
        low_pct=90,
        reason="changed our mind",
    )
    assert view(team, question).rows[0].flag == ""


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        ({"measure": "ratio_pct"}, "low_pct or high_pct"),
        ({"measure": "ratio_pct", "low_pct": 80, "high_pct": 60}, "low_pct is not below"),
        ({"measure": "side_difference_pct", "low_pct": 5, "high_pct": 15}, "above high_pct"),
        ({"measure": "best_peak_torque_nm", "high_pct": 3}, "measure"),
    ],
)
def test_a_threshold_that_means_nothing_is_refused(team, fields, named):
    with pytest.raises(InputError, match=named):
        save_threshold(team.workspace, by="lead", protocol_id=TRUNK, reason="a reason", **fields)


def test_a_side_difference_carries_its_own_detectable_difference_and_flag(team):
    athlete = team.athlete("R07", sex="male", squad="rowers")
    visit = team.day("2031-03-01")
    for side, peak in (("left", 120.0), ("right", 100.0)):
        team.test(visit, athlete, peak, protocol=KNEE, side=side, gravity="sweep")
    save_threshold(
        team.workspace,
        by="lead",
        measure="side_difference_pct",
        protocol_id=KNEE,
        high_pct=15,
        reason="our own wish",
    )
    (row,) = view(team, asked("side_difference_pct", KNEE)).rows
    assert row.value == pytest.approx(-100 * 20 / 120)
    assert row.flag == "above the team's 15 %"
    assert row.sides.word == "within error"
    assert row.sides.detectable_pct > 16.7


def test_published_values_point_at_a_slip_and_carry_their_source(team):
    visit = team.day("2031-03-01")
    for code, peak, minor in (("R01", 220.0, False), ("R02", 40.0, False), ("R03", 40.0, True)):
        athlete = team.athlete(code, sex="male", squad="rowers", minor=minor)
        team.test(visit, athlete, 100.0, peak, protocol=KNEE, side="right", gravity="sweep")
    rows = view(team, asked("best_peak_torque_nm_kg", KNEE, "down")).rows
    said = {row.code: row.implausible for row in rows}
    assert said["R01"] == said["R03"] == ""
    assert said["R02"].startswith(
        "far from published 2.2 to 3.6 N·m/kg (from memory; open data of Hammarström"
    )


def test_one_coefficient_is_named_once_five_athletes_repeated(team):
    people = enter(team, 6, day=DAYS[0])
    rng = np.random.default_rng(9)
    level = rng.normal(5.2, 0.2, len(people))
    assert view(team).icc is None
    for day in DAYS[1:]:
        visit = team.day(day)
        for athlete, own in zip(people, level, strict=True):
            team.test(visit, athlete, float(np.exp(own + rng.normal(0, 0.04))))
    seen = view(team)
    assert (seen.icc.form, seen.icc.people) == ("ICC(2,1)", 6)
    assert seen.icc.low < seen.icc.value < seen.icc.high
    assert seen.chance.startswith("6 changes judged")
    assert "6 own pairs" in seen.errors[0]


def test_every_measure_that_somebody_has_can_be_asked_for(team):
    enter(team, 2, protocol=KNEE, sides=("left", "right"))
    comparer = Comparer(team.workspace)
    found = questions(comparer)
    assert [question.measure.key for question in found[:2]] == [PEAK, PEAK]
    keys = {question.measure.key for question in found}
    assert keys == set(MEASURES)
    assert len(found) == len(set(found)) == 2 * (len(MEASURES) - 1) + 1
    assert all(
        squad_view(comparer, question).rows or question.measure.key == "mean_power_w" for question in found
    )
    assert questions(comparer, SquadFilter(squad="nobody")) == []


def test_torque_at_an_angle_can_be_asked_for(team):
    enter(team, 2)
    (row, _) = view(team, asked("torque_at_nm:30")).rows
    assert row.value > 0
    with pytest.raises(InputError, match="no measure is called 'torque_at_nm:"):
        measure_named("torque_at_nm:fast")


def test_one_athlete_has_no_spread_and_no_mean(team):
    enter(team, 1)
    seen = view(team)
    assert seen.sides["both"].mean is None
    assert seen.rows[0].worthwhile.value is None


def test_all_values_equal_have_no_worthwhile_change(team):
    visit = team.day("2031-03-01")
    for number in range(6):
        team.test(visit, team.athlete(f"R{number}", sex="male", squad="rowers"), 200.0)
    seen = view(team)
    assert seen.remarks == ("the spread of the group (male, adult) is all error",)
    assert seen.sides["both"].mean.low == seen.sides["both"].mean.high == 200.0


def test_an_entry_error_among_the_repeated_tests_is_pointed_out(team):
    people = enter(team, 6, day=DAYS[0])
    for day in DAYS[1:]:
        visit = team.day(day)
        for number, athlete in enumerate(people):
            slip = 60.0 if (day, number) == (DAYS[1], 3) else 0.0
            team.test(
                visit, athlete, slip or 180.0 + 3 * number + len(day) + 2 * (number % 2) * (day == DAYS[2])
            )
    assert any(
        remark.startswith("looks like an entry error: R03, 2031-03-08: 60 N·m")
        for remark in view(team).remarks
    )


def test_what_the_rig_leaves_open_is_shown_and_counts_nowhere(team):
    enter(team, 4)
    knocked = team.day("2031-05-04", rig=SimulatedRig(slope_up=1.06, slope_down=1.06))
    team.test(knocked, team.athlete("R99", sex="male", squad="rowers"), 250.0)
    seen = view(team)
    assert [(row.code, row.usable) for row in seen.rows][-1] == ("R99", False)
    assert seen.sides["both"].people == 4
    assert seen.sides["both"].mean.mean == pytest.approx(np.mean([row.value for row in seen.rows[:4]]))
    assert "1 of 5 figures are not in the mean: the rig leaves them open" in seen.remarks
    assert seen.rows[0].worthwhile.people == 4
