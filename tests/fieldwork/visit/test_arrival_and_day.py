"""Arriving, and what is noted of each athlete on the day."""

import datetime as dt

import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork.athletes.athlete_days import day_of, note_injured_side, save_day
from fieldlog.fieldwork.athletes.person_entries import persons_entries
from fieldlog.fieldwork.rig_life.rigs import rig_named
from fieldlog.fieldwork.visit.arrival import arrival_caution, arrival_items, open_items, warm_up_left_minutes
from fieldlog.fieldwork.visit.day import checks_of_visit, cover_words
from fieldlog.fieldwork.visit.visits import day_stages, ensure_visit, visits_of
from fieldlog.records.visit import Arrival


def test_every_item_of_the_list_fills_a_field_of_the_arrival():
    fields = [item.field for item in arrival_items()]
    assert set(fields) == set(Arrival.model_fields)
    assert "local rules" in arrival_caution()


def test_what_is_open_or_found_wrong_is_still_to_be_seen_to():
    holding = {item.field for item in arrival_items() if item.holds}
    assert {item.field for item in open_items(None)} == holding
    seen = Arrival(
        levelled=True, anchored=True, cables=False, stop_switch_athlete=True, first_aid="A. Invented"
    )
    assert [item.field for item in open_items(seen)] == ["cables", "stop_switch_tester"]


def test_the_rig_warms_up_from_when_it_was_switched_on(field):
    assert warm_up_left_minutes(None, 20.0, field.clock()) is None
    assert warm_up_left_minutes(Arrival(), 20.0, field.clock()) is None
    on = Arrival(powered_on_at=field.clock("08:50"))
    assert warm_up_left_minutes(on, 20.0, field.clock("09:00")) == 10.0
    assert warm_up_left_minutes(on, 20.0, field.clock("09:30")) == 0.0


def test_notes_of_the_day_are_kept_field_by_field(field):
    save_day(
        field.store, field.visit, field.adult.id, {"footwear": "rowing"}, by="t", at=field.clock("08:00")
    )
    save_day(field.store, field.visit, field.adult.id, {"cheering": False}, by="t", at=field.clock("08:05"))
    day = day_of(field.store, field.visit, field.adult.id).record
    assert (day.footwear, day.cheering, day.warm_up_done) == ("rowing", False, None)
    with pytest.raises(InputError, match="available_until"):
        save_day(
            field.store,
            field.visit,
            field.adult.id,
            {"available_from": "2031-05-04T10:00:00+02:00", "available_until": "2031-05-04T09:00:00+02:00"},
            by="t",
            at=field.clock("08:06"),
        )


def test_the_injured_side_stands_in_no_record_and_goes_second(field):
    note_injured_side(
        field.workspace,
        field.store,
        field.visit,
        athlete_id=field.adult.id,
        injured="right",
        by="t",
        at=field.clock("08:00"),
    )
    assert day_of(field.store, field.visit, field.adult.id).record.first_side == "left"
    entries = persons_entries(field.workspace, field.adult.id, "injured_side")
    assert [entry["side"] for entry in entries] == ["right"]
    field.store.seal()
    text = b"".join(path.read_bytes() for path in field.store.path.rglob("*.jsonl"))
    assert b"injured" not in text


def test_a_rig_that_failed_elsewhere_is_not_for_use_here_until_a_check_passes(sample):
    rig = rig_named(sample, "rig A").record
    tarn = sample.site_named("Tarn academy")
    days = {
        day: ensure_visit(tarn, dt.date.fromisoformat(day), "t").record
        for day in ("2026-01-20", "2026-01-25")
    }
    assert cover_words(sample, tarn, days["2026-01-20"], rig) == ("no cover yet today", "unknown")
    words, use = cover_words(sample, tarn, days["2026-01-25"], rig)
    assert words == "not for use: closing check fail on 2026-01-21"
    assert use == "not for use"
    after = ensure_visit(tarn, dt.date(2026, 2, 20), "t").record
    assert cover_words(sample, tarn, after, rig)[1] == "unknown", "an as-left check passed on 11 Feb"


def test_the_stages_of_a_day_are_those_of_its_rig(sample):
    tarn = sample.site_named("Tarn academy")
    visit = next(kept.record for kept in visits_of(tarn) if checks_of_visit(tarn, kept.record))
    own = checks_of_visit(tarn, visit)[0].rig_id
    assert day_stages(tarn, visit.model_copy(update={"rig_id": own}))[1].done
    assert not day_stages(tarn, visit.model_copy(update={"rig_id": "another"}))[1].done
