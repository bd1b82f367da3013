"""The failed closing check of the sample (Lowfield hall, 21 January): what it touches, what the lead decides."""

import datetime as dt

import pytest

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.books import at_site, everywhere
from fieldlog.fieldwork.pages.coach_page import coach_page
from fieldlog.fieldwork.pages.reissue import sheets_to_reissue
from fieldlog.fieldwork.results.decisions import decide, sign_off, sign_offs, signed_off_until
from fieldlog.fieldwork.results.impact import ErrorChange, proportional_change
from fieldlog.fieldwork.results.measure_list import MEASURES, value_of
from fieldlog.fieldwork.results.result_rows import result_rows
from fieldlog.fieldwork.results.results import ResultBook, scaled_figures
from fieldlog.fieldwork.results.touched import TouchedResults, touch_words
from fieldlog.fieldwork.rig_checks.checks import checks_of_rig
from fieldlog.fieldwork.rig_life.rigs import rig_named
from fieldlog.fieldwork.visit.places import places
from fieldlog.fieldwork.visit.visits import find_visit
from fieldlog.records.base import new_id
from fieldlog.records.review import Review
from fieldlog.records.rig import RigEvent

NOW = dt.datetime(2026, 5, 6, 10, tzinfo=dt.UTC)
WHY = "lever clamp slipped in the afternoon"


@pytest.fixture
def rig(sample):
    return rig_named(sample, "rig A").record


def found_in(sample, rig):
    finder = TouchedResults(sample, rig.id)
    return finder, finder.all()


def of(touched, code):
    return [each for each in touched if each.code == code]


def result_of(sample, touched):
    book = ResultBook(sample)
    kept = next(
        kept
        for kept in at_site(touched.store, type(touched.result.record)).all()
        if kept.record.id == touched.result.record.id
    )
    return next(each for each in book.of_set(kept) if each.direction == touched.result.direction)


def test_every_result_since_the_last_good_check_is_found_with_its_change(sample, rig):
    _, touched = found_in(sample, rig)
    assert len(touched) == 24
    assert {each.site_name for each in touched} == {"Lowfield hall"}
    for each in touched:
        assert (each.opening.stage, each.opening.verdict) == ("opening", "pass")
        assert (each.closing.stage, each.closing.verdict) == ("closing", "fail")
        share = each.impact.change.change_nm / each.impact.change.torque_nm
        assert 0.032 < share < 0.036  # the sample's rig gained 3.4 % that day
        assert each.impact.word == "small"
        assert not each.decided


def test_what_a_failed_check_touches_is_said_in_one_line(sample, rig):
    finder, touched = found_in(sample, rig)
    assert touch_words(touched) == "24 results suspect, rig changed by +3.3 to +3.4 %: 24 small"
    assert touch_words(touched[:1]) == "1 result suspect, rig changed by +3.4 %: 1 small"
    assert touch_words([]) == "no result is touched"
    assert len(finder.of_check(touched[0].closing.id)) == 24
    assert finder.of_check("another") == []


def test_an_adjustment_between_leaves_the_change_unknown_and_nothing_to_release(sample, rig):
    _, touched = found_in(sample, rig)
    between = touched[0].opening.at + dt.timedelta(minutes=1)
    at_site(touched[0].store, RigEvent).save(
        RigEvent(id=new_id(), rig_id=rig.id, at=between, kind="adjusted"), by="tester 2"
    )
    _, touched = found_in(sample, rig)
    assert {each.impact.word for each in touched} == {"unknown"}
    assert {each.impact.choices for each in touched} == {("withhold", "retest")}


def test_a_release_keeps_the_word_names_the_lead_and_widens_the_uncertainty(sample, rig):
    finder, touched = found_in(sample, rig)
    before = touched[0].result
    decide(finder, touched[:1], "release", by="lead", at=NOW, why="small beside the test's error")
    after = result_of(sample, touched[0])
    assert after.cover.word == "suspect"
    assert after.cover.shown == "suspect, released by lead"
    assert after.cover.usable
    assert not before.cover.usable
    change = touched[0].impact.change
    added = (abs(change.change_nm) + change.u_expanded_nm) / 3**0.5
    wide = (before.cover.standard_uncertainty_nm**2 + added**2) ** 0.5
    assert after.cover.standard_uncertainty_nm == pytest.approx(wide)
    assert after.peak_torque_nm == before.peak_torque_nm
    assert "released by lead, rig changed by +3." in after.cover.remark


def test_a_correction_takes_the_gain_out_and_keeps_what_was_measured(sample, rig):
    finder, touched = found_in(sample, rig)
    before = touched[0].result
    decide(finder, touched[:1], "correct", by="lead", at=NOW, why=WHY)
    after = result_of(sample, touched[0])
    assert after.peak_torque_nm == pytest.approx(before.peak_torque_nm / 1.034, rel=0.002)
    assert after.recorded_peak_nm == before.peak_torque_nm
    assert after.figures["total_work_j"] == pytest.approx(before.figures["total_work_j"] * after.factor)
    assert after.figures["peak_torque_cv_pct"] == before.figures["peak_torque_cv_pct"]
    assert after.best_movement["peak_torque_nm"] == pytest.approx(after.peak_torque_nm)
    assert after.best_movement["peak_torque_angle_deg"] == before.best_movement["peak_torque_angle_deg"]
    assert after.mean_power_w == pytest.approx(before.mean_power_w * after.factor)
    assert WHY in after.cover.remark
    for measure in MEASURES.values():
        known = value_of(measure, before)
        if known is not None:
            factor = 1.0 if measure.scale == "plain" else after.factor
            assert value_of(measure, after) == pytest.approx(factor * known), measure.key


def test_what_is_withheld_gives_no_figure_anywhere(sample, rig):
    finder, touched = found_in(sample, rig)
    decide(finder, of(touched, "C05"), "withhold", by="lead", at=NOW, why="not to be handed out")
    after = result_of(sample, of(touched, "C05")[0])
    assert (after.peak_torque_nm, after.mean_power_w, after.best_movement) == (None, None, None)
    assert {value_of(measure, after) for measure in MEASURES.values()} == {None}
    rows = [row for row in result_rows(sample) if row["athlete"] == "C05" and row["cover"] == "suspect"]
    assert rows
    for row in rows:
        assert row["peak_torque_nm"] is None
        assert row["work_j"] is None
        assert row["cover_remark"].startswith("withheld by lead")


def test_another_decision_replaces_the_first_and_its_history_stays(sample, rig):
    finder, touched = found_in(sample, rig)
    decide(finder, touched[:1], "withhold", by="lead", at=NOW, why="wait")
    decide(finder, touched[:1], "release", by="lead", at=NOW, why="small after all")
    reviews = [kept for _, kept in everywhere(sample, Review, subject_table="sets")]
    assert [kept.record.decision for kept in reviews] == ["released"]
    history = touched[0].store.history(Review.table, reviews[0].record.id)
    assert [revision.body["decision"] for revision in history] == ["withheld", "released"]


def test_a_decision_says_nothing_once_another_check_covers_the_result(sample, rig):
    finder, touched = found_in(sample, rig)
    decide(finder, touched[:1], "release", by="lead", at=NOW, why="small")
    kept = at_site(touched[0].store, Review).all()[0]
    other = kept.record.change.model_copy(update={"closing_id": "another"})
    at_site(touched[0].store, Review).save(
        kept.record.model_copy(update={"change": other}), by="lead", seen=kept.revision
    )
    assert result_of(sample, touched[0]).cover.decision is None


@pytest.mark.parametrize(
    ("choice", "by", "why", "said"),
    [
        ("hide", "lead", "x", "no choice"),
        ("release", "lead", "  ", "remark"),
        ("release", " ", "because", "by"),
    ],
)
def test_a_decision_needs_a_choice_a_name_and_a_reason(sample, rig, choice, by, why, said):
    finder, touched = found_in(sample, rig)
    with pytest.raises(InputError, match=said):
        decide(finder, touched[:1], choice, by=by, at=NOW, why=why)
    assert not list(everywhere(sample, Review))


def test_of_several_results_all_are_decided_or_none(sample, rig):
    finder, touched = found_in(sample, rig)
    broken = touched[1].impact.__class__("large", touched[1].impact.change, "large", ("withhold", "retest"))
    mixed = [touched[0], touched[1].__class__(**{**vars(touched[1]), "impact": broken})]
    with pytest.raises(RefusedError, match="release is not open"):
        decide(finder, mixed, "release", by="lead", at=NOW, why="small")
    assert not list(everywhere(sample, Review))


def test_only_a_gain_that_moved_every_load_alike_can_be_corrected():
    def change(torque, size):
        return ErrorChange(torque, size, 0.2, beyond_checked_range=False)

    assert proportional_change([change(50, 1.7), change(200, 6.8)]) == pytest.approx(0.034)
    assert proportional_change([change(50, 1.0), change(200, 1.0)]) is None  # one torque at every load
    assert proportional_change([change(100, 3.4)]) is None  # one load cannot tell
    assert proportional_change([]) is None


def test_figures_that_follow_torque_are_scaled_and_others_are_not():
    figures = {
        "best_peak_torque_nm": 100.0,
        "total_work_j": 50,
        "movements": 5,
        "decline_pct": 3.0,
        "x_nm": None,
        "torque_at_nm": {"30": 80.0, "40": None},
    }
    assert scaled_figures(figures, 0.5) == {
        "best_peak_torque_nm": 50.0,
        "total_work_j": 25.0,
        "movements": 5,
        "decline_pct": 3.0,
        "x_nm": None,
        "torque_at_nm": {"30": 40.0, "40": None},
    }


def test_the_coach_page_uses_what_is_released_and_says_what_it_may_move(sample, rig):
    finder, touched = found_in(sample, rig)
    store = sample.site_named("Lowfield hall")
    visit = find_visit(store, dt.date(2026, 1, 21)).record
    assert coach_page(sample, store, visit).waiting_for_rig == 24
    released = [each for each in touched if each.code in ("C01", "C02", "C03")]
    decide(finder, released, "release", by="lead", at=NOW, why="small")
    page = coach_page(sample, store, visit)
    assert page.waiting_for_rig == 12
    group = page.groups[0]
    assert [line.next_step for line in group.lines] == ["repeat the first visit"] * 3 + [
        "retest by 4 Feb 2026"
    ] * 3
    assert any("moves the ratio by up to" in remark for remark in group.lines[0].cover_remarks)
    assert "3 of 6 results were released after the rig had changed by +3." in group.rig_changes[0]


def test_places_no_longer_asks_for_what_was_decided(sample, rig):
    def to_finish():
        return next(place.to_finish for place in places(sample, NOW.date()) if place.name == "Lowfield hall")

    assert to_finish() == "24 results suspect"
    finder, touched = found_in(sample, rig)
    decide(finder, touched[:20], "release", by="lead", at=NOW, why="small")
    assert to_finish() == "4 results suspect"
    decide(finder, touched[20:], "retest", by="lead", at=NOW, why="again")
    assert to_finish() == ""


def test_no_sheet_is_named_where_none_was_made(sample, rig):
    _, touched = found_in(sample, rig)
    assert sheets_to_reissue(sample, {each.result.record.id for each in touched}) == []


def test_a_check_is_signed_off_by_somebody_who_did_not_take_it(sample, rig):
    checks = checks_of_rig(sample, rig.id)
    for name in ("tester 1", " Tester  1 "):
        with pytest.raises(RefusedError, match="took this check"):
            sign_off(sample, checks[0], by=name, at=NOW, remark="fine")
    with pytest.raises(InputError, match="remark"):
        sign_off(sample, checks[0], by="lead", at=NOW, remark=" ")
    assert signed_off_until(checks, sign_offs(sample)) is None
    for check in checks[:2]:
        sign_off(sample, check, by="lead", at=NOW, remark="seen")
    sign_off(sample, checks[3], by="lead", at=NOW, remark="seen")
    signed = sign_offs(sample)
    assert signed_off_until(checks, signed) == checks[1].at
    assert [review.by for review in signed[checks[0].id]] == ["lead"]


def test_signing_off_twice_by_one_person_is_one_record_and_by_two_are_two(sample, rig):
    check = checks_of_rig(sample, rig.id)[0]
    sign_off(sample, check, by="lead", at=NOW, remark="seen")
    sign_off(sample, check, by="lead", at=NOW + dt.timedelta(hours=1), remark="seen again")
    sign_off(sample, check, by="second lead", at=NOW, remark="me too")
    assert sorted(review.remark for review in sign_offs(sample)[check.id]) == ["me too", "seen again"]
