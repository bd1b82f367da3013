"""Recordings that arrive in a watched folder while an athlete is at the rig: real files, the real watcher."""

import asyncio
import os
import shutil
import sys
import time

import pytest

from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.batch.batches import make_batch
from fieldlog.fieldwork.results.sets import sets_of
from tests.screens.test_bench_by_keys import be_ready, bench  # noqa: F401 (a fixture and its helper)

PATIENCE_S = 20.0
SIXTY, TWICE = "2026-05-06_R01_trunk_060.csv", "2026-05-06_R01_trunk_120.csv"

SLOWLY = """
import sys, time
data = open(sys.argv[1], "rb").read()
part = len(data) // 4 + 1
with open(sys.argv[2], "wb", buffering=0) as file:
    for place in range(0, len(data), part):
        file.write(data[place:place + part])
        time.sleep(0.5)
"""


@pytest.fixture
def arriving(bench, sample, tmp_path):  # noqa: F811 (the fixture)
    """The bench with R01 ready, a folder that is watched, and hands that let files arrive in it."""
    folder = tmp_path / "from the rig"
    folder.mkdir()

    class Arriving:
        def __init__(self):
            self.folder, self.source = folder, sample.path / "recordings"
            self.open = bench

        async def begin(self, pair, *, ready=True):
            await bench.sit_down(pair)
            if ready:
                await be_ready(pair)
            else:
                await pair.type("88.5")
            await self.watch(pair)

        async def watch(self, pair):
            await pair.press("I")
            pair.room.query_one("LineInput").value = str(folder)
            await pair.press("enter")
            assert "watching from the rig" in pair.text
            # The watch has had its first look, so that what comes now is new.
            await asyncio.sleep(0.4)

        def put(self, name, named=None):
            shutil.copyfile(self.source / name, folder / (named or name))

        @property
        def sets(self):
            return [kept.record for kept in sets_of(bench.store, bench.visit.id)]

    return Arriving()


async def until(pair, true, what):
    """Wait for the watcher, which no key makes quicker."""
    began = time.monotonic()
    while not true():
        assert time.monotonic() - began < PATIENCE_S, f"never: {what}; said: {pair.said}\n{pair.text}"
        await asyncio.sleep(0.01)
    await pair.settle()
    return time.monotonic() - began


async def test_a_finished_file_is_taken_in_as_the_next_set_with_curve_and_verdict(arriving):
    async with arriving.open() as pair:
        await arriving.begin(pair)
        arriving.put(SIXTY)
        await until(
            pair, lambda: type(pair.room).__name__ == "SetRoom" and "torque over angle" in pair.text, "shown"
        )
        (record,) = arriving.sets
        assert (record.speed_deg_s, record.standing, record.trace_name) == (60, "counted", SIXTY)
        assert f"{SIXTY}: set 1 of R01" in pair.said
        assert "264.0 N·m" in pair.text
        assert (arriving.folder / SIXTY).is_file()


async def test_each_file_goes_to_the_open_set_of_its_speed(arriving):
    async with arriving.open() as pair:
        await arriving.begin(pair)
        arriving.put(TWICE)
        await until(pair, lambda: arriving.sets, "taken in")
        arriving.put(SIXTY)
        await until(pair, lambda: len(arriving.sets) == 2, "taken in")
        assert [record.speed_deg_s for record in arriving.sets] == [120, 60]


async def test_a_wrong_assignment_is_one_key_and_goes_to_another_set_or_athlete(arriving):
    async with arriving.open() as pair:
        await arriving.begin(pair)
        arriving.put(SIXTY)
        await until(pair, lambda: type(pair.room).__name__ == "SetRoom", "shown")
        await pair.press("u")
        assert arriving.sets == []
        assert f"{SIXTY} is on no set" in pair.text
        await pair.press(">")
        assert f"{SIXTY} is on no set" in pair.said
        await pair.press("> escape")
        assert "R07" in pair.text
        await pair.press("enter")
        assert "not kept yet" in pair.text
        await pair.press("enter")
        (record,) = arriving.sets
        assert record.athlete_id == arriving.open.ids[1]
        await pair.press("enter")
        assert "is on no set" not in pair.text


async def test_x_leaves_a_recording_where_it_is(arriving):
    async with arriving.open() as pair:
        await arriving.begin(pair)
        arriving.put(SIXTY)
        await until(pair, lambda: type(pair.room).__name__ == "SetRoom", "shown")
        await pair.press("u x")
        assert "is on no set" not in pair.text
        assert (arriving.folder / SIXTY).is_file()


async def test_without_what_the_gate_asks_nothing_is_kept_and_the_file_waits(arriving):
    from tests.screens.test_bench_by_keys import clear

    async with arriving.open() as pair:
        await arriving.begin(pair, ready=False)
        await clear(pair)
        arriving.put(SIXTY)
        await until(pair, lambda: "is on no set" in pair.text, "laid aside")
        assert "not kept" in pair.said
        assert arriving.sets == []


async def test_a_recording_of_an_athlete_without_clearance_is_kept_as_such(arriving):
    async with arriving.open() as pair:
        await arriving.begin(pair, ready=False)
        arriving.put(SIXTY)
        await until(pair, lambda: arriving.sets, "kept")
        assert arriving.sets[0].without_clearance
        await until(pair, lambda: "recorded without clearance" in pair.said, "said")


async def test_the_same_content_is_not_taken_twice_and_a_bad_file_is_left(arriving):
    async with arriving.open() as pair:
        await arriving.begin(pair)
        arriving.put(SIXTY)
        await until(pair, lambda: arriving.sets, "kept")
        arriving.put(SIXTY, "copy.csv")
        await until(pair, lambda: "copy.csv is already set 1 of R01" in pair.said, "refused")
        (arriving.folder / "notes.csv").write_text("no recording\n")
        await until(pair, lambda: "notes.csv" in pair.said, "said")
        assert pair.said.startswith("not taken in")
        assert (arriving.folder / "notes.csv").read_text() == "no recording\n"
        assert len(arriving.sets) == 1


async def test_a_name_with_another_athletes_code_is_not_taken_in_unasked(arriving):
    async with arriving.open() as pair:
        await arriving.begin(pair)
        arriving.put("2026-05-06_R07_trunk_060.csv")
        await until(pair, lambda: "its name says R07" in pair.said, "said")
        assert arriving.sets == []


async def test_a_file_that_is_written_slowly_is_waited_for(arriving):
    async with arriving.open() as pair:
        await arriving.begin(pair)
        slow = (str(arriving.source / SIXTY), str(arriving.folder / SIXTY))
        writer = await asyncio.create_subprocess_exec(sys.executable, "-c", SLOWLY, *slow)
        await until(pair, lambda: arriving.sets, "kept")
        assert await writer.wait() == 0
        (record,) = arriving.sets
        assert record.measures["set"]["up"]["movements"] == 5


async def test_a_file_written_on_after_a_pause_replaces_its_own_first_part(arriving):
    async with arriving.open() as pair:
        await arriving.begin(pair)
        lines = (arriving.source / SIXTY).read_bytes().splitlines(keepends=True)
        (arriving.folder / SIXTY).write_bytes(b"".join(lines[: len(lines) * 2 // 3]))
        await until(pair, lambda: arriving.sets, "kept")
        before = arriving.sets[0].measures["samples"]
        with (arriving.folder / SIXTY).open("ab") as file:
            file.write(b"".join(lines[len(lines) * 2 // 3 :]))
        await until(pair, lambda: arriving.sets and arriving.sets[0].measures["samples"] > before, "replaced")
        assert len(arriving.sets) == 1


async def test_a_stick_pulled_out_is_said_and_the_watch_goes_on_when_it_is_back(arriving):
    async with arriving.open() as pair:
        await arriving.begin(pair)
        away = arriving.folder.rename(arriving.folder.with_name("pulled out"))
        await until(pair, lambda: "goes on when it is back" in pair.said, "said")
        assert "is not there" in pair.text
        shutil.copyfile(arriving.source / TWICE, away / TWICE)
        away.rename(arriving.folder)
        await until(pair, lambda: arriving.sets, "what was recorded meanwhile")
        arriving.put(SIXTY)
        await until(pair, lambda: len(arriving.sets) == 2, "kept")


async def test_what_lay_there_before_is_offered_and_the_folder_is_asked_for_once(arriving):
    async with arriving.open() as pair:
        arriving.put(SIXTY)
        stamp = pair.now.timestamp()
        os.utime(arriving.folder / SIXTY, (stamp, stamp))
        await arriving.begin(pair)
        await until(pair, lambda: "lay there before" in pair.said, "offered")
        assert arriving.sets == []
        await pair.press("i")
        assert SIXTY in pair.text
        for _ in range(3):
            await pair.press("enter")
        assert len(arriving.sets) == 1
        await pair.press("> >")
        assert "watching from the rig" in pair.text


async def test_nothing_interrupts_an_answer_that_is_being_typed(arriving):
    async with arriving.open() as pair:
        await arriving.begin(pair)
        await pair.press("k")
        await pair.type("9", enter=False)
        arriving.put(SIXTY)
        await until(pair, lambda: arriving.sets, "kept")
        await until(pair, lambda: SIXTY in pair.said, "said")
        await pair.type("1.5")
        assert "body mass 91.5 kg" in pair.text


async def test_a_relaxed_sweep_weighs_the_limb(arriving, sample):
    from fieldlog.screens.bench import BenchRoom

    store, visit = arriving.open.store, arriving.open.visit
    who = athlete_named(sample, "R03").record.id
    batch = make_batch(sample, store, visit, protocol_id="knee_60_180", athlete_ids=[who], by="t")
    async with arriving.open() as pair:
        await pair.press("enter")
        pair.app.push_screen(BenchRoom(store, visit, batch.record.id, who, site_name="Skarvik boathouse"))
        await pair.settle()
        await pair.type("93.4")
        await arriving.watch(pair)
        side = pair.room.rows[0].place[0]
        arriving.put(f"2026-05-06_R03_knee_{side}_sweep.csv")
        await until(pair, lambda: "weighs the limb" in pair.said, "weighed")
        assert (visit.id, who, side) in pair.app.sweeps
        assert arriving.sets == []


async def test_the_curve_is_there_within_a_second_of_the_file_being_complete(arriving):
    async with arriving.open() as pair:
        await arriving.begin(pair)
        arriving.put(TWICE)
        await until(pair, shows_set_or_curve(pair), "the first recording, which loads what is needed")
        await pair.press("enter")
        await asyncio.sleep(0.3)
        arriving.put(SIXTY)
        took_s = await until(pair, shows_set_or_curve(pair), "the curve")
        # A second on a quiet laptop; the machine that tests is shared.
        assert took_s < 3.0


def shows_set_or_curve(pair):
    return lambda: type(pair.room).__name__ == "SetRoom" and "torque over angle" in pair.text
