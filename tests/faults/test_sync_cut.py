"""A sync cut at every byte, on either side of it, is noise that the next sync completes."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest

from fieldlog.errors import FieldlogError, StoreError
from fieldlog.exchange.folder_depot import FolderDepot
from tests.exchange.laptops import CutDisk, Laptop
from tests.faults.counts import LONG
from tests.faults.failing_disk import HastyDisk

RECORDING = b"time_s,angle_deg,torque_nm\n" + b"0.01,10,100\n" * 20
STEP_BYTES = 7 if LONG else 331


class Counting(HastyDisk):
    """Counts what is written, to know how many bytes there are to cut at."""

    def __init__(self) -> None:
        self.written = 0

    def write(self, descriptor: int, data: bytes) -> int:
        written = super().write(descriptor, data)
        self.written += written
        return written


@pytest.fixture
def kestrel(tmp_path: Path):
    """A laptop with a site, a recording, a person and an amended record, nothing of it synced yet."""
    laptop = Laptop(tmp_path / "kestrel")
    trace = laptop.site().traces.put(RECORDING)
    laptop.write(laptop.site(), "a", {"trace": trace})
    laptop.write(laptop.team, "b", {"n": 1})
    laptop.write(laptop.team, "b", {"n": 2})
    laptop.workspace.persons.put({"athlete_id": "a1", "name": "x"})
    yield laptop
    laptop.workspace.close()


def whole_state(laptop: Laptop) -> tuple:
    traces = {store.id: store.traces.names() for store in laptop.stores()}
    return laptop.shown(), traces, laptop.workspace.persons.names()


def sync_and_write_until_cut(laptop: Laptop, stick: Path) -> None:
    """What is noted after a sync may be cut in silence; a change may not."""
    for number in range(50):
        laptop.sync(stick, with_traces=True)
        laptop.write(laptop.team, "more", {"n": number})


def no_file_lies(depot: Path) -> bool:
    return all(
        hashlib.sha256(path.read_bytes()).hexdigest() == path.name.partition(".")[0]
        for kind in ("sealed", "persons")
        for path in depot.glob(f"*/{kind}/*")
    )


def test_bringing_cut_at_every_byte(tmp_path, kestrel, tally) -> None:
    counting = Counting()
    kestrel.sync(FolderDepot(tmp_path / "whole", disk=counting))
    for budget in range(0, counting.written + STEP_BYTES, STEP_BYTES):
        stick = tmp_path / f"stick {budget}"
        depot = FolderDepot(stick, disk=CutDisk(budget))
        if budget < counting.written:
            with pytest.raises(StoreError, match="what was exchanged so far stands"):
                kestrel.sync(depot)
        heron = Laptop(tmp_path / f"heron {budget}")
        heron.sync(stick, with_traces=True)
        kestrel.sync(stick)
        heron.sync(stick, with_traces=True)
        assert no_file_lies(stick)
        assert whole_state(heron) == whole_state(kestrel)
        heron.workspace.close()
        shutil.rmtree(stick)
        shutil.rmtree(heron.path)
        tally["cuts"] += 1


def test_fetching_cut_at_every_byte(tmp_path, kestrel, tally) -> None:
    stick = tmp_path / "stick"
    kestrel.sync(stick)
    counting = Counting()
    whole = Laptop(tmp_path / "whole")
    whole.with_disk(counting)
    whole.sync(stick, with_traces=True)
    whole.workspace.close()
    for budget in range(0, counting.written, STEP_BYTES):
        heron = Laptop(tmp_path / f"heron {budget}")
        heron.with_disk(CutDisk(budget))
        with pytest.raises((FieldlogError, OSError)):
            sync_and_write_until_cut(heron, stick)
        heron.with_disk(HastyDisk())
        heron.sync(stick, with_traces=True)
        kestrel.sync(stick)
        assert whole_state(heron) == whole_state(kestrel)
        heron.workspace.close()
        shutil.rmtree(heron.path)
        tally["cuts"] += 1


def test_a_conflict_taken_in_by_a_sync_that_was_cut_is_still_reported(tmp_path, kestrel) -> None:
    stick = tmp_path / "stick"
    kestrel.sync(stick)
    heron = Laptop(tmp_path / "heron")
    heron.sync(stick)
    kestrel.write(kestrel.team, "b", {"n": 3})
    kestrel.sync(stick)
    heron.write(heron.team, "b", {"n": 4})

    class Interrupted(FolderDepot):
        def put(self, key, data):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        heron.sync(Interrupted(stick))
    heron.reopen()
    assert heron.team.conflicts() != []
    assert len(heron.sync(stick).conflicts) == 1
    assert heron.sync(stick).conflicts == []
    heron.workspace.close()


@pytest.mark.parametrize("call", range(14))
def test_a_stick_pulled_at_any_call_stops_with_one_error_and_loses_nothing(tmp_path, kestrel, call) -> None:
    class Pulled(FolderDepot):
        calls = 0

        def _count(self) -> None:
            self.calls += 1
            if self.calls > call:
                raise StoreError("the stick is gone")

        def listing(self, *arguments):
            self._count()
            return super().listing(*arguments)

        def get(self, key):
            self._count()
            return super().get(key)

        def put(self, key, data):
            self._count()
            return super().put(key, data)

    stick = tmp_path / "stick"
    kestrel.sync(stick)
    heron = Laptop(tmp_path / "heron")
    heron.write(heron.site(), "c", {"n": 5})
    with pytest.raises(StoreError, match="the stick is gone"):
        heron.sync(Pulled(stick, disk=HastyDisk()), with_traces=True)
    heron.reopen()
    heron.sync(stick, with_traces=True)
    kestrel.sync(stick)
    assert whole_state(heron) == whole_state(kestrel)
    heron.workspace.close()
