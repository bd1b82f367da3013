"""Which set a recording is that arrived by itself, and that nothing is lost between file and save."""

import datetime as dt
import os
import shutil
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.batch.batches import make_batch
from fieldlog.fieldwork.batch.turn import row_key
from fieldlog.fieldwork.recording.arrivals import unused_files
from fieldlog.fieldwork.results.arrived import guess_set, last_maps, read_arrived, rows_now, take_arrived
from fieldlog.fieldwork.results.keep_set import Seat
from fieldlog.fieldwork.results.sets import holder_of, sets_of
from fieldlog.fieldwork.visit.day import choose_rig, rig_of_visit
from fieldlog.fieldwork.visit.visits import ensure_visit
from fieldlog.store.workspace import Workspace

SAMPLE = Path(__file__).parents[3] / "sample_sites"
MORNING = dt.datetime(2026, 5, 6, 8, 30, tzinfo=dt.timezone(dt.timedelta(hours=1)))
SIXTY = "2026-05-06_R01_trunk_060.csv"


def seat_of(workspace, code="R01", others=("R07", "R08"), protocol_id="trunk_standing_60_120"):
    store = workspace.site_named("Skarvik boathouse")
    visit = choose_rig(workspace, store, ensure_visit(store, MORNING.date(), "t"), "rig A", "t").record
    ids = [athlete_named(workspace, each).record.id for each in (code, *others)]
    batch = make_batch(workspace, store, visit, protocol_id=protocol_id, athlete_ids=ids, by="t")
    protocol = catalogue.protocol(workspace, protocol_id)
    return Seat(workspace, store, visit, batch, ids[0], protocol, rig_of_visit(workspace, store, visit))


@pytest.fixture
def seat(tmp_path):
    if not (SAMPLE / "workspace.json").is_file():
        pytest.skip("the sample workspace is not in this checkout")
    shutil.copytree(SAMPLE, tmp_path / "sample")
    with Workspace.open(tmp_path / "sample") as workspace:
        yield seat_of(workspace)


def arrived_from(seat, name, maps=()):
    path = seat.workspace.path / "recordings" / name
    return read_arrived(path, path.read_bytes(), maps=maps)


def guessed(seat, arrived, **options):
    guess = guess_set(seat, rows_now(seat), arrived, **options)
    return row_key(guess.row) if guess.row else guess.against


def test_a_recording_is_the_open_set_of_its_speed_that_counts(seat):
    assert guessed(seat, arrived_from(seat, SIXTY)) == "both.2"
    assert guessed(seat, arrived_from(seat, SIXTY.replace("060", "120"))) == "both.4"


def test_as_many_repetitions_as_for_practice_make_it_the_set_for_practice(seat):
    assert guessed(seat, replace(arrived_from(seat, SIXTY), repetitions=4)) == "both.1"


def test_a_speed_no_open_set_has_is_not_taken_in_unasked(seat):
    other = replace(arrived_from(seat, SIXTY), speed_deg_s=200.0)
    assert guessed(seat, other) == "200°/s fits no set that is open"
    assert guessed(seat, replace(other, holds=True)) == "a hold fits no set that is open"


def test_a_name_that_holds_another_athletes_code_is_not_taken_in_unasked(seat):
    other = replace(arrived_from(seat, SIXTY), path=Path("set_r07-60.csv"))
    assert guessed(seat, other) == "its name says R07"
    assert guessed(seat, replace(other, path=Path("R01_after_R07.csv"))) == "both.2"
    assert guessed(seat, replace(other, path=Path("R070.csv"))) == "both.2"


def test_once_it_is_a_set_the_next_of_that_speed_is_not_taken_in_unasked(seat):
    first = arrived_from(seat, SIXTY)
    row = guess_set(seat, rows_now(seat), first).row
    kept = take_arrived(seat, row, first, body_mass_kg=88.5, sweep=None, at=MORNING, by="t").kept.record
    assert kept.without_clearance
    assert (kept.speed_deg_s, kept.body_mass_kg, kept.trace_name) == (60.0, 88.5, SIXTY)
    assert holder_of(seat.workspace, first.data).startswith("set 1 of R01")
    assert guessed(seat, replace(first, data=b"other")) == "60°/s fits no set that is open"


def test_a_relaxed_sweep_weighs_the_side_that_is_next_until_it_is_weighed(seat):
    knee = seat_of(seat.workspace, "R03", (), "knee_60_180")
    side = rows_now(knee)[0].place[0]
    sweep = arrived_from(knee, f"2026-05-06_R03_knee_{side}_sweep.csv")
    assert sweep.relaxed
    assert guess_set(knee, rows_now(knee), sweep).sweep
    assert guessed(knee, sweep, weighed=[side]).endswith("fits no set that is open")
    assert not arrived_from(knee, f"2026-05-06_R03_knee_{side}_060.csv").relaxed


def test_the_map_of_the_last_recording_is_used_where_none_lies_beside(seat, tmp_path):
    foreign = arrived_from(seat, "2026-05-06_R08_trunk_060.csv")
    assert foreign.column_map is not None
    row = guess_set(seat, rows_now(seat), replace(foreign, path=Path("x.csv"))).row
    take_arrived(seat, row, foreign, body_mass_kg=None, sweep=None, at=MORNING, by="t")
    alone = tmp_path / "alone.csv"
    alone.write_bytes((seat.workspace.path / "recordings" / "2026-05-06_R08_trunk_120.csv").read_bytes())
    with pytest.raises(InputError, match=r"alone\.csv"):
        read_arrived(alone, alone.read_bytes())
    maps = last_maps(seat.store, seat.visit)
    assert read_arrived(alone, alone.read_bytes(), maps=maps).column_map == foreign.column_map


def test_a_file_written_on_is_told_from_another(seat):
    first = arrived_from(seat, SIXTY)
    assert replace(first, data=first.data + b"1,2,3\n").grew_from(first)
    assert not replace(first, data=b"x" + first.data).grew_from(first)
    assert not replace(first, path=Path("b.csv"), data=first.data + b"1").grew_from(first)


KILLED = """
import os, signal, sys
from pathlib import Path
from fieldlog.store.traces import Traces
from fieldlog.store.workspace import Workspace
from tests.fieldwork.results.test_arrived import MORNING, SIXTY, arrived_from, guess_set, rows_now, seat_of, take_arrived
put = Traces.put
def put_and_die(self, data):
    put(self, data)
    os.kill(os.getpid(), signal.SIGKILL)
Traces.put = put_and_die
with Workspace.open(Path(sys.argv[1])) as workspace:
    seat = seat_of(workspace)
    arrived = arrived_from(seat, SIXTY)
    row = guess_set(seat, rows_now(seat), arrived).row
    take_arrived(seat, row, arrived, body_mass_kg=None, sweep=None, at=MORNING, by="t")
"""


def test_a_program_killed_between_file_and_save_finds_the_file_again(tmp_path):
    if not (SAMPLE / "workspace.json").is_file():
        pytest.skip("the sample workspace is not in this checkout")
    shutil.copytree(SAMPLE, tmp_path / "sample")
    file = tmp_path / "sample" / "recordings" / SIXTY
    os.utime(file, (MORNING.timestamp(), MORNING.timestamp()))
    ended = subprocess.run(
        [sys.executable, "-c", KILLED, str(tmp_path / "sample")],
        cwd=Path(__file__).parents[3],
        check=False,
        capture_output=True,
        text=True,
    )
    assert ended.returncode == -signal.SIGKILL, ended.stderr
    with Workspace.open(tmp_path / "sample") as workspace:
        seat = seat_of(workspace)
        assert sets_of(seat.store, seat.visit.id) == []
        assert file in unused_files(workspace, file.parent, seat.visit)
        arrived = arrived_from(seat, SIXTY)
        row = guess_set(seat, rows_now(seat), arrived).row
        take_arrived(seat, row, arrived, body_mass_kg=None, sweep=None, at=MORNING, by="t")
        assert file not in unused_files(workspace, file.parent, seat.visit)
