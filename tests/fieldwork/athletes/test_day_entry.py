"""What is noted of an athlete on the day: typed, taken back, and shown beside last time."""

import datetime as dt

import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork.athletes.athlete_days import day_of, save_day
from fieldlog.fieldwork.athletes.day_entry import (
    DAY_ITEMS,
    injured_side,
    last_day,
    note_typed,
    note_yes_no,
    value_words,
)

ITEMS = {item.field: item for item in DAY_ITEMS}


def note(field, name, text, at="08:00"):
    return note_typed(
        field.workspace,
        field.store,
        field.visit,
        field.adult.id,
        item=ITEMS[name],
        text=text,
        by="t",
        at=field.clock(at),
    ).record


def test_what_is_typed_reads_back_in_words(field):
    note(field, "footwear", " court shoes ")
    note(field, "available_from", "0930")
    day = note(field, "dominant_side", "L")
    assert {
        name: value_words(day, ITEMS[name]) for name in ("footwear", "available_from", "dominant_side")
    } == {
        "footwear": "court shoes",
        "available_from": "09:30",
        "dominant_side": "left",
    }
    assert value_words(note(field, "available_from", ""), ITEMS["available_from"]) == ""
    assert value_words(None, ITEMS["footwear"]) == ""
    assert value_words(day, ITEMS["not_last"]) == ""


@pytest.mark.parametrize(
    ("name", "text", "part"),
    [
        ("dominant_side", "front", "no side"),
        ("injured_side", "both", "no side"),
        ("available_until", "25:00", "no time of the day"),
        ("cheering", "loud", "yes or no"),
        ("footwear", "x" * 81, "footwear"),
    ],
)
def test_what_cannot_be_is_named_and_not_kept(field, name, text, part):
    with pytest.raises(InputError, match=part):
        note(field, name, text)
    assert day_of(field.store, field.visit, field.adult.id) is None


def test_a_point_that_takes_no_yes_or_no_says_so(field):
    with pytest.raises(InputError, match="takes no yes or no"):
        note_yes_no(
            field.store,
            field.visit,
            field.adult.id,
            ITEMS["footwear"],
            answer=True,
            by="t",
            at=field.clock(),
        )


def test_the_injured_side_stands_in_the_persons_files_only(field):
    note(field, "footwear", "shoes")
    day = note(field, "injured_side", "left", at="08:01")
    assert (injured_side(field.workspace, field.visit, field.adult.id), day.first_side) == ("left", "right")
    day = note(field, "injured_side", "none", at="08:02")
    assert (injured_side(field.workspace, field.visit, field.adult.id), day.first_side) == ("", None)
    assert not any(b"injured" in (revision.raw or b"") for revision in field.store.revisions())


def test_last_time_is_the_latest_earlier_day(field):
    for month, shoes in ((1, "old"), (3, "newer")):
        visit = field.visit_on(dt.date(2031, month, 1))
        save_day(
            field.store,
            visit,
            field.adult.id,
            {"footwear": shoes},
            by="t",
            at=field.clock("09:00", visit.date),
        )
    note(field, "footwear", "today's")
    assert last_day(field.workspace, field.adult.id, before=field.visit.date).footwear == "newer"
    assert last_day(field.workspace, field.minor.id, before=field.visit.date) is None
