"""The invented team: complete, plausible, small, and the same every time."""

import json
from collections import Counter

import pytest

from tests.simulation.sample_people import ATHLETES, SITES, SQUADS, VISITS, athlete
from tests.simulation.sample_team import (
    COLUMN_MAP_FILE,
    check_entries,
    knee_weight,
    manifest,
    recordings_of,
    scene_of,
    text_of,
    write_recordings,
)


def test_one_squad_is_visited_more_than_once_and_most_of_it_comes_again():
    first, *later = (visit for visit in VISITS if visit.squad == "rowers")
    assert later
    for visit in later:
        assert len(set(first.trunk) & set(visit.trunk)) >= 5


def test_there_are_three_sites_one_of_them_high_up_and_three_squads_of_five_to_eight():
    assert len(SITES) == 3
    assert max(place.height_m for place in SITES) >= 1500
    squads = Counter(person.squad for person in ATHLETES)
    assert set(squads) == set(SQUADS)
    assert all(5 <= count <= 8 for count in squads.values())


def test_everybody_on_a_visit_belongs_to_its_squad_and_who_did_not_come_has_a_reason():
    for visit in VISITS:
        members = {person.code for person in ATHLETES if person.squad == visit.squad}
        absent = {code for code, reason in visit.absent if reason}
        assert set(visit.trunk) | set(visit.knee) | absent <= members
        assert len(absent) == len(visit.absent)
        assert not absent & (set(visit.trunk) | set(visit.knee))


def test_recordings_of_a_visit_lie_between_its_opening_and_its_closing_check():
    for visit in VISITS:
        opening, *_, closing = (entry["at"] for entry in check_entries(visit).values())
        times = [recording.at for recording in recordings_of(visit)]
        assert times == sorted(times)
        assert opening < times[0]
        assert times[-1] < closing


def test_file_names_are_unique_and_every_knee_set_has_its_own_sweep():
    files = [recording.file for recording in manifest()]
    assert len(set(files)) == len(files)
    for recording in manifest():
        if recording.protocol == "knee" and recording.kind == "set":
            assert recording.sweep_file in files


def test_peak_torques_at_60_deg_s_are_those_of_trained_people():
    for recording in manifest():
        if recording.speed_deg_s != 60:
            continue
        truths = scene_of(recording).truth()
        up, down = (
            max(truth.peak_torque_nm for truth in truths if truth.direction == direction)
            / recording.body_mass_kg
            for direction in ("up", "down")
        )
        if recording.protocol == "knee":
            assert 1.6 <= down <= 3.6  # N·m/kg, from memory: men 2.2–3.6, women 1.6–2.9
            assert 0.45 <= up / down <= 0.65
        else:
            assert 1.5 <= up <= 3.5
            assert 2.0 <= down <= 5.0


def test_limb_weights_are_near_the_handbook_segment_plus_lever():
    person = athlete("T03")
    # Winter 2009, Table 4.1: foot and leg 0.061 of body mass, centre 0.606 of the shank
    segment_nm = 0.061 * person.body_mass_kg * 9.81 * 0.606 * 0.246 * person.height_m
    assert 1.0 < knee_weight(person).cos_nm / segment_nm < 1.4


def test_writing_twice_gives_the_same_bytes_and_stays_under_3_mb(tmp_path):
    paths = write_recordings(tmp_path / "one")
    again = write_recordings(tmp_path / "two")
    assert [path.name for path in paths] == [path.name for path in again]
    assert all(a.read_bytes() == b.read_bytes() for a, b in zip(paths, again, strict=True))
    assert sum(path.stat().st_size for path in paths) < 3_000_000
    assert sorted(path.name for path in (tmp_path / "one").iterdir()) == sorted(path.name for path in paths)
    listed = json.loads((tmp_path / "one" / "manifest.json").read_text(encoding="utf-8"))
    assert {entry["file"] for entry in listed} <= {path.name for path in paths}


def test_one_athletes_files_have_decimal_commas_and_foreign_names():
    foreign = [recording for recording in manifest() if recording.column_map_file]
    assert [recording.column_map_file for recording in foreign] == [COLUMN_MAP_FILE] * 2
    lines = text_of(foreign[0]).splitlines()
    assert lines[3].startswith("Zeit [ms];Winkel")
    assert lines[10].count(",") == 3


@pytest.mark.parametrize("visit", VISITS, ids=lambda visit: f"{visit.date}")
def test_checks_show_what_the_story_needs(visit):
    for check, entry in zip(visit.checks, check_entries(visit).values(), strict=True):
        largest = max(entry["torque"], key=lambda point: (point["direction"] == "up", point["reading_nm"]))
        off_pct = 100 * (check.rig.slope(largest["direction"]) - 1)
        assert (abs(off_pct) > 2.0) == (check.expected == "fail")


def test_after_the_knock_recordings_read_high():
    hall = next(visit for visit in VISITS if visit.gain != 1.0)
    before, after = recordings_of(hall)[0], recordings_of(hall)[-1]
    assert before.at[11:16] < hall.gain_from < after.at[11:16]
    for recording, gain in ((before, 1.0), (after, hall.gain)):
        truth = max(
            truth.peak_torque_nm for truth in scene_of(recording).truth() if truth.direction == "down"
        )
        torque = [float(line.split(",")[3]) for line in text_of(recording).splitlines()[1:]]
        weight_nm = 0.35 * recording.body_mass_kg
        assert -min(torque) == pytest.approx(gain * (truth - 0.615 * weight_nm), rel=0.03)
