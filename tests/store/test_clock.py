"""Stamps rise, whatever the wall clock does, and a laptop from the future moves nobody."""

import datetime as dt

from hypothesis import given
from hypothesis import strategies as st

from fieldlog.store.clock import DAY_MS, HybridClock, instant_of

HOUR_MS = 3600 * 1000


class Wall:
    def __init__(self, now_ms):
        self.now_ms = now_ms

    def __call__(self):
        return self.now_ms


@given(st.lists(st.integers(-11 * HOUR_MS, 11 * HOUR_MS), min_size=1, max_size=20))
def test_stamps_rise_while_the_wall_clock_jumps_within_a_day(jumps):
    wall = Wall(1_950_000_000_000)
    clock = HybridClock(wall)
    last = 0
    for jump in jumps:
        wall.now_ms = 1_950_000_000_000 + jump
        stamp = clock.tick(3)
        assert stamp > last
        last = stamp + 2


def test_a_stamp_follows_those_that_were_taken_in():
    wall = Wall(1_950_000_000_000)
    clock = HybridClock(wall)
    ahead = (wall.now_ms + HOUR_MS) << 16
    clock.witness(ahead)
    assert clock.tick() > ahead


def test_a_stamp_more_than_a_day_ahead_moves_nothing_and_forgets_nothing():
    wall = Wall(1_950_000_000_000)
    clock = HybridClock(wall)
    own = clock.tick()
    wall.now_ms -= HOUR_MS
    clock.witness((wall.now_ms + 400 * DAY_MS) << 16)
    assert own < clock.tick() < own + (HOUR_MS << 16)


def test_a_clock_that_was_years_ahead_and_is_put_right_writes_right_times_again():
    wall = Wall(1_950_000_000_000 + 3000 * DAY_MS)
    clock = HybridClock(wall)
    clock.tick()
    wall.now_ms = 1_950_000_000_000
    assert instant_of(clock.tick()) == dt.datetime.fromtimestamp(1_950_000_000, dt.UTC)


def test_a_clock_before_1970_still_gives_stamps():
    assert HybridClock(lambda: -5).tick() > 0
