"""``fieldlog show``: rooms as plain text, and the words where one cannot be shown."""

import pytest

from fieldlog.screens.text_view import ROOMS


@pytest.fixture(autouse=True)
def that_day(monkeypatch):
    monkeypatch.setenv("FIELDLOG_TODAY", "2026-05-06")


def test_places_are_printed_whole(fieldlog, sample_folder):
    outcome = fieldlog("--workspace", sample_folder, "show", "places")
    assert outcome.status == 0
    assert outcome.err == ""
    assert "Skarvik boathouse" in outcome.out
    assert "certificate ends in" in outcome.out
    assert "\x1b" not in outcome.out


def test_a_day_says_its_stages_and_what_holds_up_the_next(fieldlog, sample_folder):
    outcome = fieldlog("--workspace", sample_folder, "show", "day", "--site", "Lowfield hall")
    assert outcome.status == 0
    assert "4 closing check ●" in outcome.out
    assert "not for use" in outcome.out


def test_the_bench_of_an_athlete_prints_every_scale(fieldlog, sample_folder):
    arguments = ("show", "bench", "--site", "Skarvik boathouse", "--athlete", "R07", "--width", "80")
    outcome = fieldlog("--workspace", sample_folder, *arguments)
    assert outcome.status == 0
    assert "Upper-back pad" in outcome.out
    assert "confirmed" in outcome.out


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("attic",), "no room 'attic'"),
        (("day",), "name one with --site"),
        (("day", "--site", "Nowhere"), "Nowhere"),
        (("day", "--site", "Tarn academy", "--visit", "soon"), "no date"),
        (("bench", "--site", "Tarn academy", "--athlete", "Z99"), "Z99"),
    ],
)
def test_what_cannot_be_shown_is_said_in_one_line(fieldlog, sample_folder, arguments, word):
    outcome = fieldlog("--workspace", sample_folder, "show", *arguments)
    assert outcome.status == 2
    assert outcome.out == ""
    assert outcome.err.count("\n") == 1
    assert word in outcome.err


def test_the_application_says_so_where_there_is_no_terminal(fieldlog, sample_folder):
    outcome = fieldlog("open", sample_folder)
    assert outcome.status == 2
    assert "needs a terminal" in outcome.err


def test_a_wrong_day_in_the_environment_is_named(fieldlog, sample_folder, monkeypatch):
    monkeypatch.setenv("FIELDLOG_TODAY", "yesterday")
    outcome = fieldlog("--workspace", sample_folder, "show", "places")
    assert outcome.status == 2
    assert "FIELDLOG_TODAY" in outcome.err


@pytest.mark.parametrize("room", ["places", "squad", "exchange"])
def test_a_room_that_cannot_open_is_one_line_and_no_half_page(fieldlog, sample_folder, room):
    from fieldlog.store.lines import Change
    from fieldlog.store.workspace import Workspace

    with Workspace.open(sample_folder) as workspace:
        store = workspace.site_named("Tarn academy")
        shown = store.shown("site", store.id)
        store.commit([Change("site", store.id, {**shown.body, "name": 5}, (shown.id,))], by="x")
    outcome = fieldlog("--workspace", sample_folder, "show", room)
    assert (outcome.status, outcome.out, outcome.err.count("\n")) == (2, "", 1)
    assert "own record is missing" in outcome.err


def test_the_help_names_every_room_that_can_be_shown(fieldlog):
    said = fieldlog("show", "--help").out.split()
    assert set(ROOMS) <= {word.strip("(),") for word in said}
