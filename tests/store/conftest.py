"""Stores in a temporary folder, with a clock the test sets."""

import pytest

from fieldlog.store.lines import Change
from fieldlog.store.store import Store

NOON_MS = 1_950_000_000_000


class FakeTime:
    """A wall clock that moves a millisecond a look."""

    def __init__(self, now_ms=NOON_MS):
        self.now_ms = now_ms

    def __call__(self):
        self.now_ms += 1
        return self.now_ms


@pytest.fixture
def wall():
    return FakeTime()


@pytest.fixture
def store(tmp_path, wall):
    made = Store.create(tmp_path / "site", store_id="site-1", kind="site", device="kestrel", now_ms=wall)
    yield made
    made.close()


@pytest.fixture
def again(store, wall):
    """Open the same store once more, as another process would."""
    opened = []

    def open_again(device="kestrel"):
        opened.append(Store(store.path, device=device, now_ms=wall))
        return opened[-1]

    yield open_again
    for one in opened:
        one.close()


@pytest.fixture
def save():
    """Save a body after what the store shows, and return the revision."""

    def saving(store, document, body, *, parents=None, by="ann", why="", table="rig"):
        if parents is None:
            shown = store.shown(table, document)
            parents = () if shown is None else (shown.id,)
        return store.commit([Change(table, document, body, tuple(parents))], by=by, why=why)[0]

    return saving
