"""The order of a batch: against exhaustive search where that is possible, and by its rules where not."""

import itertools
import random
import time

import pytest

from fieldlog.fieldwork.batch.batch_order import Costs, RigState, Turn, order_batch

COSTS = Costs(travel={"plate": 0.1, "seat": 0.2})


def a_batch(n, seed, *, windows=True):
    """Invented turns of a day that starts at 540 minutes (nine o'clock)."""
    r = random.Random(seed)
    return [
        Turn(
            key=f"A{i:02}",
            minutes=r.choice([10.0, 12.0, 22.0]),
            unit=r.choice(["trunk", "knee"]) if seed % 2 else "trunk",
            first_side=r.choice(["left", "right"]),
            last_side=r.choice(["left", "right"]),
            readings={"plate": r.randrange(60, 90) / 2, "seat": float(r.randrange(10, 20))},
            earliest_start=r.choice([None, 540.0 + r.randrange(120)]) if windows else None,
            latest_end=r.choice([None, None, 600.0 + r.randrange(200)]) if windows else None,
            usual_start=r.choice([None, 500.0 + r.randrange(500)]) if windows else None,
            not_last=r.random() < 0.3,
        )
        for i in range(n)
    ]


def minutes_between(one, other):
    if one.unit not in ("", other.unit):
        return COSTS.changeover + COSTS.unit_change
    minutes = COSTS.changeover + (COSTS.side_change if one.last_side not in ("", other.first_side) else 0.0)
    for scale, reading in other.readings.items():
        if scale not in one.readings:
            minutes += COSTS.scale_change
        elif reading != one.readings[scale]:
            minutes += COSTS.scale_change + COSTS.travel[scale] * abs(reading - one.readings[scale])
    return minutes


def walk(order, waits_for_usual=()):
    """(limits broken, minutes beyond them, end) of an order, reckoned step by step."""
    rig, now, broken, beyond = Turn(key="", minutes=1.0, last_side=""), 540.0, 0, 0.0
    for turn in order:
        now = max(now + minutes_between(rig, turn), turn.earliest_start or 0.0)
        limits = []
        if turn.latest_end is not None:
            limits.append(turn.latest_end - turn.minutes)
        if turn.key in waits_for_usual:
            now = max(now, turn.usual_start - COSTS.usual_window)
            limits.append(turn.usual_start + COSTS.usual_window)
        for limit in limits:
            if now > limit + 1e-9:
                broken, beyond = broken + 1, beyond + now - limit
        now += turn.minutes
        rig = turn
    if order[-1].not_last and not all(turn.not_last for turn in order):
        broken += 1
    return broken, beyond, now


def by_exhaustive_search(turns, fixed=()):
    day_end = walk(turns)[2]
    waits = {
        turn.key
        for turn in turns
        if turn.usual_start is not None and turn.usual_start - COSTS.usual_window <= day_end
    }
    head = [turn for key in fixed for turn in turns if turn.key == key]
    rest = [turn for turn in turns if turn not in head]
    return min(walk([*head, *tail], waits) for tail in itertools.permutations(rest)), waits


@pytest.mark.parametrize("windows", [True, False])
@pytest.mark.parametrize("seed", range(8))
def test_up_to_ten_athletes_no_order_at_all_is_better(seed, windows):
    turns = a_batch(6, seed, windows=windows)
    best, waits = by_exhaustive_search(turns)
    found = order_batch(turns, start=540.0, costs=COSTS)
    assert found.proven_best
    by_key = {turn.key: turn for turn in turns}
    assert walk([by_key[key] for key in found.order], waits) == pytest.approx(best)
    assert found.end == pytest.approx(best[2])


@pytest.mark.parametrize("seed", range(4))
def test_the_next_two_stay_where_they_are_when_the_day_is_planned_anew(seed):
    turns = a_batch(7, seed)
    best, waits = by_exhaustive_search(turns, fixed=("A04", "A01"))
    found = order_batch(turns, start=540.0, costs=COSTS, frozen=("A04", "A01"))
    assert found.order[:2] == ("A04", "A01")
    by_key = {turn.key: turn for turn in turns}
    assert walk([by_key[key] for key in found.order], waits) == pytest.approx(best)


@pytest.mark.parametrize("seed", range(6))
def test_the_search_for_many_is_close_to_the_best_where_that_is_known(seed, monkeypatch):
    from fieldlog.fieldwork.batch import order_search

    turns = a_batch(9, seed)
    proven = order_batch(turns, start=540.0, costs=COSTS)
    monkeypatch.setattr(order_search, "MOST_EXACT", 3)
    searched = order_batch(turns, start=540.0, costs=COSTS)
    assert not searched.proven_best
    assert len(searched.broken) == len(proven.broken)
    assert searched.end <= proven.end + 1.0


def test_forty_athletes_are_ordered_within_a_second_and_far_better_than_the_list():
    turns = a_batch(40, 3)
    began = time.process_time()
    found = order_batch(turns, start=540.0, costs=COSTS)
    assert time.process_time() - began < 1.0
    assert sorted(found.order) == sorted(turn.key for turn in turns)
    assert found.changing_minutes < 0.6 * found.list_changing_minutes
    assert found.saved_minutes == pytest.approx(found.list_changing_minutes - found.changing_minutes)
    assert len(found.broken) <= found.list_broken
    assert order_batch(turns, start=540.0, costs=COSTS) == found


def test_the_timetable_of_a_day_of_twenty_four_runs_without_overlap():
    turns = a_batch(24, 2)
    found = order_batch(turns, start=540.0, costs=COSTS)
    by_key = {turn.key: turn for turn in turns}
    now = 540.0
    for row in found.timetable:
        assert row.changing_from == pytest.approx(now)
        assert row.start == pytest.approx(now + row.changing_minutes + row.waiting_minutes)
        assert row.start >= (by_key[row.key].earliest_start or 0.0)
        assert row.end == pytest.approx(row.start + by_key[row.key].minutes)
        now = row.end
    assert found.end == pytest.approx(now)


def a_turn(key, **fields):
    return Turn(**{"key": key, "minutes": 10.0, "unit": "knee", **fields})


def test_one_unit_is_used_up_before_the_other_is_put_on():
    turns = [a_turn(f"A{i}", unit="knee" if i % 2 else "trunk") for i in range(8)]
    found = order_batch(turns, start=0.0, rig=RigState(unit="trunk"))
    units = [{turn.key: turn.unit for turn in turns}[key] for key in found.order]
    assert units == ["trunk"] * 4 + ["knee"] * 4


def test_a_constraint_beats_any_saving():
    turns = [
        a_turn("near", readings={"seat": 10.0}),
        a_turn("far", readings={"seat": 40.0}, latest_end=13.0),
    ]
    costs = Costs(travel={"seat": 1.0})
    found = order_batch(turns, start=0.0, rig=RigState(unit="knee", readings={"seat": 40.0}), costs=costs)
    assert found.order == ("far", "near")
    assert found.broken == ()


def test_youth_and_return_to_play_are_not_last():
    turns = [a_turn("youth", not_last=True), a_turn("adult")]
    assert order_batch(turns, start=0.0).order == ("youth", "adult")
    alone = order_batch([a_turn("youth", not_last=True)], start=0.0)
    assert alone.broken == ()


def test_what_cannot_be_kept_is_named():
    turns = [a_turn("a", latest_end=12.0), a_turn("b", latest_end=12.0), a_turn("c", usual_start=900.0)]
    found = order_batch(turns, start=0.0)
    assert len(found.broken) == 2
    assert any("ends after they must leave" in text for text in found.broken)
    assert "c: not at the usual time of day" in found.broken
    assert found.timetable[-1].waiting_minutes == 0.0


def test_nobody_is_put_on_before_they_are_there():
    found = order_batch([a_turn("late", earliest_start=100.0), a_turn("here")], start=0.0)
    assert found.order == ("here", "late")
    assert found.timetable[1].start == 100.0


def test_the_usual_time_of_day_is_kept_within_two_hours():
    turns = [a_turn("a"), *(a_turn(f"b{i}", minutes=50.0) for i in range(4)), a_turn("c", usual_start=180.0)]
    found = order_batch(turns, start=0.0)
    start = {row.key: row.start for row in found.timetable}
    assert 60.0 <= start["c"] <= 300.0
    assert found.broken == ()


def test_no_shows_go_to_the_tail_and_bind_nobody():
    turns = [a_turn("gone", not_last=True, latest_end=5.0), a_turn("a", not_last=True), a_turn("b")]
    found = order_batch(turns, start=0.0, absent=("gone",), frozen=("gone", "a"))
    assert found.order == ("a", "b", "gone")
    assert found.broken == ()
    assert found.timetable[-1].broken == ("absent",)


def test_an_empty_batch_has_an_empty_timetable():
    found = order_batch([], start=540.0)
    assert (found.order, found.end, found.saved_minutes) == ((), 540.0, 0.0)
    only_absent = order_batch([a_turn("gone")], start=540.0, absent=("gone",))
    assert only_absent.order == ("gone",)


@pytest.mark.parametrize(
    ("turns", "frozen", "part"),
    [
        ([a_turn("a"), a_turn("a")], (), "twice"),
        ([a_turn("a")], ("b",), "not in the batch"),
        ([a_turn("a")], ("a", "a"), "frozen twice"),
        ([a_turn("a", minutes=0.0)], (), "more than 0"),
        ([a_turn("a", minutes=float("nan"))], (), "more than 0"),
    ],
)
def test_a_batch_that_makes_no_sense_is_refused(turns, frozen, part):
    with pytest.raises(ValueError, match=part):
        order_batch(turns, start=0.0, frozen=frozen)
