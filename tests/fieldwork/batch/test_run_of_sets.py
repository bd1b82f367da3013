"""Which set is next, and how long the athlete still rests."""

import datetime as dt
from types import SimpleNamespace

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.batch.run_of_sets import RestClock, next_row, run_of_sets

KNEE = catalogue.shipped_protocols()["knee_60_180"]
BEGAN = dt.datetime.fromisoformat("2031-05-04T09:00:00+02:00")


def later(seconds):
    return BEGAN + dt.timedelta(seconds=seconds)


def a_set(side, speed, standing="counted", mode="concentric"):
    return SimpleNamespace(side=side, speed_deg_s=speed, standing=standing, mode=mode)


def test_the_rest_counts_down():
    clock = RestClock(BEGAN, 90)
    assert [clock.text(later(s)) for s in (0, 42.5, 89.2, 90, 400)] == [
        "rest 1:30",
        "rest 0:48",
        "rest 0:01",
        "rested",
        "rested",
    ]


def test_every_set_of_one_side_comes_before_the_other_side():
    rows = run_of_sets(KNEE, ("left", "right"), [])
    assert [row.place for row in rows] == [(side, n) for side in ("left", "right") for n in (1, 2, 3, 4)]
    assert rows[0].text == "60°/s × 4, familiarisation"
    assert rows[1].text == "60°/s × 5"
    assert next_row(rows) is rows[0]


def test_familiarisation_is_passed_by_a_mark_or_by_the_set_it_was_for():
    rows = run_of_sets(KNEE, ("left", "right"), [], passed=[("left", 1)])
    assert (rows[0].state, next_row(rows).place) == ("passed", ("left", 2))
    rows = run_of_sets(KNEE, ("left", "right"), [a_set("left", 60)])
    assert [row.state for row in rows[:3]] == ["passed", "done", "next"]


def test_a_redone_or_stopped_set_does_not_count():
    sets = [a_set("left", 60, "redone"), a_set("left", 60, "stopped")]
    rows = run_of_sets(KNEE, ("left", "right"), sets)
    assert rows[1].state == "open"


def test_when_all_is_done_nothing_is_next():
    sets = [a_set(side, speed) for side in ("left", "right") for speed in (60, 180)]
    rows = run_of_sets(KNEE, ("left", "right"), sets)
    assert next_row(rows) is None
