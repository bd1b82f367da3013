"""The exchange by keys: what waits, a sync with what came and went, conflicts side by side, one person twice."""

import datetime as dt

import pytest

from fieldlog.exchange.conflicts import open_conflicts
from fieldlog.exchange.depot import open_depot
from fieldlog.exchange.likeness import likenesses, same_person
from fieldlog.exchange.sync import sync
from fieldlog.fieldwork.athletes.athletes import add_athlete, athlete_named
from fieldlog.fieldwork.books import site_of
from fieldlog.records.athlete import Athlete
from fieldlog.screens.exchange import ExchangeRoom
from fieldlog.store.repo import Repo
from fieldlog.store.workspace import Workspace
from tests.screens.kept_text import assert_as_kept

NAMES = {"/": "slash", "-": "minus", "_": "underscore"}
NOW = dt.datetime(2031, 5, 4, 12, 0, tzinfo=dt.timezone(dt.timedelta(hours=2)))


def exchanged(workspace, folder):
    depot = open_depot(str(folder))
    try:
        return sync(workspace, depot)
    finally:
        depot.close()


def change(workspace, code, by, why="", **fields):
    kept = athlete_named(workspace, code)
    Repo(workspace.team, Athlete).save(
        kept.record.model_copy(update=fields), by=by, why=why, seen=kept.revision
    )


@pytest.fixture
def other(workspace, tmp_path):
    """A second laptop of the same team, its records in a depot both know."""
    exchanged(workspace, tmp_path / "stick")
    with Workspace.create(tmp_path / "other") as made:
        exchanged(made, tmp_path / "stick")
        yield made


async def opened(pair):
    await pair.press("d")
    assert isinstance(pair.room, ExchangeRoom)


async def test_what_is_not_yet_shared_is_counted_and_a_sync_shares_it(hands, workspace, tmp_path):
    async with hands(workspace, start=NOW) as pair:
        await opened(pair)
        assert "not yet shared" in pair.text
        assert "no depot yet" in pair.text
        await pair.press("X")
        await pair.type(str(tmp_path / "stick"))
        assert "synced; no new conflict" in pair.said
        assert "everything is shared" in pair.text
        assert "sent, 0 received" in pair.text
        add_athlete(workspace, "R50", by="t")
        await pair.press("escape")
        await opened(pair)
        assert "1 change not yet shared" in pair.text


async def test_enter_on_a_known_depot_syncs_with_it(hands, workspace, other, tmp_path):
    add_athlete(other, "R60", by="Ana")
    exchanged(other, tmp_path / "stick")
    async with hands(workspace, start=NOW) as pair:
        await opened(pair)
        await pair.press("enter")
        assert "1 received" in pair.text
        assert athlete_named(workspace, "R60")


async def test_a_depot_that_cannot_be_reached_is_said_in_one_line(hands, workspace, tmp_path):
    async with hands(workspace, start=NOW) as pair:
        await opened(pair)
        await pair.press("X")
        await pair.type(str(tmp_path / "nowhere" / "stick"))
        assert "nowhere" in pair.said
        assert not pair.room.syncing


async def test_a_first_sync_names_each_site_while_it_brings_it(hands, workspace, tmp_path, monkeypatch):
    said = []
    monkeypatch.setattr(ExchangeRoom, "say", lambda room, text, role="": said.append(str(text)))
    async with hands(workspace, start=NOW) as pair:
        await opened(pair)
        pair.room.start_sync(str(tmp_path / "stick"))
        await pair.app.workers.wait_for_complete()
    brought = [text for text in said if text.startswith("bringing ")]
    names = [site_of(store).name for store in workspace.sites.values()]
    assert all(any(name in text for text in brought) for name in names)
    assert not any(store.id in text for store in workspace.sites.values() for text in brought)


async def test_a_sync_can_be_ended_and_run_again(hands, workspace, tmp_path, monkeypatch):
    import fieldlog.exchange.sync as module

    async with hands(workspace, start=NOW) as pair:
        await opened(pair)
        real = module.sync

        def held(*arguments, progress, **options):
            pair.room._end.wait(5)
            return real(*arguments, progress=progress, **options)

        monkeypatch.setattr(module, "sync", held)
        await pair.press("X")
        for character in str(tmp_path / "stick"):
            await pair._strike(NAMES.get(character, character))
        await pair._strike("enter")
        await pair.pilot.pause()
        await pair.pilot.pause()
        assert pair.room.syncing
        await pair.press("S")
        assert "ended" in pair.said
        assert not pair.room.syncing
        monkeypatch.setattr(module, "sync", real)
        await pair.press("X")
        await pair.type(str(tmp_path / "stick"))
        assert "synced" in pair.said


async def test_versions_stand_side_by_side_and_fields_are_taken_one_by_one(hands, workspace, other, tmp_path):
    change(workspace, "R01", "Kim", "asked", squad="First", position="bow")
    change(other, "R01", "Ana", "list", squad="Second", sex="female")
    exchanged(other, tmp_path / "stick")
    async with hands(workspace, start=NOW) as pair:
        await opened(pair)
        await pair.press("enter")
        assert "1 new to decide" in pair.said
        assert "a choice is needed" in pair.text
        await pair.press("tab")
        await pair.press("enter")
        text = pair.text
        assert "team · athletes · R01" in text
        assert "by Kim on" in text
        assert "by Ana on" in text
        assert ": asked" in text
        assert ": list" in text
        rows = {row.cells[0]: row for row in pair.room.query_one("#fields").rows}
        assert set(rows) == {"squad", "position", "sex"}
        base = pair.room.heads[0].body["squad"]
        pair.room.query_one("#fields").to_key(rows["squad"].key)
        await pair.press("space")
        await pair.press("enter")
        await pair.type("coach says so")
        assert "settled" in pair.said
        assert open_conflicts(workspace) == []
        settled = athlete_named(workspace, "R01").record
        assert settled.squad == ({"First", "Second"} - {base}).pop()
        assert settled.position == "bow"
        assert settled.sex == "female"
        assert workspace.team.shown(Athlete.table, settled.id).why == "coach says so"


async def test_one_version_can_be_taken_whole(hands, workspace, other, tmp_path):
    change(workspace, "R01", "Kim", squad="First")
    change(other, "R01", "Ana", sex="female")
    exchanged(other, tmp_path / "stick")
    exchanged(workspace, tmp_path / "stick")
    async with hands(workspace, start=NOW) as pair:
        await opened(pair)
        await pair.press("tab enter")
        second = pair.room.heads[1].body
        await pair.press("W")
        await pair.press("W")
        await pair.press("enter enter")
        settled = athlete_named(workspace, "R01").record
        assert settled.model_dump(mode="json").items() >= second.items()


async def test_esc_leaves_a_conflict_open(hands, workspace, other, tmp_path):
    change(workspace, "R01", "Kim", squad="First")
    change(other, "R01", "Ana", squad="Second")
    exchanged(other, tmp_path / "stick")
    exchanged(workspace, tmp_path / "stick")
    async with hands(workspace, start=NOW) as pair:
        await opened(pair)
        await pair.press("tab enter")
        await pair.press("enter")
        await pair.press("escape")
        await pair.press("escape")
        assert isinstance(pair.room, ExchangeRoom)
        assert len(open_conflicts(workspace)) == 1


async def test_one_person_entered_on_two_laptops_is_joined_and_taken_apart_again(
    hands, workspace, other, tmp_path
):
    one = add_athlete(workspace, "R70", by="Kim").record
    two = add_athlete(other, "R70", by="Ana").record
    exchanged(other, tmp_path / "stick")
    exchanged(workspace, tmp_path / "stick")
    async with hands(workspace, start=NOW) as pair:
        await opened(pair)
        assert "perhaps one person" in pair.text
        await pair.press("tab")
        await pair.press("enter")
        await pair.type("y")
        assert "one person" in pair.said
        assert same_person(workspace.team, one.id) == sorted([one.id, two.id])
        assert likenesses(workspace) == []
        await pair.press("u")
        assert same_person(workspace.team, one.id) == [one.id]


async def test_hostile_text_in_a_conflict_is_only_text(hands, workspace, other, tmp_path):
    change(workspace, "R01", "[b]Kim[/z]", squad="[/x]\x1b[31m")
    change(other, "R01", "Ana\u202e", squad="\u202eSecond")
    exchanged(other, tmp_path / "stick")
    exchanged(workspace, tmp_path / "stick")
    async with hands(workspace, start=NOW) as pair:
        await opened(pair)
        await pair.press("tab enter")
        assert "[b]Kim[/z]" in pair.text
        assert "\x1b" not in pair.text
        assert "\u202e" not in pair.text


async def test_the_room_as_text_at_80_by_24(hands, sample_folder):
    with Workspace.open(sample_folder) as sample:
        async with hands(sample, start=NOW) as pair:
            await opened(pair)
            assert_as_kept("exchange_80x24.txt", pair.text)
            assert len(pair.room.query_one("KeysLine").keys) <= 7


async def test_a_slip_makes_no_folder_where_fieldlog_was_started(hands, workspace, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.iterdir())
    async with hands(workspace, start=NOW) as pair:
        await opened(pair)
        await pair.press("X")
        await pair.type("stikc")
        assert "not a whole path" in pair.said
    assert sorted(tmp_path.iterdir()) == before
