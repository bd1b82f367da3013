"""Disk full, I/O errors and short writes at every single call: one clear message, nothing half done."""

import errno

import pytest

from fieldlog.errors import FieldlogError, SaveError, StoreError
from fieldlog.store.lines import Change
from fieldlog.store.store import Store
from tests.faults.counts import LONG
from tests.faults.failing_disk import FailingDisk, HastyDisk

CSV = b"time_s,angle_deg,torque_nm\n0,10,5\n"
KINDS = [errno.ENOSPC, errno.EIO, "short"]


class Day:
    """A scripted day that carries on after each error, as a person would, and notes what was said."""

    def __init__(self, folder):
        self.disk = FailingDisk()
        self.folder = folder
        self.store = Store(folder, device="kestrel", disk=self.disk)
        self.attempted = {}
        self.acknowledged = {}
        self.errors = []

    def save(self, document, value):
        self.attempted.setdefault(document, set()).add(value)
        before = self.visible()
        try:
            shown = self.store.shown("set", document)
            parents = () if shown is None else (shown.id,)
            self.store.commit([Change("set", document, {"v": value}, parents)], by="ann")
        except FieldlogError as error:
            self.errors.append(error)
            assert self.visible() == before, "a save that failed is seen"
        else:
            self.acknowledged[document] = value

    def attempt(self, action):
        try:
            action()
        except FieldlogError as error:
            self.errors.append(error)

    def visible(self):
        return {r.document: r.body["v"] for r in self.store.documents("set")}

    def run(self):
        self.save("a", 1)
        self.save("b", 2)
        self.attempt(lambda: self.store.traces.put(CSV))
        self.attempt(self.store.seal)
        self.save("a", 3)
        self.attempt(self.store.refresh)
        self.save("c", 4)
        self.attempt(self.store.seal)


@pytest.fixture
def fresh(tmp_path):
    """Make a new empty store on each call."""
    numbers = iter(range(100_000))

    def make():
        folder = tmp_path / str(next(numbers))
        Store.create(folder, store_id="s", kind="site", device="kestrel", disk=HastyDisk()).close()
        return folder

    return make


def calls_of_a_day(folder):
    day = Day(folder)
    day.disk.log.clear()
    day.disk.count = 0
    day.run()
    day.store.close()
    assert day.errors == []
    return day.disk.count


@pytest.mark.parametrize("lasting", [False, True], ids=["once", "from-then-on"])
@pytest.mark.parametrize("kind", KINDS, ids=["full", "io-error", "short"])
def test_an_error_at_every_call_loses_nothing_and_says_one_thing(fresh, kind, lasting, tally):
    total = calls_of_a_day(fresh())
    for call in range(1, total + 1, 1 if LONG else 2):
        folder = fresh()
        day = Day(folder)
        day.disk.arm(call, kind, lasting=lasting)
        day.run()
        day.disk.disarm()
        day.store.close()
        for error in day.errors:
            assert "\n" not in str(error)
            assert str(folder) in str(error) or "whole line" in str(error)
        with Store(folder, device="kestrel", disk=HastyDisk()) as store:
            found = {r.document: r.body["v"] for r in store.documents("set")}
            for document, value in day.acknowledged.items():
                history = [r.body["v"] for r in store.history("set", document)]
                assert value in history, (call, day.disk.log[call - 1])
            assert all(value in day.attempted[document] for document, value in found.items())
            assert {problem.kind for problem in store.problems()} <= {"torn"}
            store.commit([Change("set", "after", {"v": 9})], by="bea")
            assert store.problems() == []
        tally["points"] += 1
        tally["acknowledged"] += len(day.acknowledged)
        tally["lost"] += 0


def test_after_a_failed_flush_nothing_is_written_until_the_store_was_read_again(fresh):
    folder = fresh()
    day = Day(folder)
    day.save("a", 1)
    day.disk.log.clear()
    day.disk.count = 0
    day.save("a", 2)
    flush = day.disk.log.index("fsync") + 1
    day.disk.arm(flush, errno.EIO)
    day.save("a", 3)
    day.disk.disarm()
    with pytest.raises(SaveError, match="until it was read again"):
        day.store.commit([Change("set", "b", {"v": 1})], by="ann")
    assert day.visible() == {"a": 2}
    day.store.close()
    with Store(folder, device="kestrel", disk=HastyDisk()) as again:
        again.commit([Change("set", "b", {"v": 1})], by="ann")
        assert {r.document: r.body["v"] for r in again.documents("set")} == {"a": 2, "b": 1}


def test_a_full_disk_says_so_and_the_file_is_as_before(fresh):
    folder = fresh()
    day = Day(folder)
    day.save("a", 1)
    before = (folder / "active.jsonl").read_bytes()
    day.disk.log.clear()
    day.disk.count = 0
    day.save("a", 2)
    day.disk.arm(day.disk.log.index("write") + 1, "short")
    before = (folder / "active.jsonl").read_bytes()
    day.save("a", 3)
    (error,) = day.errors
    assert isinstance(error, SaveError)
    assert "the disk is full" in str(error)
    assert (folder / "active.jsonl").read_bytes() == before
    day.disk.disarm()
    day.save("a", 4)
    assert day.visible() == {"a": 4}


def test_a_line_that_cannot_be_taken_back_stops_further_writing(fresh, monkeypatch):
    folder = fresh()
    day = Day(folder)
    day.save("a", 1)

    def refuse(*_arguments):
        raise OSError(errno.EIO, "broken")

    monkeypatch.setattr(day.disk, "truncate", refuse)
    day.disk.log.clear()
    day.disk.count = 0
    day.save("a", 2)
    day.disk.arm(day.disk.log.index("write") + 1, "short")
    day.save("a", 3)
    day.disk.disarm()
    day.save("a", 4)
    assert "could not be taken back" in str(day.errors[-1])
    day.store.close()
    with Store(folder, device="kestrel", disk=HastyDisk()) as again:
        assert again.shown("set", "a").body == {"v": 2}
        assert [problem.kind for problem in again.problems()] == ["torn"]


@pytest.mark.parametrize("kind", [errno.EIO, errno.EACCES])
def test_an_error_while_opening_is_said_or_named_never_swallowed(fresh, kind):
    folder = fresh()
    day = Day(folder)
    day.run()
    day.store.close()
    disk = FailingDisk()
    Store(folder, device="kestrel", disk=disk).close()
    for call in range(1, disk.count + 1):
        failing = FailingDisk()
        failing.arm(call, kind)
        try:
            store = Store(folder, device="kestrel", disk=failing)
        except StoreError as error:
            assert str(folder) in str(error)  # noqa: PT017 (most calls raise nothing)
            continue
        failing.disarm()
        found = {r.document: r.body["v"] for r in store.documents("set")}
        assert found == {"a": 3, "b": 2, "c": 4} or store.problems(), disk.log[call - 1]
        store.close()
