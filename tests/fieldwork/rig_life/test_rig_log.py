"""The rig log as data and in sentences: the same numbers as the history, said with their dates."""

import datetime as dt

import pytest

from fieldlog.errors import NotFoundError
from fieldlog.fieldwork.rig_checks.checks import save_check
from fieldlog.fieldwork.rig_life.life import rig_life
from fieldlog.fieldwork.rig_life.rig_log import rig_log
from fieldlog.fieldwork.rig_life.rig_sentences import (
    due_words,
    limits_words,
    series_sentences,
    sign_off_words,
)
from fieldlog.fieldwork.rig_life.rigs import add_event, rig_named
from fieldlog.records.check_entry import CheckEntry
from tests.simulation.rig import Place, SimulatedRig, check_entry

NOW = dt.datetime(2026, 5, 6, 10, tzinfo=dt.UTC)
TODAY = NOW.date()


def keep(field, at, slope=1.0, stage="opening", noise_nm=0.02, arm_m=0.5):
    body = check_entry(
        SimulatedRig(slope_up=slope, slope_down=slope, noise_nm=noise_nm),
        Place(60.2, 4.0),
        name="rig B",
        stage=stage,
        at=at.isoformat(),
        by="Ann",
        seed=at.toordinal(),
        arm_m=arm_m,
    )
    save_check(field.workspace, field.store, CheckEntry.model_validate(body), today=at.date(), by="Ann")


def log_of(field, slopes, every_days=7):
    start = field.clock("08:00")
    for week, slope in enumerate(slopes):
        keep(field, start + dt.timedelta(days=every_days * week), slope)
    return rig_log(field.workspace, "rig B", start + dt.timedelta(days=400))


def test_the_log_holds_the_numbers_of_the_history(sample):
    log, life = rig_log(sample, "rig A", NOW), rig_life(sample, "rig A")
    assert [series.key for series in log.lines] == ["slope.up", "zero.up", "slope.down", "zero.down"]
    for direction in ("up", "down"):
        slope, zero = (
            next(series for series in log.lines if series.key == f"{name}.{direction}")
            for name in ("slope", "zero")
        )
        lines = life["lines"][direction]
        assert slope.values == pytest.approx([100 * (line["slope"] - 1) for line in lines])
        assert zero.values == pytest.approx([line["intercept_nm"] for line in lines])
        centre = life["line_charts"][direction]["slope"]["individuals"]["centre"]
        assert slope.chart["individuals"]["centre"] == pytest.approx(100 * (centre - 1))
    for series, point in zip(log.points, life["points"], strict=True):
        assert series.values == pytest.approx(point["errors_pct"])
        assert series.chart["individuals"] == point["individuals"]
        assert series.drift.slope_per_day == point["drift"]["slope_pct_per_day"]
        assert str(series.drift.crosses_on) == point["drift"]["crosses_on"]
    assert (log.interval_days, log.due_on.isoformat()) == (life["suggested_interval_days"], life["due_on"])


def test_a_rule_that_fired_is_said_with_day_and_place(sample):
    log = rig_log(sample, "rig A", NOW)
    first, *_ = series_sentences(log, log.lines[0], TODAY)
    assert first == "11 Feb, Tarn academy: above the upper limit (rule 1), 1 time before"


def test_an_adjustment_splits_the_drift_line(sample):
    log = rig_log(sample, "rig A", NOW)
    *_, drift = series_sentences(log, log.lines[0], TODAY)
    assert drift.startswith("drift +0.0196 % a day since adjusted on 11 Feb (4 checks) → tolerance on 1 Jun")
    assert "(95 %: 10 May – 6 Jul)" in drift


def test_eight_on_one_side_are_said_with_the_day_they_began(field):
    log = log_of(field, [1.0] * 4 + [1.004] * 8)
    said = series_sentences(log, log.lines[0], TODAY)
    rule = next(text for text in said if "rule 4" in text)
    began = field.clock().date() + dt.timedelta(days=7 * 4)
    assert f"eight in a row above the centre (rule 4) since {began.day} " in rule


def test_one_mass_on_two_levers_is_two_points_each_with_its_own_tolerance(field):
    for day, arm_m in enumerate((0.75, 0.25, 0.75, 0.25)):
        keep(field, field.clock("08:00") + dt.timedelta(days=day), arm_m=arm_m)
    log = rig_log(field.workspace, "rig B", field.clock() + dt.timedelta(days=30))
    short, long = (
        series for series in log.points if series.title.startswith("20 kg") and "up" in series.title
    )
    assert (short.title, long.title) == ("20 kg at 0.25 m, up", "20 kg at 0.75 m, up")
    assert len(short.values) == len(long.values) == 2
    assert short.tolerance == pytest.approx(100 / 49.1, rel=0.01)
    assert long.tolerance == pytest.approx(2.0)


def test_only_the_run_rules_that_were_chosen_are_looked_at(sample):
    assert not rig_log(sample, "rig A", NOW, rules=()).lines[0].chart["signals"]
    fired = {
        signal["rule"] for signal in rig_log(sample, "rig A", NOW, rules=(1, 2, 3)).lines[0].chart["signals"]
    }
    assert fired == {1, 2}


@pytest.mark.parametrize(
    ("count", "said"),
    [
        (1, "one check: no limits yet"),
        (7, "limits very early, from 7 checks only"),
        (8, "early limits, from 8 checks"),
        (20, "limits from 20 checks"),
    ],
)
def test_limits_from_few_checks_are_marked_early(field, count, said):
    log = log_of(field, [1.0 + 0.001 * (week % 3) for week in range(count)])
    assert limits_words(log.lines[0]) == said


def test_a_steady_rig_is_not_forecast_to_leave_its_tolerance_within_two_years(field):
    log = log_of(field, [1.0, 1.0005, 0.9995, 1.0003, 0.9997, 1.0])
    assert "not within two years" in series_sentences(log, log.lines[0], TODAY)[-1]


def test_few_checks_since_an_adjustment_make_no_forecast(field):
    log = log_of(field, [1.0, 1.001])
    assert series_sentences(log, log.lines[0], TODAY)[-1].endswith("two checks make no forecast")
    rig = rig_named(field.workspace, "rig B").record
    at = field.clock("12:00") + dt.timedelta(days=30)
    add_event(field.store, rig, "serviced", at=at, by="Ann")
    log = rig_log(field.workspace, "rig B", at)
    assert series_sentences(log, log.lines[0], TODAY)[-1].startswith("no drift line yet: 0 checks")


def test_what_is_due_and_how_far_it_is_signed_off_is_said(sample):
    log = rig_log(sample, "rig A", NOW)
    assert due_words(log, TODAY) == "calibration due 18 Apr, overdue by 18 days (interval 45 days)"
    assert due_words(log, log.due_on) == "calibration due 18 Apr, today (interval 45 days)"
    assert sign_off_words(log, TODAY) == "not signed off"


def test_a_failed_rig_is_said_to_be_not_for_use(field):
    log = log_of(field, [1.1])
    assert log.not_for_use.startswith("rig not for use: opening check of")


def test_an_unknown_rig_is_refused_by_name(sample):
    with pytest.raises(NotFoundError, match="rig Z"):
        rig_log(sample, "rig Z", NOW)
