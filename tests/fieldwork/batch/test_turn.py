"""A turn at the rig: sets in order, the rest, one more repetition, and keeping a recording."""

import datetime as dt

import pytest

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.athletes.body_mass import mass_question, set_body_mass
from fieldlog.fieldwork.batch.batches import (
    add_to_batch,
    batches_of,
    change_entry,
    entry_of,
    make_batch,
    next_waiting,
)
from fieldlog.fieldwork.batch.turn import is_through, last_sets, next_counted, ratio_pct, rest_of, turn_rows
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.recording.recording_files import (
    complete_path,
    read_fitting,
    read_sweep,
    recording_files,
)
from fieldlog.fieldwork.results.imports import Import
from fieldlog.fieldwork.results.keep_set import Seat, keep_set, occasion_at
from fieldlog.fieldwork.results.sets import sets_of
from fieldlog.fieldwork.visit.day import choose_rig, cover_words, rig_of_visit
from fieldlog.fieldwork.visit.visits import ensure_visit
from fieldlog.records.batch import Batch

AT = dt.datetime(2026, 5, 6, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))


@pytest.fixture
def seat(sample):
    store = sample.site_named("Skarvik boathouse")
    visit = choose_rig(sample, store, ensure_visit(store, AT.date(), "t"), "rig A", "t").record
    athlete_id = athlete_named(sample, "R01").record.id
    batch = make_batch(
        sample, store, visit, protocol_id="trunk_standing_60_120", athlete_ids=[athlete_id], by="t"
    )
    protocol = catalogue.protocol(sample, "trunk_standing_60_120")
    return Seat(sample, store, visit, batch, athlete_id, protocol, rig_of_visit(sample, store, visit))


def recording(seat, name="2026-05-06_R01_trunk_060.csv", speed=60.0):
    data = (seat.workspace.path / "recordings" / name).read_bytes()
    return Import(name=name, data=data, side="both", mode="concentric", speed_deg_s=speed, body_mass_kg=88.5)


def rows_of(seat):
    return turn_rows(seat.workspace, seat.store, seat.visit, seat.athlete_id, seat.protocol)


def counted(seat, speed):
    return next(p for p in seat.protocol.sets if p.purpose == "counted" and p.speed_deg_s == speed)


def test_the_next_set_that_counts_comes_after_the_one_that_is_done(seat):
    assert next_counted(rows_of(seat)).planned.speed_deg_s == 60
    keep_set(seat, recording(seat), counted(seat, 60), at=AT, by="t")
    rows = rows_of(seat)
    assert next_counted(rows).planned.speed_deg_s == 120
    assert not is_through(rows)
    assert rest_of(rows).left_s(AT + dt.timedelta(seconds=30)) == 60


def test_a_recording_of_a_held_athlete_is_kept_as_such_and_the_turn_ends_with_the_last_set(seat):
    first = keep_set(seat, recording(seat), counted(seat, 60), at=AT, by="t")
    assert first.kept.record.without_clearance
    second = keep_set(
        seat, recording(seat, "2026-05-06_R01_trunk_120.csv", 120.0), counted(seat, 120), at=AT, by="t"
    )
    assert is_through(rows_of(seat))
    assert rest_of(rows_of(seat)) is None
    assert second.changed[0] == (Batch.table, seat.batch.record.id)
    batch = at_site(seat.store, Batch).get(seat.batch.record.id).record
    assert entry_of(batch, seat.athlete_id).status == "done"


def test_undoing_everything_that_a_kept_set_changed_restores_the_turn(seat):
    keep_set(seat, recording(seat), counted(seat, 60), at=AT, by="t")
    again = recording(seat, "2026-05-06_R02_trunk_060.csv")
    kept = keep_set(seat, again, counted(seat, 60), at=AT + dt.timedelta(minutes=2), by="t")
    for table, key in kept.changed:
        seat.store.undo(table, key, by="t")
    assert [each.record.standing for each in sets_of(seat.store, seat.visit.id)] == ["counted"]


def test_without_a_rig_nothing_is_kept(seat):
    nowhere = Seat(seat.workspace, seat.store, seat.visit, seat.batch, seat.athlete_id, seat.protocol, None)
    with pytest.raises(RefusedError, match="rig"):
        keep_set(nowhere, recording(seat), counted(seat, 60), at=AT, by="t")
    assert sets_of(seat.store, seat.visit.id) == []


def test_last_visits_sets_are_found_over_all_sites_by_side_speed_and_mode(seat):
    found = last_sets(seat.workspace, seat.visit, seat.athlete_id, seat.protocol.id)
    assert set(found) == {("both", 60.0, "concentric"), ("both", 120.0, "concentric")}
    assert all(record.at.date() < seat.visit.date for _, record in found.values())


def test_a_ratio_has_the_protocols_numerator():
    protocol = catalogue.shipped_protocols()["trunk_standing_60_120"]
    measures = {"set": {"down_up_peak_ratio_pct": 125.0}}
    assert ratio_pct(measures, protocol) == 125.0
    assert ratio_pct(measures, protocol.model_copy(update={"ratio_numerator": "up"})) == pytest.approx(80.0)
    assert ratio_pct({"set": {"down_up_peak_ratio_pct": None}}, protocol) is None


def test_a_batch_names_each_athlete_once_and_grows_at_its_end(field):
    ids = [field.adult.id, field.minor.id]
    with pytest.raises(InputError, match="twice"):
        make_batch(
            field.workspace,
            field.store,
            field.visit,
            protocol_id="knee_60_180",
            athlete_ids=[ids[0]] * 2,
            by="t",
        )
    with pytest.raises(InputError, match="no athlete"):
        make_batch(
            field.workspace, field.store, field.visit, protocol_id="knee_60_180", athlete_ids=[], by="t"
        )
    batch = make_batch(
        field.workspace, field.store, field.visit, protocol_id="knee_60_180", athlete_ids=ids[:1], by="t"
    )
    batch = add_to_batch(field.workspace, field.store, field.visit, batch, ids, by="t")
    assert [entry.athlete_id for entry in batch.record.entries] == ids
    assert [kept.record.id for kept in batches_of(field.store, field.visit)] == [batch.record.id]


def test_whose_turn_is_next_goes_round_and_passes_over_who_is_absent(field):
    ids = [field.adult.id, field.minor.id]
    batch = make_batch(
        field.workspace, field.store, field.visit, protocol_id="knee_60_180", athlete_ids=ids, by="t"
    )
    assert next_waiting(batch.record).athlete_id == ids[0]
    assert next_waiting(batch.record, after=ids[1]).athlete_id == ids[0]
    batch = change_entry(field.store, batch, ids[0], by="t", status="absent")
    assert next_waiting(batch.record, after=ids[1]) is None
    with pytest.raises(InputError, match="not in the batch"):
        change_entry(field.store, batch, "nobody", by="t", status="done")


def test_a_body_mass_far_from_the_last_one_is_asked_about(field):
    assert mass_question(80.0, None) == ""
    assert mass_question(84.0, 80.0) == ""
    assert mass_question(85.0, 80.0) == "85 kg is 6 % over the last 80 kg: pounds? another person?"
    assert mass_question(70.0, 80.0).startswith("70 kg is 12 % under")
    assert mass_question(176.0, 80.0).endswith("pounds? 176 lb are 79.8 kg")
    ids = [field.adult.id]
    batch = make_batch(
        field.workspace, field.store, field.visit, protocol_id="knee_60_180", athlete_ids=ids, by="t"
    )
    kept = set_body_mass(field.store, batch, field.adult.id, 81.5, by="t")
    assert kept.record.entries[0].body_mass_kg == 81.5
    for athlete_id, mass in ((field.adult.id, 4.0), (field.adult.id, float("nan")), (field.minor.id, 60.0)):
        with pytest.raises(InputError, match="body mass"):
            set_body_mass(field.store, kept, athlete_id, mass, by="t")


def test_the_cover_of_the_day_is_said_in_words(seat):
    words, use = cover_words(seat.workspace, seat.store, seat.visit, seat.rig)
    assert (words, use) == ("no cover yet today", "unknown")
    lowfield = seat.workspace.site_named("Lowfield hall")
    failed = ensure_visit(lowfield, dt.date(2026, 1, 21), "t").record
    words, use = cover_words(seat.workspace, lowfield, failed, seat.rig)
    assert words.startswith("not for use: closing check")
    assert use == "not for use"


def test_recordings_of_a_folder_come_newest_first(tmp_path):
    import os

    for age, name in enumerate(("b.csv", "a.TXT", "c.json", "d.dat")):
        (tmp_path / name).write_text("x")
        os.utime(tmp_path / name, (1_000_000 - age, 1_000_000 - age))
    (tmp_path / "folder.csv").mkdir()
    assert [file.path.name for file in recording_files(tmp_path)] == ["b.csv", "a.TXT", "d.dat"]
    with pytest.raises(InputError, match="nowhere"):
        recording_files(tmp_path / "nowhere")


def test_a_path_is_completed_to_the_first_that_begins_so(tmp_path):
    (tmp_path / "visit").mkdir()
    (tmp_path / "visit" / "R01.csv").write_text("x")
    (tmp_path / "visit" / "R01.pdf").write_text("x")
    assert complete_path(f"{tmp_path}/vi") == f"{tmp_path}/visit/"
    assert complete_path(f"{tmp_path}/visit/R") == f"{tmp_path}/visit/R01.csv"
    assert complete_path(f"{tmp_path}/zz") is None
    assert complete_path("/no/such/folder/x") is None


def test_a_recording_with_foreign_columns_is_read_through_the_map_beside_it(seat):
    folder = seat.workspace.path / "recordings"
    maps = [read_fitting(file.path)[1] for file in recording_files(folder)]
    assert any(column_map is None for column_map in maps)
    assert any(column_map is not None for column_map in maps)
    (folder / "else.csv").write_text("a,b,c\n1,2,3\n")
    with pytest.raises(InputError, match=r"else\.csv"):
        read_fitting(folder / "else.csv")


def test_a_sweep_is_read_and_a_set_is_none(seat):
    folder = seat.workspace.path / "recordings"
    sweep = read_sweep(folder / "2026-05-06_R03_knee_left_sweep.csv")
    assert sweep.name.endswith("sweep.csv")
    with pytest.raises(InputError):
        read_sweep(folder / "visit.json")


def test_from_the_file_to_the_kept_set_and_its_curves_a_recording_is_read_and_analysed_once(
    seat, monkeypatch
):
    import fieldlog.analysis.trace as trace
    from fieldlog.fieldwork.recording import recording as reading
    from fieldlog.screens.curve_data import plots_of
    from fieldlog.screens.import_recording import read_import

    done = []
    for module, name in ((reading, "read_table"), (trace, "analyse")):
        usual = getattr(module, name)
        monkeypatch.setattr(
            module, name, lambda *a, _usual=usual, _name=name, **k: done.append(_name) or _usual(*a, **k)
        )
    path = seat.workspace.path / "recordings" / "2026-05-06_R01_trunk_060.csv"
    judged = read_import(path, recording(seat), occasion_at(seat, "both", AT))
    assert plots_of(judged, seat.protocol)
    kept = keep_set(seat, judged, counted(seat, 60), at=AT, by="t").kept
    assert done == ["read_table", "analyse"]
    assert kept.record.measures == judged.measures
    assert seat.store.traces.get(kept.record.trace) == path.read_bytes()
