"""Two real processes on one store, killed with no warning at random moments, again and again."""

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fieldlog.store.lines import Change
from fieldlog.store.store import Store
from tests.faults.counts import LONG

ROOT = Path(__file__).parents[2]
ROUNDS = 60 if LONG else 4


def start(folder, name):
    command = [sys.executable, "-m", "tests.faults.writer", str(folder), name]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE)


@pytest.mark.skipif(sys.platform == "win32", reason="there is no kill -9")
def test_killed_writers_lose_no_acknowledged_record_and_no_count(tmp_path, tally):
    folder = tmp_path / "site"
    Store.create(folder, store_id="s", kind="site", device="kestrel").close()
    chance = random.Random(9)
    saved, counted = [], 0
    for _ in range(ROUNDS):
        writers = [start(folder, "kestrel"), start(folder, "heron")]
        for writer in writers:
            assert writer.stdout.readline() == b"ready\n"
        time.sleep(chance.uniform(0.05, 0.35))
        for writer in writers:
            writer.send_signal(signal.SIGKILL)
            time.sleep(chance.uniform(0, 0.02))
        for writer in writers:
            lines = writer.stdout.read().decode().splitlines()
            writer.wait()
            writer.stdout.close()
            saved += [line.split()[1] for line in lines if line.startswith("saved ") and len(line) == 70]
            counted += lines.count("counted")
        with Store(folder, device="kestrel") as store:
            assert {problem.kind for problem in store.problems()} <= {"torn"}
    with Store(folder, device="kestrel") as store:
        found = {revision.id for revision in store.revisions()}
        assert set(saved) <= found
        assert store.conflicts() == []
        total = store.shown("count", "shared").body["v"]
        assert total == len(store.history("count", "shared"))
        assert counted <= total <= counted + 2 * ROUNDS
        store.commit([Change("set", "after", {})], by="ann")
        assert store.problems() == []
    tally["kills"] += 2 * ROUNDS
    tally["acknowledged"] += len(saved) + counted
    tally["lost"] += len(set(saved) - found)
    assert len(saved) > ROUNDS


def test_a_dead_holder_of_the_lock_blocks_nobody(tmp_path):
    folder = tmp_path / "site"
    Store.create(folder, store_id="s", kind="site", device="kestrel").close()
    program = (
        "import sys,time;from pathlib import Path;from fieldlog.store.store import Store\n"
        f"store = Store(Path({str(folder)!r}), device='heron')\n"
        "with store.writing():\n    print('locked', flush=True)\n    time.sleep(60)"
    )
    holder = subprocess.Popen([sys.executable, "-c", program], cwd=ROOT, stdout=subprocess.PIPE)
    assert holder.stdout.readline() == b"locked\n"
    holder.kill()
    holder.wait()
    holder.stdout.close()
    start_s = time.monotonic()
    with Store(folder, device="kestrel") as store:
        store.commit([Change("set", "a", {})], by="ann")
    assert time.monotonic() - start_s < 2
