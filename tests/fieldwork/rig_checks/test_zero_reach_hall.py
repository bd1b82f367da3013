"""Small warnings before an athlete or a check: bare zero, reach of the masses, warmth of the hall."""

import datetime as dt

import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.results.cover import CheckFact
from fieldlog.fieldwork.rig_checks.check_reach import mass_for, reach_hint, reach_of
from fieldlog.fieldwork.rig_checks.checks import checks_of_rig
from fieldlog.fieldwork.rig_checks.hall import hall_words, readiness_words
from fieldlog.fieldwork.rig_checks.zero_log import keep_zero, zero_limit_nm, zero_words, zeros_since_check
from fieldlog.fieldwork.rig_life.rigs import rig_named
from fieldlog.fieldwork.visit.visits import ensure_visit
from fieldlog.records.athlete import Athlete
from fieldlog.records.visit import Arrival

NAMES = {"up": "flexion", "down": "extension"}


@pytest.mark.parametrize(
    ("readings", "said", "asks"),
    [
        ([], "", False),
        ([0.1], "zero +0.1 N·m, the first since the check", False),
        ([0.1, 0.6], "moved by +0.5", False),  # the limit itself is inside
        ([0.1, 0.7], "1 of 3 in a row", False),
        ([0.1, 0.8, 0.9], "2 of 3 in a row", False),
        ([0.1, 0.8, 0.9, 0.8], "3 zeros drifted in a row, take an interim check now", True),
        ([0.1, 0.8, 0.2, 0.9, 0.9], "2 of 3 in a row", False),
        ([0.0, -0.6, 0.6, -0.7], "3 zeros drifted in a row", True),
    ],
)
def test_three_zeros_drifted_in_a_row_ask_for_an_interim_check(readings, said, asks):
    words, asked = zero_words(readings, 0.5)
    assert said in words
    assert asked is asks


def test_zeros_count_from_the_last_check_on(sample):
    store, rig = sample.site_named("Skarvik boathouse"), rig_named(sample, "rig A").record
    day = dt.date(2026, 3, 4)
    visit = ensure_visit(store, day, "tester").record
    zone = dt.timezone(dt.timedelta(hours=1))
    for hour, reading in ((8, 9.0), (9, 0.1), (10, 0.3)):
        at = dt.datetime(2026, 3, 4, hour, tzinfo=zone)
        keep_zero(store, visit, rig.id, reading, at=at, by="tester", athlete_id="a")
    noon = dt.datetime(2026, 3, 4, 12, tzinfo=zone)
    # The one at eight came before the opening check of 08:14.
    assert [zero.reading_nm for zero in zeros_since_check(store, visit, rig.id, noon)] == [0.1, 0.3]
    assert zeros_since_check(store, visit, rig.id, noon.replace(hour=8, minute=10))[0].reading_nm == 9.0
    assert zero_limit_nm(sample, checks_of_rig(sample, rig.id)) == 0.5
    assert zero_limit_nm(sample, []) == 0.5


@pytest.mark.parametrize("wrong", [float("nan"), float("inf"), 501.0])
def test_a_reading_no_zero_has_is_refused(field, wrong):
    with pytest.raises(InputError, match="zero"):
        keep_zero(field.store, field.visit, "rig", wrong, at=field.clock(), by="tester")


def fact(largest_nm=200.0):
    return CheckFact(
        id="c",
        at=dt.datetime(2031, 5, 4, 8, tzinfo=dt.UTC),
        site="s",
        stage="opening",
        state="as-found",
        verdict="pass",
        largest_reference_nm={"up": largest_nm},
        smallest_reference_nm={"up": 20.0},
    )


def test_masses_reach_a_fifth_beyond_the_largest_reference():
    assert reach_hint({"up": 240.0}, fact(), NAMES) == ""
    said = reach_hint({"up": 241.0}, fact(), NAMES, arm_m=0.75)
    assert "flexion: 241 N·m expected, the masses reach 240" in said
    assert "28 kg in all would reach it" in said
    assert (
        reach_hint({"down": 10.0}, fact(), NAMES)
        == "extension was not checked, so its results have no reference"
    )
    assert reach_hint({}, fact(), NAMES) == ""


def test_the_mass_that_reaches_a_torque_reaches_it():
    mass = mass_for(300.0, 0.5)
    assert 1.2 * mass * 9.80665 * 0.5 >= 300.0 > 1.2 * (mass - 1) * 9.80665 * 0.499


def test_the_reach_of_a_protocol_rests_on_what_the_athletes_have_shown(sample):
    rig = rig_named(sample, "rig A").record
    trunk = catalogue.protocol(sample, "trunk_standing_60_120")
    reach = reach_of(sample, rig, trunk)
    everybody = [kept.record.id for kept in of_team(sample, Athlete).all()]
    assert reach.hint(everybody) == ""
    assert reach.hint([]) == ""
    strong = {
        athlete: {way: 2 * peak for way, peak in peaks.items()} for athlete, peaks in reach.peaks_nm.items()
    }
    assert "beyond the checked range" in type(reach)(reach.check, reach.names, strong, reach.arm_m).hint(
        everybody
    )
    assert reach_of(sample, None, trunk).hint(everybody) == ""


@pytest.mark.parametrize(
    ("earlier", "now", "word"),
    [(6.0, 10.9, ""), (6.0, 11.0, "warmed"), (16.0, 11.0, "cooled"), (None, 20.0, ""), (6.0, None, "")],
)
def test_a_hall_that_warmed_or_cooled_is_warned_of(earlier, now, word):
    said = hall_words(earlier, now)
    assert (word in said) if word else said == ""


def test_before_a_check_rig_and_hall_are_looked_at(sample):
    checks = [
        check
        for check in checks_of_rig(sample, rig_named(sample, "rig A").record.id)
        if check.at.year == 2026
    ]
    measured = checks[-1].entry.conditions.temperature_c
    now = checks[-1].at
    arrival = Arrival(powered_on_at=now - dt.timedelta(minutes=5), hall_temperature_c=measured + 6.0)
    said = readiness_words(arrival, 20.0, checks, now)
    assert ["5 of the 20 min" in said[0], "warmed" in said[1]] == [True, True]
    warm = Arrival(powered_on_at=now - dt.timedelta(hours=1), hall_temperature_c=measured)
    assert readiness_words(warm, 20.0, checks, now) == []
