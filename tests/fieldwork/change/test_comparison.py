"""Change verdicts from the store: error, rig and tester together, and how often they are wrong."""

import math

import numpy as np
import pytest
from scipy import stats

from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.change.judged_change import Change, chance_words
from fieldlog.fieldwork.change.published_errors import typical_error
from fieldlog.fieldwork.change.side_difference import side_difference
from fieldlog.fieldwork.pages.coach_page import coach_page
from fieldlog.fieldwork.results.measure_list import MEASURES, PEAK
from fieldlog.records.review import Review, RigChange, review_id
from tests.simulation.rig import SimulatedRig
from tests.simulation.squad_tests import KNEE, STEADY, InventedTeam

FIRST, BEFORE, NOW = "2030-11-01", "2031-01-10", "2031-05-04"
PUBLISHED = math.log1p(0.07)
T10 = stats.t.ppf(0.975, 10)


@pytest.fixture
def team(tmp_path):
    team = InventedTeam(tmp_path / "workspace")
    yield team
    team.workspace.close()


def athlete_with(team, ratio, *, told=None, before=None, code="R07"):
    """An athlete after a first visit whose torque changes by ``ratio`` from BEFORE to NOW."""
    athlete = team.athlete(code, sex="male", squad="rowers")
    team.test(team.day(FIRST), athlete, 200.0, setup={})
    days = [(BEFORE, 1.0, before or {}), (NOW, ratio, told or {})]
    for date, share, more in days:
        rig = {key: more.pop(key) for key in ("rig", "rig_name", "masses_kg") if key in more}
        visit = team.day(date, **rig)
        named = {"rig_name": rig["rig_name"]} if "rig_name" in rig else {}
        team.test(visit, athlete, 200.0 * share, setup={}, **named, **more)
    return athlete


def change_of(team, athlete, measure=PEAK):
    comparer = Comparer(team.workspace)
    trial = comparer.trials.trials(athlete.id)[-2]
    assert trial.result.direction == "up"
    return comparer.latest(comparer.trials.score(MEASURES[measure], trial))


@pytest.mark.parametrize(
    ("ratio", "word"),
    [
        (1.30, "higher, beyond error"),
        (0.75, "lower, beyond error"),
        (1.15, "within error"),
        (1.0, "within error"),
    ],
)
def test_a_change_is_real_where_it_is_larger_than_error_makes_in_nineteen_of_twenty(team, ratio, word):
    change = change_of(team, athlete_with(team, ratio))
    assert change.word == word
    assert change.real == word.endswith("beyond error")
    assert change.change_pct == pytest.approx(100 * (ratio - 1))
    assert change.real == (abs(change.change_pct) > change.detectable_pct)
    assert (change.low_pct > 0 or change.high_pct < 0) == change.real


def test_the_detectable_change_is_t_times_error_and_rig_on_the_logarithms(team):
    change = change_of(team, athlete_with(team, 1.1))
    # The same rig with the same masses hardly moved, so that the error of the test is nearly all.
    assert change.detectable_pct == pytest.approx(100 * math.expm1(T10 * math.sqrt(2) * PUBLISHED), rel=0.01)
    fall = change_of(team, athlete_with(team, 0.9, code="R08"))
    assert fall.detectable_pct == pytest.approx(-100 * math.expm1(-T10 * math.sqrt(2) * PUBLISHED), rel=0.01)


def test_the_same_rig_explains_the_change_of_its_error_between_the_two_checks(team):
    weaker = SimulatedRig(slope_up=0.990, slope_down=0.990, noise_nm=0.02)
    change = change_of(team, athlete_with(team, 0.98, told={"rig": weaker}))
    assert -1.4 < change.rig_explains_pct < -1.0
    assert change.rig == f"the rig explains up to −{-change.rig_explains_pct:.1f} %"
    wider = change_of(team, athlete_with(team, 0.98, code="R08"))
    assert change.detectable_pct != wider.detectable_pct


def test_two_rigs_count_in_full(team):
    other = change_of(team, athlete_with(team, 1.05, told={"rig": STEADY, "rig_name": "rig B"}))
    same = change_of(team, athlete_with(team, 1.05, code="R08"))
    assert other.rig.startswith("the rigs explain up to ±")
    assert other.detectable_pct > same.detectable_pct


def test_other_masses_count_in_full(team):
    change = change_of(team, athlete_with(team, 1.05, told={"masses_kg": (4.0, 15.0, 38.0)}))
    assert change.rig.startswith("the rigs explain up to ±")


def test_beyond_a_single_testers_error_another_tester_leaves_it_unclear(team):
    change = change_of(team, athlete_with(team, 1.30, told={"by": "tester 2"}))
    assert change.word == "unclear"
    assert not change.real
    assert change.marks[0] == "another tester (the error between testers is not known)"
    inside = change_of(team, athlete_with(team, 1.05, told={"by": "tester 2"}, code="R08"))
    assert inside.word == "within error"


def test_beyond_error_and_beyond_the_worthwhile_are_said_apart(team):
    rng = np.random.default_rng(2)
    for number in range(8):
        athlete = team.athlete(f"S{number}", sex="male", squad="rowers")
        team.test(team.day(BEFORE), athlete, 200.0 * float(np.exp(rng.normal(0, 0.3))))
    athlete = athlete_with(team, 1.28)
    change = change_of(team, athlete)
    assert change.real
    assert change.worthwhile_pct > 3.0
    assert change.beyond_worthwhile is False
    assert change.chance_higher > 0.9
    assert change.chance_higher + change.chance_trivial + change.chance_lower == pytest.approx(1.0)
    assert change_of(team, athlete_with(team, 1.6, code="R08")).beyond_worthwhile is True


def test_without_a_pure_spread_there_is_no_worthwhile_change(team):
    for number in range(5):
        team.test(team.day(BEFORE), team.athlete(f"S{number}", sex="male", squad="rowers"), 200.0)
    change = change_of(team, athlete_with(team, 1.1))
    assert (change.worthwhile_pct, change.beyond_worthwhile, change.chance_higher) == (None, None, None)
    assert change.worthwhile_remark == "the spread of the group (male, adult) is all error"


def test_too_few_of_a_sex_and_age_have_no_worthwhile_change(team):
    for number in range(5):
        team.test(
            team.day(BEFORE), team.athlete(f"S{number}", sex="female", squad="rowers"), 150.0 + 20 * number
        )
    assert change_of(team, athlete_with(team, 1.1)).worthwhile_remark == "only 1 in the group (male, adult)"


def test_a_ratio_changes_in_points(team):
    athlete = team.athlete("R07")
    team.test(team.day(FIRST), athlete, 200.0)
    team.test(team.day(BEFORE), athlete, 200.0, 280.0)
    team.test(team.day(NOW), athlete, 200.0, 260.0)
    change = change_of(team, athlete, "ratio_pct")
    assert change.unit == "points"
    assert change.change_pct == pytest.approx(-10.0)
    assert change.detectable_pct == pytest.approx(T10 * math.sqrt(2) * 0.07 * math.sqrt(2) * 130.0, rel=0.02)


def test_only_the_main_measures_are_marked(team):
    athlete = athlete_with(team, 1.4)
    assert change_of(team, athlete).marked
    power = change_of(team, athlete, "mean_power_w")
    assert power.real
    assert not power.marked


def test_a_page_says_how_many_marks_chance_alone_would_make():
    judged = [Change("within error", 3.0, 20.0)] * 19 + [Change("higher, beyond error", 30.0, 20.0)]
    others = [
        Change("no comparison: rig suspect today"),
        Change("higher, beyond error", 9.0, 5.0, main=False),
    ]
    words = chance_words([*judged, *others])
    assert words == ("20 changes judged, 1 marked; if nobody had changed, chance alone would mark about 1.0")
    assert chance_words(others) == ""


def test_a_negative_torque_is_no_figure(team):
    athlete = team.athlete("R07")
    team.test(team.day(BEFORE), athlete, -5.0)
    comparer = Comparer(team.workspace)
    line = comparer.trials.trials(athlete.id)[0].line
    for measure in MEASURES.values():
        if measure.scale == "log":
            assert comparer.trials.scores(athlete.id, measure, line) == []
    assert comparer.trials.scores(athlete.id, MEASURES["ratio_pct"], line) == []


def sides(team, left, right, **more):
    athlete = team.athlete("R07")
    visit = team.day(NOW)
    team.test(visit, athlete, left, protocol=KNEE, side="left", gravity="sweep")
    team.test(visit, athlete, right, protocol=KNEE, side="right", **{"gravity": "sweep", **more})
    comparer = Comparer(team.workspace)
    results = [t.result for t in comparer.trials.trials(athlete.id) if t.result.direction == "up"]
    return side_difference(comparer, *results)


def test_a_side_difference_has_its_own_detectable_difference(team):
    found = sides(team, 100.0, 115.0)
    assert found.word == "within error"
    assert found.difference_pct == pytest.approx(100 * 15 / 115)
    reach = T10 * math.sqrt(2) * math.log1p(0.075)
    assert found.detectable_pct == pytest.approx(100 * (1 - math.exp(-reach)), rel=0.01)
    assert found.low_pct < 0 < found.high_pct


def test_a_large_side_difference_names_the_larger_side(team):
    found = sides(team, 160.0, 100.0)
    assert found.word == "left larger, beyond error"
    assert found.beyond_error
    assert found.high_pct < 0


@pytest.mark.parametrize(
    ("more", "reason"),
    [
        ({"gravity": "none"}, "weight corrected only once"),
        ({"repetitions": 10}, "best of 5 repetitions against best of 10"),
        ({"quality": ({"code": "clipped", "level": "stop", "text": ""},)}, "poor data right"),
    ],
)
def test_sides_taken_differently_are_not_compared(team, more, reason):
    assert sides(team, 100.0, 115.0, **more).word == f"no comparison: {reason}"


def test_the_coachs_page_carries_verdicts_sides_and_chance(team):
    athlete = athlete_with(team, 1.4)
    visit = team.day(NOW)
    for side, peak in (("left", 100.0), ("right", 115.0)):
        team.test(visit, athlete, peak, protocol=KNEE, side=side, gravity="sweep")
    page = coach_page(team.workspace, team.store, visit)
    trunk = next(group for group in page.groups if group.protocol.region == "trunk")
    knee = next(group for group in page.groups if group.protocol.region == "knee")
    assert trunk.lines[0].change["up"].word == "higher, beyond error"
    assert trunk.typical_error_pct == 7.0
    assert trunk.typical_error_source.startswith("Roth 2017")
    right = next(line for line in knee.lines if line.side == "right")
    assert right.side_difference_pct["up"] == pytest.approx(100 * 15 / 115)
    assert right.sides["up"].detectable_pct > 15
    assert page.chance.startswith("1 change judged, 1 marked")


def test_the_error_of_a_single_result_is_had_in_newton_metre(team):
    athlete = athlete_with(team, 1.0)
    comparer = Comparer(team.workspace)
    error_nm, detectable_nm = comparer.errors_nm(comparer.trials.trials(athlete.id)[-2].result)
    assert error_nm == pytest.approx(14.0)
    assert detectable_nm == pytest.approx(200 * math.expm1(T10 * math.sqrt(2) * PUBLISHED))


def test_the_shipped_error_of_a_region_has_a_source():
    assert typical_error("knee").value_pct == 7.5
    assert typical_error("nowhere") == typical_error("other")


def test_one_person_entered_twice_has_one_history(team):
    from fieldlog.records.kinship import Kinship, kinship_id

    one, two = team.athlete("R07"), team.athlete("R07b")
    team.test(team.day(FIRST), one, 200.0)
    team.test(team.day(BEFORE), one, 200.0)
    team.test(team.day(NOW), two, 210.0)
    assert change_of(team, two).word == "first visit, no comparison"
    first, second = sorted((one.id, two.id))
    team.keep(Kinship(id=kinship_id(first, second), athletes=(first, second), same=True))
    assert change_of(team, two).change_pct == pytest.approx(5.0)


def test_through_the_store_a_real_change_is_wrong_in_about_one_of_twenty_unchanged_athletes(team):
    # Own error from 59 athletes tested twice, then 60 tests months later, by a rig that drifts a little.
    rng = np.random.default_rng(8)
    people = [team.athlete(f"R{number:02d}") for number in range(60)]
    level = rng.normal(5.2, 0.2, (60, 2))
    days = [(FIRST, 1.0), ("2030-11-08", 1.0), ("2030-11-15", 1.0), ("2031-04-01", 1.001), (NOW, 1.002)]
    for day, slope in days:
        rig = SimulatedRig(slope_up=slope, slope_down=slope, noise_nm=0.02)
        visit = team.day(day, rig=rig, masses_kg=(2.0, 20.0, 40.0, 60.0))
        for athlete, (up, down) in zip(people, level, strict=True):
            peaks = np.exp(np.array([up, down]) + rng.normal(0.0, 0.06, 2)) * slope
            team.test(visit, athlete, *map(float, peaks))
    comparer = Comparer(team.workspace)
    changes = []
    for athlete in people:
        for line in comparer.trials.lines([athlete.id]):
            scores = comparer.trials.scores(athlete.id, MEASURES[PEAK], line)
            changes += [comparer.scores(scores[3], scores[2]), comparer.scores(scores[4], scores[1])]
    assert len(changes) == 240
    assert all(change.judged for change in changes)
    # 240 changes: chance moves the rate by 1.4 points.
    assert 0.02 <= np.mean([change.real for change in changes]) <= 0.08


@pytest.mark.parametrize(
    ("decision", "factor", "word", "change_pct"),
    [
        ("corrected", 1 / 1.05, "within error", 0.0),
        ("released", 1.0, "within error", 5.0),
        ("withheld", 1.0, None, None),
        ("retest", 1.0, "no comparison: rig suspect, retest asked by lead last time", None),
    ],
)
def test_what_the_lead_decided_of_a_suspect_result_counts(team, decision, factor, word, change_pct):
    knocked = SimulatedRig(slope_up=1.05, slope_down=1.05, noise_nm=0.02)
    athlete = athlete_with(team, 1 / 1.05, before={"rig": knocked}, told={"clock": "11:00"})
    comparer = Comparer(team.workspace)
    suspect = next(t for t in comparer.trials.trials(athlete.id) if t.result.cover.word == "suspect")
    review = Review(
        id=review_id(suspect.record.id, "up", suspect.result.cover.closing_id),
        subject_table="sets",
        subject_id=suspect.record.id,
        decision=decision,
        at="2031-01-11T08:00:00+02:00",
        by="lead",
        remark="lever clamp slipped",
        change=RigChange(
            direction="up",
            closing_id=suspect.result.cover.closing_id,
            torque_nm=200.0,
            change_nm=10.0,
            u_expanded_nm=0.4,
            factor=factor,
        ),
    )
    at_site(team.store, Review).save(review, by="lead")
    change = change_of(team, athlete)
    if decision == "withheld":
        # Without the figure held back, the first visit is what there is to compare with.
        assert change.since == FIRST
        return
    assert change.word == word
    if change_pct is not None:
        assert change.change_pct == pytest.approx(
            -change_pct if decision == "released" else change_pct, abs=0.3
        )
        assert f"rig suspect, {decision} by lead, last time" in change.marks
