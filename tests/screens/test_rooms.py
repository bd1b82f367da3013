"""What every room keeps: help in place, filter, commands, one step back, undo, and a word for small windows."""

import datetime as dt

import pytest

from fieldlog.errors import RefusedError
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.visit.visits import visits_of
from fieldlog.records.athlete import Athlete
from fieldlog.records.site import Site
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Repo


async def test_help_explains_the_room_in_place_and_goes_away_again(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("?")
        assert "Places lists every site" in pair.text
        assert "Open what the cursor stands on." in pair.text
        await pair.press("?")
        assert "Places lists every site" not in pair.text
        await pair.press("f1 escape")
        assert "Places lists every site" not in pair.text


async def test_f1_explains_also_while_filtering(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("/")
        await pair.type("boat", enter=False)
        await pair.press("f1")
        assert "Places lists every site" in pair.text
        await pair.press("escape")
        assert "boat" in pair.text


async def test_the_filter_is_live_and_esc_shows_everything_again(hands, workspace):
    for number in range(12):
        workspace.add_site(
            Site(id=f"more{number:02}", name=f"Hall {number:02}", latitude_deg=50, height_m=0), by="t"
        )
    async with hands(workspace) as pair:
        await pair.press("/")
        await pair.type("hall 0", enter=False)
        assert pair.said == "11 of 13"
        await pair.type("7")
        assert pair.room.query_one("#places").count_words == "1 of 13"
        await pair.press("escape")
        assert pair.room.query_one("#places").count_words == "13 of 13"


async def test_every_command_is_found_by_name_with_its_key(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("ctrl+p")
        assert "rig log" in pair.text
        assert "exchange" in pair.text
        await pair.type("rig lo", enter=False)
        assert "1 of " in pair.text
        await pair.press("escape")
        await pair.press("ctrl+p")
        await pair.type("add one", enter=False)
        await pair.press("enter")
        assert "name of the new site" in pair.text


async def test_the_foot_shows_at_most_seven_keys_with_the_key_for_help(hands, workspace):
    async with hands(workspace) as pair:
        for keys in ("", "enter", "2", "3", "4", "5"):
            await pair.press(keys)
            line = pair.room.query_one("KeysLine")
            assert 1 <= len(line.keys) <= 7
            assert ("?", "help") in line.keys
            assert len(line.text) <= 80


async def test_esc_goes_one_step_back_and_the_first_room_stays(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("enter")
        assert type(pair.room).__name__ == "DayRoom"
        await pair.press("escape escape escape")
        assert type(pair.room).__name__ == "PlacesRoom"
        assert "Q leaves" in pair.said


async def test_a_question_given_up_keeps_what_was_typed(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("a")
        await pair.type("Old mill", enter=False)
        await pair.press("escape")
        assert "Old mill" not in pair.text
        await pair.press("a")
        assert "Old mill" in pair.text


async def test_a_site_is_added_by_keys_with_commas_as_decimal_signs(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("a")
        await pair.type("Old mill")
        await pair.type("54,5")
        await pair.type("310")
        assert pair.said == "saved: site Old mill"
    assert workspace.site_named("Old mill") is not None


async def test_a_wrong_number_is_said_in_one_line_and_nothing_is_saved(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("a")
        await pair.type("Old mill")
        await pair.type("north")
        assert "no number" in pair.said
        assert len(workspace.site_folders()) == 1


async def test_after_a_wrong_answer_the_question_stays_and_no_key_falls_on_the_room(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("a")
        await pair.type("Old mill")
        await pair.type("north")
        assert pair.room.query_one("AskLine").display
        await pair.type("54.5")
        assert "no number" not in pair.said
        await pair.type("310")
        assert pair.said == "saved: site Old mill"


async def test_what_is_too_long_for_one_line_is_said_in_two(hands, workspace):
    said = "angle of the lever: 'level' is no number; type digits, with a comma or a point for decimals"
    async with hands(workspace) as pair:
        pair.room.say(said)
        await pair.press("up")
        assert pair.said == said
        assert "for decimals" in pair.text


async def test_a_key_that_means_nothing_in_a_room_says_so(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("y")
        assert pair.said == "y does nothing here; ? lists the keys"


async def test_the_key_line_says_what_enter_does_in_each_stage(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("enter")
        assert "enter confirm" in pair.text
        await pair.press("2")
        assert "enter begin or show" in pair.text


async def test_the_first_room_tells_what_was_done_in_the_day_at_the_first_return(hands, workspace):
    def opened_later():
        return workspace

    async with hands(opened_later) as pair:
        await pair.press("enter enter")
        await pair.type("rig Z")
        await pair.press("escape")
        assert "today" in pair.text


async def test_undo_takes_back_what_was_saved_last_and_says_what(hands, workspace):
    store = workspace.site_named("Boathouse")
    async with hands(workspace) as pair:
        await pair.press("enter down enter enter")
        visit = visits_of(store)[0].record
        assert visit.arrival.levelled
        assert visit.arrival.anchored
        await pair.press("u")
        assert pair.said.startswith("undone:")
        assert visits_of(store)[0].record.arrival.anchored is None
        await pair.press("u u")
        assert pair.said.startswith("nothing to undo")


async def test_undo_with_nothing_saved_is_refused_in_words(hands, workspace):
    async with hands(workspace) as pair:
        with pytest.raises(RefusedError):
            pair.app.undo_last()
        await pair.press("u")
        assert pair.said.startswith("nothing to undo")


async def test_looking_at_a_day_makes_no_record(hands, workspace):
    store = workspace.site_named("Boathouse")
    async with hands(workspace) as pair:
        await pair.press("enter 2 3 4 5 1 down down")
        assert "no cover yet today" in pair.text
    assert at_site(store, Visit).all() == []


@pytest.mark.parametrize("size", [(59, 24), (80, 19), (20, 5), (1, 1)])
async def test_a_window_too_small_says_so_in_clear_words(hands, workspace, size):
    async with hands(workspace, size=(80, 24)) as pair:
        await pair.pilot.resize_terminal(*size)
        await pair.settle()
        if size[0] >= 30:
            assert "too small" in pair.text
            assert "60 × 20" in pair.text
        await pair.press("enter escape")
        await pair.pilot.resize_terminal(60, 20)
        await pair.settle()
        assert "too small" not in pair.text
        assert "Boathouse" in pair.text


async def test_in_the_smallest_window_places_are_told_apart_by_their_names(hands, sample):
    async with hands(sample, size=(60, 20)) as pair:
        for name in ("Skarvik boa", "Tarn academy", "Lowfield hall"):
            assert name in pair.text


async def test_keys_can_be_remapped(hands, workspace):
    async with hands(workspace, keymap={"help": "h"}) as pair:
        await pair.press("h")
        assert "Places lists every site" in pair.text


async def test_keys_typed_before_a_room_is_up_are_not_lost(hands, workspace):
    async with hands(workspace) as pair:
        await pair.pilot.press("enter", "3", "enter")
        await pair.settle()
        assert type(pair.room).__name__ == "BatchRoom"


async def test_a_line_can_be_copied(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("ctrl+y")
        assert pair.said == "copied this line"
        assert pair.app.clipboard.startswith("Boathouse")


@pytest.mark.parametrize("text", ["x" * 300, "x" * 3000, "[/b] \\", "  "])
async def test_whatever_is_typed_is_taken_or_refused_in_words(hands, workspace, text):
    async with hands(workspace) as pair:
        await pair.press("a")
        pair.room.query_one("LineInput").take_paste(text)
        await pair.press("enter")
        for answer in ("50", "4"):
            if pair.room.query_one("AskLine").display:
                await pair.type(answer)
        await pair.press("enter n")
        pair.room.query_one("LineInput").take_paste(text)
        await pair.press("enter")
        await pair.press("enter")
        pair.room.query_one("LineInput").take_paste(text)
        await pair.press("enter 3 enter enter a")
        pair.room.query_one("LineInput").take_paste(text)
        await pair.press("enter enter enter")
        assert pair.app._exception is None
    for store in workspace.stores():
        for table in store.tables():
            assert all(revision.body is not None for revision in store.documents(table))
    assert Repo(workspace.team, Athlete).unreadable() == []
    for store in workspace.sites.values():
        assert Repo(store, Visit).unreadable() == []
        assert Repo(store, Site).unreadable() == []


async def test_a_day_that_is_not_todays_says_how_todays_is_begun(hands, sample):
    async with hands(sample, start=dt.datetime(2026, 5, 6, 8, 30, tzinfo=dt.UTC)) as pair:
        await pair.press("enter")
        assert "this is the visit of 4 Mar; a begins today's" in pair.text
        assert "a begin today" in pair.text
        await pair.press("a")
        assert "a begins today's" not in pair.text
        assert "a begin today" not in pair.text


async def test_whether_an_athlete_is_a_minor_takes_yes_or_no_and_nothing_else(hands, workspace):
    async with hands(workspace) as pair:
        await pair.press("enter 3 p enter a")
        await pair.type("R90")
        await pair.type("")
        await pair.press("ctrl+u")
        await pair.type("maybe")
        assert "type yes or no" in pair.said
        await pair.type("yes")
        assert pair.said == "saved: athlete R90, and picked"
    (kept,) = [each.record for each in Repo(workspace.team, Athlete).all() if each.record.code == "R90"]
    assert kept.minor


def test_a_room_that_leaves_out_what_its_kind_asks_for_is_no_room():
    from fieldlog.screens.form import FormRoom

    class Forgetful(FormRoom):
        """Says nothing of saving."""

    with pytest.raises(TypeError, match="save"):
        Forgetful("title", {}, {}, draft="d")
