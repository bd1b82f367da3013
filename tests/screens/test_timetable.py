"""The timetable of a batch by keys: a day of twenty-four, who does not come, and a day that runs late."""

import datetime as dt
import random

import pytest

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.athlete_days import save_day
from fieldlog.fieldwork.athletes.athletes import add_athlete
from fieldlog.fieldwork.batch.batches import batches_of, change_entry, make_batch
from fieldlog.fieldwork.setup.setups import save_step
from fieldlog.fieldwork.visit.day import choose_rig
from fieldlog.fieldwork.visit.visits import ensure_visit
from fieldlog.records.setup import StepTaken
from tests.screens.conftest import START
from tests.screens.kept_text import assert_as_kept

PLAN = catalogue.shipped_plans()["trunk_standing"]
EARLIER = START - dt.timedelta(days=170)


@pytest.fixture
def day(workspace):
    """Twenty-four athletes, each with the foot plate of an earlier visit; S03 is a minor, S05 must leave early."""
    store = workspace.site_named("Boathouse")
    visit = choose_rig(workspace, store, ensure_visit(store, START.date(), "t"), "rig A", "t").record
    earlier = ensure_visit(store, EARLIER.date(), "t").record
    chance = random.Random(24)
    ids = []
    for number in range(24):
        athlete = add_athlete(workspace, f"S{number:02}", by="t", squad="Rowers", minor=number == 3).record
        taken = StepTaken(key="foot_plate", reading=chance.randrange(0, 160) / 2)
        save_step(
            workspace,
            store,
            earlier,
            athlete_id=athlete.id,
            plan=PLAN,
            side="both",
            taken=taken,
            by="t",
            at=EARLIER,
        )
        ids.append(athlete.id)
    leaves = START.replace(hour=9, minute=0).isoformat()
    save_day(store, visit, ids[5], {"available_until": leaves}, by="t", at=START)
    make_batch(workspace, store, visit, protocol_id="trunk_standing_60_120", athlete_ids=ids, by="t")
    return store, visit, ids


def entries(store, visit):
    return batches_of(store, visit)[0].record.entries


def order_of(pair):
    return [row.key for row in pair.room.query_one("#turns").rows]


async def open_timetable(pair):
    await pair.press("enter 3 B")


async def test_the_timetable_of_a_day_of_twenty_four(hands, workspace, day):
    store, visit, ids = day
    async with hands(workspace) as pair:
        await open_timetable(pair)
        rows = pair.room.query_one("#turns").rows
        assert sorted(row.key for row in rows) == sorted(ids)
        starts = [row.cells[1] for row in rows]
        ends = [row.cells[2].text for row in rows]
        assert starts == sorted(starts)
        assert all(end <= start for end, start in zip(ends[:-1], starts[1:], strict=True))
        assert "saves" in pair.text
        assert "in the order of the list: ends" in pair.text
        assert rows[-1].key != ids[3]
        assert ends[order_of(pair).index(ids[5])] <= "09:00"
        assert "not kept yet: enter keeps this order" in pair.text
        planned = order_of(pair)
        await pair.press("enter")
        assert [entry.athlete_id for entry in entries(store, visit)] == planned
        assert "this is the order of the batch" in pair.text
        await pair.press("u")
        assert [entry.athlete_id for entry in entries(store, visit)] == ids


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_the_room_as_it_was_looked_at(hands, workspace, day, size):
    async with hands(workspace, size=size) as pair:
        await open_timetable(pair)
        assert_as_kept(f"timetable_{size[0]}x{size[1]}.txt", pair.text)


async def test_who_did_not_come_goes_to_the_tail_with_one_key_and_comes_back_with_it(hands, workspace, day):
    store, visit, _ = day
    async with hands(workspace) as pair:
        await open_timetable(pair)
        first = order_of(pair)[0]
        await pair.press("z")
        assert order_of(pair)[-1] == first
        assert "absent, at the tail" in pair.said
        assert (entries(store, visit)[-1].athlete_id, entries(store, visit)[-1].status) == (first, "absent")
        await pair.press("end z")
        assert entries(store, visit)[-1].status == "waiting"
        await pair.press("u u")
        assert entries(store, visit)[-1].athlete_id != first


async def test_a_day_that_runs_late_is_planned_anew_and_the_next_two_stay(hands, workspace, day):
    store, visit, ids = day
    async with hands(workspace) as pair:
        await open_timetable(pair)
        await pair.press("enter escape")
        kept = batches_of(store, visit)[0]
        order = [entry.athlete_id for entry in kept.record.entries]
        change_entry(store, kept, order[0], by="t", status="done")
        pair.now += dt.timedelta(hours=1, minutes=30)
        await pair.press("B")
        rows = pair.room.query_one("#turns").rows
        assert [row.key for row in rows[:3]] == order[:3]
        assert "✓ done" in rows[0].words
        assert "stays" in rows[1].words
        assert rows[1].cells[1] > "09:30"
        assert "S05: ends after they must leave" in " ".join(pair.text.split()) or order[0] == ids[5]


async def test_what_could_not_be_kept_is_named(hands, workspace, day):
    store, visit, ids = day
    save_day(
        store,
        visit,
        ids[7],
        {"available_until": START.replace(hour=8, minute=5).isoformat()},
        by="t",
        at=START,
    )
    async with hands(workspace) as pair:
        await open_timetable(pair)
        assert "could not be kept: S07: ends after they must leave" in " ".join(pair.text.split())


async def test_a_day_without_a_batch_says_so(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("enter 3 B")
        assert "no batch yet" in pair.said


async def test_another_day_than_today_is_planned_from_its_usual_hour(hands, workspace, day):
    async with hands(workspace, start=START - dt.timedelta(days=1)) as pair:
        await open_timetable(pair)
        assert "as from 08:30" in pair.text
        assert pair.room.query_one("#turns").rows[0].cells[1] >= "08:30"


async def test_when_everybody_is_through_there_is_nobody_to_come(hands, workspace, day):
    store, visit, ids = day
    for athlete_id in ids[1:]:
        change_entry(store, batches_of(store, visit)[0], athlete_id, by="t", status="done")
    change_entry(store, batches_of(store, visit)[0], ids[0], by="t", status="absent")
    async with hands(workspace) as pair:
        await open_timetable(pair)
        assert "nobody is to come" in pair.text
