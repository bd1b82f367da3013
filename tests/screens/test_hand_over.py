"""Handing over: a sheet that no longer holds is named where it is handed over and on the set it stands on."""

import datetime as dt

import pytest

from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.results.sets import change_standing, sets_of
from fieldlog.fieldwork.visit.visits import day_stages, find_visit
from fieldlog.records.issued_sheet import IssuedSheet
from fieldlog.screens.sheets import make_page

MORNING = dt.datetime(2026, 5, 6, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))
MARCH = dt.date(2026, 3, 4)


def coach_page_of_march(workspace):
    store = workspace.site_named("Skarvik boathouse")
    visit = find_visit(store, MARCH).record
    handed = make_page(workspace, store, visit, "coach", by="tester 1")
    return store, visit, handed


async def test_an_amended_set_takes_the_tick_from_handing_over_and_enter_makes_the_sheet_again(hands, sample):
    store, visit, _ = coach_page_of_march(sample)
    async with hands(sample, start=MORNING) as pair:
        await pair.press("enter")
        assert "5 hand over ✓" in pair.text
        change_standing(store, sets_of(store, visit.id)[0], "familiarisation", by="t", why="only practice")
        await pair.press("5")
        assert "5 hand over ✓" not in pair.text
        assert "revision 1, 4 Mar · no longer holds" in pair.text, pair.text
        assert "1 sheet made, 1 to make again" in pair.text
        await pair.press("down down")
        assert "enter makes it again; changed since coach page C-20260304" in pair.text
        assert "only practice" in " ".join(pair.text.split()), pair.text
        await pair.press("enter")
        assert pair.said.startswith("made anew; take back C-20260304"), pair.said
        assert "5 hand over ✓" in pair.text
        assert "no longer holds" not in pair.text
    revisions = [kept.record.revision for kept in at_site(store, IssuedSheet).all()]
    assert sorted(revisions) == [1, 2]


def test_handing_over_is_done_only_while_the_coachs_sheet_holds(sample):
    store, visit, _ = coach_page_of_march(sample)
    (sheet,) = [kept.record for kept in at_site(store, IssuedSheet).all()]
    held, stale = day_stages(store, visit)[4], day_stages(store, visit, {sheet.number})[4]
    assert (held.done, held.text) == (True, "1 sheet made")
    assert (stale.done, stale.text) == (False, "1 sheet made, 1 to make again")


async def test_a_set_says_which_sheet_stands_on_it_once_it_was_changed(hands, sample):
    coach_page_of_march(sample)
    async with hands(sample, start=MORNING) as pair:
        await pair.press("enter 3 home enter")
        assert type(pair.room).__name__ == "BenchRoom", pair.text
        while pair.room.query_one("AskLine").display:
            await pair.press("escape")
        await pair.press("down enter")
        assert type(pair.room).__name__ == "SetRoom", pair.text
        assert "stands on" not in pair.text
        await pair.press("f")
        assert "stands on C-20260304" in pair.text, pair.text
        assert "make it again at stage 5" in pair.text
        await pair.press("u")
        assert "stands on" not in pair.text


def test_a_page_the_ledger_takes_no_entry_of_is_written_and_says_so(sample, monkeypatch):
    monkeypatch.setattr("fieldlog.sheets.handing_out.enter", lambda *_given, **_named: "no space left")
    _, _, handed = coach_page_of_march(sample)
    assert handed.files[0].read_bytes().startswith(b"%PDF")
    assert handed.words.endswith("; not entered in the ledger: no space left")


def test_a_page_is_known_to_the_ledger_before_it_is_out(sample, monkeypatch):
    def full(_files):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("fieldlog.sheets.handing_out.write_whole", full)
    with pytest.raises(OSError, match="No space"):
        coach_page_of_march(sample)
    store = sample.site_named("Skarvik boathouse")
    assert len(at_site(store, IssuedSheet).all()) == 1
