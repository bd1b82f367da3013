"""A power cut at every call and every byte: what was acknowledged is there, what is there was attempted."""

import random
import shutil

import pytest

from fieldlog.store.lines import Change
from fieldlog.store.persons import Persons
from fieldlog.store.store import Store
from tests.faults.counts import LONG
from tests.faults.failing_disk import HastyDisk
from tests.faults.recording_disk import Media, RecordingDisk, lay_out

CSV = b"time_s,angle_deg,torque_nm\n0,10,5\n"


class Session:
    """A scripted day on one store, with every attempt and every acknowledgement in the disk's log."""

    def __init__(self, root):
        self.disk = RecordingDisk(root)
        self.path = root / "team"
        (root / "team").mkdir()
        self.disk.log.clear()
        self.now = 1_950_000_000_000
        self.store = None

    def create(self):
        Store.create(self.path, store_id="team", kind="team", device="kestrel", disk=self.disk).close()
        self.disk.mark(("created",))

    def open(self):
        if self.store is not None:
            self.store.close()
        self.store = Store(self.path, device="kestrel", disk=self.disk, now_ms=self.tick)

    def tick(self):
        self.now += 1
        return self.now

    def commit(self, **documents):
        changes = []
        for document, body in documents.items():
            shown = self.store.shown("set", document)
            changes.append(Change("set", document, body, () if shown is None else (shown.id,)))
        self.disk.mark(("attempt", {(c.document, repr(c.body)) for c in changes}))
        made = self.store.commit(changes, by="ann")
        self.disk.mark(("ack", {r.id for r in made}, {(c.document, repr(c.body)) for c in changes}))

    def run(self):
        self.create()
        self.open()
        self.commit(a={"v": 1})
        self.commit(b={"v": 2}, c={"v": 3})
        trace = self.store.traces.put(CSV)
        self.commit(d={"v": 4, "trace": trace})
        self.store.seal()
        self.disk.mark(("sealed",))
        self.commit(a={"v": 5, "why": "é" * 5})
        self.open()
        self.commit(b=None)
        persons = Persons(self.store, disk=self.disk)
        persons.put({"athlete_id": "p1", "name": "Zdenka"})
        self.disk.mark(("person",))
        self.disk.mark(("attempt_erase",))
        persons.erase("p1", by="ann")
        self.disk.mark(("erased",))
        self.store.seal()
        self.open()
        self.commit(e={"v": 6})
        self.store.close()


def check(state, folder, events, counts):
    """Recover from a state and hold it against what had been attempted and acknowledged."""
    lay_out(state, folder)
    counts["points"] += 1
    created = ("created",) in events
    if "team/store.json" not in state:
        assert not created
        return
    acknowledged = {identity for event in events if event[0] == "ack" for identity in event[1]}
    attempts = [event[1] for event in events if event[0] == "attempt"]
    with Store(folder / "team", device="kestrel", disk=HastyDisk()) as store:
        found = {r.id: (r.document, repr(r.body)) for r in store.revisions() if r.table == "set"}
        assert acknowledged <= set(found), "an acknowledged record is lost"
        assert set(found.values()) <= set().union(*attempts), "a record nobody wrote"
        for batch in attempts:
            assert batch <= set(found.values()) or not batch & set(found.values()), "half a commit"
        assert {problem.kind for problem in store.problems()} <= {"torn"}
        for revision in store.revisions():
            trace = (revision.body or {}).get("trace")
            assert trace is None or store.traces.get(trace) == CSV
        persons = Persons(store, disk=HastyDisk())
        persons.apply_erasures()
        if ("erased",) in events:
            assert persons.all() == []
        elif ("person",) in events and ("attempt_erase",) not in events:
            assert len(persons.all()) == 1
        made = store.commit([Change("set", "after", {"v": 9})], by="bea")[0]
        counts["acknowledged"] += len(acknowledged)
    with Store(folder / "team", device="kestrel", disk=HastyDisk()) as store:
        assert acknowledged | {made.id} <= {revision.id for revision in store.revisions()}
        assert store.problems() == []
    counts["lost"] += 0


@pytest.fixture
def session(tmp_path):
    root = tmp_path / "day"
    root.mkdir()
    made = Session(root)
    made.run()
    return made


def states_of(log):
    """Yield (state, events so far, whether it is a torn write) for every cut of a log."""
    media = Media()
    events = []
    yield from ((state, list(events), False) for state in media.cuts())
    for call in log:
        if call[0] == "mark":
            events.append(call[1])
            continue
        media.do(call)
        yield from ((state, list(events), False) for state in media.cuts())
        if call[0] == "write":
            yield from ((state, list(events), True) for state in media.torn(call[1]))


def test_a_power_cut_at_every_call_and_byte_loses_nothing_acknowledged(tmp_path, session, tally):
    chance = random.Random(6)
    seen = set()
    folder = tmp_path / "cut"
    for state, events, torn in states_of(session.disk.log):
        if torn and not LONG and chance.random() > 0.03:
            continue
        key = (len(events), *sorted(state.items()))
        if key in seen:
            continue
        seen.add(key)
        check(state, folder, events, tally)
        shutil.rmtree(folder, ignore_errors=True)
    assert tally["points"] > 150


def test_the_log_holds_every_kind_of_call(session):
    kinds = {call[0] for call in session.disk.log}
    assert kinds >= {"create", "write", "truncate", "fsync", "replace", "remove", "fsync_folder", "mark"}


def test_nothing_is_acknowledged_before_its_bytes_are_flushed(session):
    media = Media()
    for call in session.disk.log:
        if call[0] != "mark":
            media.do(call)
        elif call[1][0] == "ack":
            assert not media.names["team/active.jsonl"].pending
