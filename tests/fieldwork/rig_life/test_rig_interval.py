"""When a rig should be calibrated next, by the stated staircase."""

import datetime as dt

from fieldlog.fieldwork.rig_life.rig_interval import INTERVAL_RULE, AsFoundDay, as_found_day, suggest_interval

DAY = dt.date(2031, 1, 1)


def days(*found):
    """As-found checks as (days from the first, good, largest share of tolerance)."""
    return [AsFoundDay(DAY + dt.timedelta(days=after), good, share) for after, good, share in found]


def passed(checks):
    return [check.day for check in checks if check.good]


def test_without_a_check_nothing_is_suggested():
    assert suggest_interval([], []) is None


def test_a_new_rig_starts_at_half_a_year_from_its_last_pass():
    checks = days((0, True, 0.3))
    assert suggest_interval(checks, passed(checks)).days == 180
    assert suggest_interval(checks, passed(checks)).due_on == DAY + dt.timedelta(days=180)


def test_a_failed_day_halves_it_and_is_due_at_once():
    checks = days((0, True, 0.3), (30, False, 1.4))
    found = suggest_interval(checks, passed(checks))
    assert (found.days, found.due_on) == (90, DAY + dt.timedelta(days=30))


def test_after_a_pass_it_runs_again():
    checks = days((0, True, 0.3), (30, False, 1.4))
    found = suggest_interval(checks, [*passed(checks), DAY + dt.timedelta(days=31)])
    assert found.due_on == DAY + dt.timedelta(days=31 + 90)


def test_several_failed_checks_on_one_day_count_once():
    checks = days((0, False, 1.4), (0, False, 1.5), (0, True, 0.9))
    assert suggest_interval(checks, [DAY]).days == 90


def test_three_comfortable_days_over_the_interval_lengthen_it():
    checks = days((0, True, 0.3), (90, True, 0.5), (180, True, 0.8))
    assert suggest_interval(checks, passed(checks)).days == 270


def test_three_comfortable_days_in_one_week_do_not():
    checks = days((0, True, 0.3), (2, True, 0.5), (5, True, 0.8))
    assert suggest_interval(checks, passed(checks)).days == 180


def test_a_pass_near_the_limit_breaks_the_row():
    checks = days((0, True, 0.3), (90, True, 0.95), (180, True, 0.8))
    assert suggest_interval(checks, passed(checks)).days == 180


def test_it_stays_between_two_weeks_and_a_year():
    bad = days(*[(30 * n, False, 2.0) for n in range(10)])
    assert suggest_interval(bad, []).days == 14
    good = days(*[(100 * n, True, 0.2) for n in range(40)])
    assert suggest_interval(good, passed(good)).days == 365


def test_a_check_is_read_by_its_word_and_its_largest_share():
    judged = {
        "verdict": "conditional pass",
        "torque": {
            "points": [{"error_nm": -0.9, "tolerance_nm": 1.0}, {"error_nm": 0.1, "tolerance_nm": 2.0}]
        },
    }
    assert as_found_day(DAY, judged) == AsFoundDay(DAY, True, 0.9)


def test_the_rule_is_stated_in_words():
    for said in ("180 days", "halves", "80 %", "14 to 365"):
        assert said in INTERVAL_RULE
