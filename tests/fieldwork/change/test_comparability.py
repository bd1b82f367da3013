"""What may be compared: every reason against it, and every mark beside it."""

import pytest

from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.results.measure_list import MEASURES, PEAK, measure_named
from tests.simulation.rig import SimulatedRig
from tests.simulation.squad_tests import KNEE, InventedTeam

MAP = {"time": {"column": "t"}, "angle": {"column": "a"}, "torque": {"column": "m"}}
STOP = {"code": "clipped", "level": "stop", "text": "the torque is cut off flat"}
WARNING = {"code": "high_variation", "level": "warning", "text": "the peaks differ"}


@pytest.fixture
def team(tmp_path):
    team = InventedTeam(tmp_path / "workspace")
    yield team
    team.workspace.close()


def change_between(team, before, now, *, measure=PEAK, direction="up", days=("2031-01-10", "2031-05-04")):
    """The change of a new athlete after a first visit, tested as ``before`` and as ``now`` say."""
    athlete = team.athlete("R07", sex="male", squad="rowers")
    first = team.day("2030-11-01")
    team.test(
        first,
        athlete,
        200.0,
        setup={},
        **{"side": now.get("side", "both"), "protocol": now["protocol"]} if "protocol" in now else {},
    )
    for date, given in zip(days, (before, now), strict=True):
        day = {key: given[key] for key in ("rig", "closing", "masses_kg") if key in given}
        rig = {"rig_name": given["rig_name"]} if "rig_name" in given else {}
        visit = team.day(date, **day, **rig)
        told = {key: value for key, value in given.items() if key not in day}
        team.test(visit, athlete, told.pop("up_nm", 200.0), **{"setup": {}, **told})
    comparer = Comparer(team.workspace)
    trials = [t for t in comparer.trials.trials(athlete.id) if t.result.direction == direction]
    score = comparer.trials.score(measure_named(measure), trials[-1])
    return comparer.latest(score)


def test_two_like_tests_compare(team):
    change = change_between(team, {}, {"up_nm": 210.0})
    assert change.word == "within error"
    assert change.change_pct == pytest.approx(5.0)
    assert change.since == "2031-01-10"
    assert change.marks == ()


@pytest.mark.parametrize(
    ("before", "now", "reason"),
    [
        ({}, {"setup": {"foot_plate": 21.0}}, "Foot plate: 21"),
        ({}, {"rig": SimulatedRig(slope_up=1.05, slope_down=1.05)}, "rig suspect today"),
        ({"rig": SimulatedRig(slope_up=1.05, slope_down=1.05)}, {}, "rig suspect last time"),
        ({}, {"up_nm": 20.0, "down_nm": 20.0}, "beyond the checked range today"),
        ({}, {"up_nm": 500.0}, "beyond the checked range today"),
        ({"repetitions": 3}, {"repetitions": 6}, "best of 6 repetitions against best of 3"),
        ({"gravity": "sweep"}, {}, "weight corrected only once"),
        ({}, {"column_map": {**MAP, "already": {"weight_corrected": "yes"}}}, "weight corrected only once"),
        (
            {},
            {"column_map": {**MAP, "already": {"weight_corrected": "unknown"}}},
            "not known whether the weight was taken out both times",
        ),
        ({}, {"recipe": {"cutoff_hz": 8.0}}, "another recipe (low-pass)"),
        ({"recipe": {"version": 0}}, {}, "another recipe (version of the analysis)"),
        ({}, {"quality": (STOP,)}, "poor data today"),
        ({"quality": (STOP,)}, {}, "poor data last time"),
    ],
)
def test_what_forbids_a_comparison_is_said(team, before, now, reason):
    change = change_between(team, before, now)
    assert change.word.startswith(f"no comparison: {reason}")
    assert change.change_pct is None
    assert not change.real


def test_a_day_without_a_check_is_no_day_to_compare(team):
    athlete = team.athlete("R07")
    for date in ("2031-01-10", "2031-05-04"):
        import datetime as dt

        from fieldlog.fieldwork.visit.visits import ensure_visit

        team.test(ensure_visit(team.store, dt.date.fromisoformat(date), "tester 1").record, athlete, 200.0)
    comparer = Comparer(team.workspace)
    score = comparer.trials.score(MEASURES[PEAK], comparer.trials.trials(athlete.id)[-1])
    assert comparer.latest(score).word == "no comparison: rig unverified today"


def test_another_position_of_the_body_forbids_it(team):
    from fieldlog.fieldwork import catalogue
    from fieldlog.records.setup_plan import ChoiceStep

    for plan in catalogue.plans(None).values():
        choice = next((step for step in plan.steps if isinstance(step, ChoiceStep)), None)
        protocol = next((p for p in catalogue.protocols(None).values() if p.plan_id == plan.id), None)
        if choice and protocol and protocol.sets[0].mode == "concentric":
            break
    speed = next(each.speed_deg_s for each in protocol.sets if each.purpose == "counted")
    told = {"protocol": protocol.id, "side": protocol.sides[0], "speed_deg_s": speed}
    change = change_between(team, told, {**told, "setup": {choice.key: choice.options[1]}})
    assert change.word == f"no comparison: {choice.label}: {choice.options[1]}, last time {choice.options[0]}"


def test_a_reading_within_tolerance_does_not_forbid_it(team):
    from fieldlog.fieldwork import catalogue

    step = catalogue.plan(None, "trunk_standing").step("foot_plate")
    middle = step.low + step.step * round((step.high - step.low) / 2 / step.step)
    close = {"setup": {"foot_plate": middle + step.retest_tolerance}}
    assert change_between(team, {}, close).word == "within error"


def test_a_missing_setup_is_marked(team):
    assert "setup not on record, today" in change_between(team, {}, {"setup": None}).marks


@pytest.mark.parametrize(
    ("before", "now", "mark"),
    [
        ({}, {"clock": "16:30"}, "another time of day (16:30, last time 10:00)"),
        ({}, {"quality": (WARNING,)}, "data with a warning, today"),
        (
            {"gravity": "sweep"},
            {"column_map": {**MAP, "already": {"weight_corrected": "yes"}}},
            "weight taken out in another way",
        ),
    ],
)
def test_what_may_explain_a_change_is_marked(team, before, now, mark):
    change = change_between(team, before, now)
    assert mark in change.marks
    assert change.judged


def test_two_hours_later_is_no_mark(team):
    assert change_between(team, {}, {"clock": "12:00"}).marks == ()


def test_a_hard_session_within_two_days_is_marked(team):
    athlete = team.athlete("R09")
    for date, hours in (("2031-01-10", 60), ("2031-02-10", 60), ("2031-05-04", 20)):
        visit = team.day(date)
        team.test(visit, athlete, 200.0, setup={})
        team.workspace.persons.put(
            {
                "kind": "clearance_answers",
                "athlete_id": athlete.id,
                "visit_id": visit.id,
                "answers": {"last_hard_session_h": hours},
                "at": f"{date}T09:00:00+02:00",
            }
        )
    comparer = Comparer(team.workspace)
    score = comparer.trials.score(MEASURES[PEAK], comparer.trials.trials(athlete.id)[-1])
    assert comparer.latest(score).marks == ("hard session 20 h before, today",)


def test_the_first_visit_is_marked_as_familiarisation(team):
    athlete = team.athlete("R08")
    for date in ("2031-01-10", "2031-05-04"):
        team.test(team.day(date), athlete, 200.0, setup={})
    comparer = Comparer(team.workspace)
    scores = comparer.trials.scores(athlete.id, MEASURES[PEAK], comparer.trials.trials(athlete.id)[0].line)
    assert comparer.latest(scores[0]).word == "first visit, no comparison"
    assert comparer.latest(scores[1]).marks == (
        "last time was the first visit: part of a rise may be familiarisation",
    )


def test_a_best_is_not_set_against_a_mean_of_three(team):
    athlete = team.athlete("R08")
    for date in ("2031-01-10", "2031-05-04"):
        team.test(team.day(date), athlete, 200.0, setup={})
    comparer = Comparer(team.workspace)
    line = comparer.trials.trials(athlete.id)[0].line
    best, three = (
        comparer.trials.scores(athlete.id, MEASURES[key], line) for key in (PEAK, "mean_best_three_nm")
    )
    change = comparer.scores(best[1], three[0])
    assert change.word == "no comparison: peak torque, best stands against peak torque, mean of three best"
    power = comparer.trials.scores(athlete.id, MEASURES["mean_power_w"], line)
    assert comparer.scores(best[1], power[0]).word == "no comparison: peak torque, best is no mean power"


def test_a_mean_may_rest_on_more_repetitions(team):
    change = change_between(team, {"repetitions": 4}, {"repetitions": 6}, measure="mean_peak_torque_nm")
    assert change.judged


def test_work_over_much_the_same_range_compares(team):
    change = change_between(
        team, {"range_deg": (0.0, 60.0)}, {"range_deg": (1.0, 61.0), "up_nm": 210.0}, measure="mean_work_j"
    )
    assert change.change_pct == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("range_deg", "reason"),
    [
        ((0.0, 40.0), "ranges of motion share only 40°"),
        ((0.0, 50.0), "ranges of motion differ, and a recording is not on this laptop"),
    ],
)
def test_work_over_another_range_does_not(team, range_deg, reason):
    change = change_between(team, {"range_deg": (0.0, 60.0)}, {"range_deg": range_deg}, measure="mean_work_j")
    assert change.word == f"no comparison: {reason}"


def test_a_side_difference_missing_one_side_has_no_score(team):
    athlete = team.athlete("R08")
    team.test(team.day("2031-01-10"), athlete, 200.0, protocol=KNEE, side="left")
    comparer = Comparer(team.workspace)
    line = comparer.trials.trials(athlete.id)[0].line
    assert comparer.trials.scores(athlete.id, MEASURES["side_difference_pct"], line) == []
