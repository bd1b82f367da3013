"""Visits, athletes, sets, results and pages, tried on the invented sample workspace."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest

from fieldlog.errors import InputError, NotFoundError, RefusedError
from fieldlog.fieldwork.athletes.athletes import add_athlete, athlete_named, squads
from fieldlog.fieldwork.books import at_site, of_team
from fieldlog.fieldwork.pages.coach_page import coach_page
from fieldlog.fieldwork.results.result_rows import check_rows, repetition_rows, result_rows
from fieldlog.fieldwork.results.results import ResultBook
from fieldlog.fieldwork.results.sets import add_set, leave_out, reload_recording, sets_of
from fieldlog.fieldwork.rig_checks.checks import checks_of_rig, save_check_file
from fieldlog.fieldwork.rig_life.due import due_list
from fieldlog.fieldwork.rig_life.life import rig_life
from fieldlog.fieldwork.rig_life.rigs import add_event, rig_named
from fieldlog.fieldwork.visit.places import places
from fieldlog.fieldwork.visit.visits import day_stages, ensure_visit, find_visit
from fieldlog.records.athlete import Athlete
from fieldlog.records.base import new_id
from fieldlog.records.effort_set import EffortSet, LeaveOut
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.visit import Visit
from fieldlog.store.workspace import Workspace

BOATHOUSE, HALL, ACADEMY = "Skarvik boathouse", "Lowfield hall", "Tarn academy"
MARCH = dt.date(2026, 3, 4)


def test_the_latest_visit_with_results_is_found_and_a_wrong_day_names_those_there_are(
    sample: Workspace,
) -> None:
    store = sample.site_named(BOATHOUSE)
    assert find_visit(store).record.date == MARCH
    with pytest.raises(NotFoundError, match="visits: 2026-03-04, 2025-11-12"):
        find_visit(store, dt.date(2026, 3, 5))


def test_a_visit_of_the_same_day_has_the_same_id_on_every_laptop(sample: Workspace) -> None:
    store = sample.site_named(BOATHOUSE)
    day = dt.date(2026, 6, 1)
    made = ensure_visit(store, day, "one")
    assert ensure_visit(store, day, "other").revision == made.revision
    assert set(made.record.to_body()) - {"id", "site_id", "date", "schema_version"} == {
        name for name, value in Visit(id="x", site_id="x", date=day) if name not in ("id", "site_id", "date")
    } - {"schema_version"}


def test_the_stages_of_a_finished_day_are_done_but_for_the_sheet(sample: Workspace) -> None:
    store = sample.site_named(BOATHOUSE)
    stages = day_stages(store, find_visit(store).record)
    assert [stage.done for stage in stages] == [True, True, True, True, False]


def test_a_failed_closing_check_makes_the_results_suspect_and_the_place_says_so(sample: Workspace) -> None:
    store = sample.site_named(HALL)
    results = ResultBook(sample).of_visit(store, find_visit(store).record.id)
    assert len(results) == 24
    assert {result.cover.word for result in results} == {"suspect"}
    row = next(place for place in places(sample, dt.date(2026, 5, 6)) if place.name == HALL)
    assert row.to_finish == "24 results suspect"
    page = coach_page(sample, store, find_visit(store).record)
    assert page.waiting_for_rig == 24
    assert {line.next_step for group in page.groups for line in group.lines} == {"retest by 4 Feb 2026"}


def test_results_after_an_adjustment_rest_on_the_check_as_left(sample: Workspace) -> None:
    store = sample.site_named(ACADEMY)
    results = ResultBook(sample).of_visit(store, find_visit(store).record.id)
    checks = {kept.record.id: kept.record for kept in at_site(store, RigCheck).all()}
    assert {result.cover.word for result in results} == {"confirmed"}
    assert {checks[result.cover.opening_id].state for result in results} == {"as-left"}


def test_local_gravity_differs_between_boathouse_and_academy(sample: Workspace) -> None:
    rows = {place.name: place for place in places(sample, dt.date(2026, 5, 6))}
    # GRS 80 normal gravity with the free-air term 3.086e-6 per s2, worked out by hand for both places.
    assert rows[BOATHOUSE].local_gravity_m_s2 == pytest.approx(9.81932, abs=2e-5)
    assert rows[ACADEMY].local_gravity_m_s2 == pytest.approx(9.80265, abs=2e-5)


def test_certificates_that_end_soon_are_due(sample: Workspace) -> None:
    due = due_list(sample, dt.date(2026, 5, 6))
    assert {row.text for row in due if row.what.startswith("mass")} == {"certificate ends in 21 days"}
    later = due_list(sample, dt.date(2026, 6, 6))
    assert {row.text for row in later if row.what.startswith("mass")} == {"certificate overdue by 10 days"}


def test_change_since_the_last_visit_is_told_with_what_error_can_make(sample: Workspace) -> None:
    store = sample.site_named(BOATHOUSE)
    page = coach_page(sample, store, find_visit(store).record)
    trunk = next(group for group in page.groups if group.protocol.region == "trunk")
    lines = {line.code: line for line in trunk.lines}
    # R02 was simulated 16 % stronger than in November; R01 3 %.
    assert lines["R02"].change["up"].change_pct == pytest.approx(16, abs=4)
    assert lines["R01"].change["up"].word == "within error"
    assert lines["R02"].change["up"].detectable_pct > 10
    assert page.not_tested == ("R06",)


def test_a_first_visit_is_not_compared(sample: Workspace) -> None:
    store = sample.site_named(ACADEMY)
    page = coach_page(sample, store, find_visit(store).record)
    words = {change.word for group in page.groups for line in group.lines for change in line.change.values()}
    assert words == {"first visit, no comparison"}
    assert not page.shows_strip  # minors, and fewer than five


def test_a_side_difference_stands_once_at_the_right_side(sample: Workspace) -> None:
    store = sample.site_named(ACADEMY)
    group = coach_page(sample, store, find_visit(store).record).groups[0]
    by_side = {(line.code, line.side): line for line in group.lines}
    right, left = by_side["T04", "right"], by_side["T04", "left"]
    expected = (
        100 * (right.peak_torque_nm["down"] - left.peak_torque_nm["down"]) / right.peak_torque_nm["down"]
    )
    assert right.side_difference_pct["down"] == pytest.approx(expected)
    assert left.side_difference_pct["down"] is None


def test_the_ratio_is_numerator_over_denominator_as_the_protocol_names_them(sample: Workspace) -> None:
    store = sample.site_named(ACADEMY)
    group = coach_page(sample, store, find_visit(store).record).groups[0]
    assert group.protocol.ratio_name == "flexion/extension"
    line = group.lines[0]
    assert line.ratio_pct == pytest.approx(100 * line.peak_torque_nm["up"] / line.peak_torque_nm["down"])


def _one_set(sample: Workspace):
    store = sample.site_named(ACADEMY)
    return store, min(sets_of(store, find_visit(store).record.id), key=lambda kept: kept.record.at)


def test_the_same_recording_for_another_athlete_is_refused_naming_where_it_is(sample: Workspace) -> None:
    store, kept = _one_set(sample)
    other = athlete_named(sample, "T02").record
    with pytest.raises(RefusedError, match=r"already set 1 of T01, right"):
        add_set(
            sample,
            store,
            reload_recording(store, kept.record),
            visit_id=kept.record.visit_id,
            batch_id=kept.record.batch_id,
            athlete_id=other.id,
            protocol_id=kept.record.protocol_id,
            rig_id=kept.record.rig_id,
            at=kept.record.at,
            by="tester 1",
        )


def test_a_repetition_left_out_stays_listed_and_the_measures_are_done_again(sample: Workspace) -> None:
    store, kept = _one_set(sample)
    before = kept.record.measures
    best = max(
        (movement for movement in before["movements"] if movement["direction"] == "up"),
        key=lambda movement: movement["peak_torque_nm"],
    )
    changed = leave_out(store, kept, [LeaveOut(index=best["index"], reason="slip")], by="tester 1")
    after = changed.record.measures
    assert len(after["movements"]) == len(before["movements"])
    assert after["set"]["up"]["movements"] == before["set"]["up"]["movements"] - 1
    assert after["set"]["up"]["best_peak_torque_nm"] < before["set"]["up"]["best_peak_torque_nm"]
    assert at_site(store, EffortSet).history(kept.record.id)[-1].why == f"left out: {best['index']} slip"
    back = store.undo("sets", kept.record.id, by="tester 1")
    assert back.body["measures"] == before


def test_a_kept_recording_is_the_file_byte_for_byte_and_gives_the_same_measures(sample: Workspace) -> None:
    from fieldlog.fieldwork.results.imports import analyse_import

    store, kept = _one_set(sample)
    again = analyse_import(reload_recording(store, kept.record)).measures
    for direction in ("up", "down"):
        for name, value in kept.record.measures["set"][direction].items():
            # Not bit for bit: other processors round a Fourier transform otherwise.
            assert again["set"][direction][name] == (pytest.approx(value, rel=1e-9) if value else value), name
    assert [movement["flags"] for movement in again["movements"]] == [
        movement["flags"] for movement in kept.record.measures["movements"]
    ]


def test_two_athletes_with_one_code_are_named_by_their_ids(sample: Workspace) -> None:
    first = athlete_named(sample, "R01").record
    twin = Athlete(id=new_id(), code="R01")
    of_team(sample, Athlete).save(twin, by="other laptop")
    with pytest.raises(NotFoundError) as error:
        athlete_named(sample, "R01")
    assert first.id in str(error.value)
    assert twin.id in str(error.value)
    assert athlete_named(sample, twin.id).record == twin


def test_a_code_in_use_is_refused(sample: Workspace) -> None:
    with pytest.raises(InputError, match="already used"):
        add_athlete(sample, "R01", by="tester 1")
    assert add_athlete(sample, "R99", by="tester 1", squad="new").record.id != "R99"
    assert "new" in squads(sample)


def test_an_event_after_the_check_takes_the_cover_away(sample: Workspace) -> None:
    store = sample.site_named(BOATHOUSE)
    visit = find_visit(store).record
    rig = rig_named(sample, "rig A").record
    opening = min(
        (check for check in checks_of_rig(sample, rig.id) if check.visit_id == visit.id), key=lambda c: c.at
    )
    add_event(store, rig, "knocked", at=opening.at + dt.timedelta(minutes=5), by="tester 1")
    words = {result.cover.word for result in ResultBook(sample).of_visit(store, visit.id)}
    assert words == {"unverified"}


def test_the_same_check_file_saved_again_adds_nothing(sample: Workspace, sample_folder) -> None:
    store = sample.site_named(BOATHOUSE)
    file = sample_folder / "recordings" / "2026-05-06_opening.json"
    first = save_check_file(sample, store, file, today=dt.date(2026, 5, 6))
    revisions = sum(
        len(store.history("rig_checks", kept.record.id)) for kept in at_site(store, RigCheck).all()
    )
    again = save_check_file(sample, store, file, today=dt.date(2026, 5, 6))
    assert first.added
    assert not again.added
    assert again.judged == first.judged
    assert revisions == sum(
        len(store.history("rig_checks", kept.record.id)) for kept in at_site(store, RigCheck).all()
    )


def test_rows_for_export_agree_with_the_records(sample: Workspace) -> None:
    rows = list(result_rows(sample))
    assert list(rows[0])[:17] == [
        "site", "visit", "athlete", "protocol", "set", "direction", "mode", "set_speed_deg_s",
        "peak_torque_nm", "peak_torque_angle_deg", "work_j", "mean_power_w", "peak_torque_cv_pct",
        "quality", "cover", "recipe", "side",
    ]  # fmt: skip
    repetitions = list(repetition_rows(sample))
    key = ("site", "visit", "athlete", "protocol", "side", "set")
    in_one_set = itertools.groupby(repetitions, key=lambda row: tuple(row[name] for name in key))
    peaks = {
        (*where, direction): max(row["peak_torque_nm"] for row in list_of if row["direction"] == direction)
        for where, group in in_one_set
        for list_of in [[row for row in group if not {"left_out", "dropped"} & set(row["flags"].split())]]
        for direction in ("up", "down")
    }
    for row in rows:
        assert row["peak_torque_nm"] == peaks[(*(row[name] for name in key), row["direction"])]
    checks = list(check_rows(sample))
    assert [row["verdict"] for row in checks].count("fail") == 2
    assert checks == sorted(checks, key=lambda row: dt.datetime.fromisoformat(row["at"]))


def test_the_life_of_the_rig_runs_over_all_sites(sample: Workspace) -> None:
    life = rig_life(sample, "rig A")
    assert [check["site"] for check in life["checks"]][:3] == [BOATHOUSE, BOATHOUSE, HALL]
    assert len(life["lines"]["up"]) == len(life["checks"]) == 9
    with pytest.raises(NotFoundError, match="rigs: rig A"):
        rig_life(sample, "rig Z")
