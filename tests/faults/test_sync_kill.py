"""Real processes killed in the middle of a sync, several at once on one stick, and a server that dies."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from fieldlog.errors import FieldlogError, StoreError
from tests.exchange.laptops import NOTES, Laptop
from tests.exchange.server import Base, Server, need_server
from tests.faults.counts import SCALE

ROOT = Path(__file__).resolve().parents[2]
KILLS = 2 * SCALE
SYNC = """
import sys
from pathlib import Path
from fieldlog.exchange.depot import open_depot
from fieldlog.exchange.sync import sync
from fieldlog.store.workspace import Workspace
workspace = Workspace.open(Path(sys.argv[1]))
print("ready", flush=True)
while True:
    depot = open_depot(sys.argv[2])
    sync(workspace, depot, verify=True, with_traces=True)
    depot.close()
    if sys.argv[3] == "once":
        break
"""


def start(laptop: Laptop, depot: str, how: str) -> subprocess.Popen:
    process = subprocess.Popen(
        [sys.executable, "-c", SYNC, str(laptop.path), depot, how], stdout=subprocess.PIPE, cwd=ROOT
    )
    process.stdout.readline()
    return process


def fill(laptop: Laptop, count: int) -> None:
    there = len(laptop.site().revisions())
    for number in range(there, there + count):
        laptop.write(laptop.site(), f"{laptop.name} {number}", {"text": "x" * 200})
        laptop.site().seal()


def test_laptops_killed_while_they_sync_lose_nothing_and_agree(tmp_path, tally) -> None:
    chance = random.Random(1)
    stick = tmp_path / "stick"
    kestrel, heron = Laptop(tmp_path / "kestrel"), Laptop(tmp_path / "heron")
    for _ in range(KILLS):
        fill(kestrel, 5)
        fill(heron, 5)
        kestrel.workspace.close()
        heron.workspace.close()
        both = [start(one, str(stick), "for ever") for one in (kestrel, heron)]
        time.sleep(chance.random() * 0.15)
        for process in both:
            process.send_signal(signal.SIGKILL)
            process.wait()
            process.stdout.close()
        kestrel.reopen()
        heron.reopen()
        tally["kills"] += 2
    for one in (kestrel, heron, kestrel):
        one.sync(stick, verify=True)
    assert kestrel.shown() == heron.shown()
    assert sum(1 for _ in kestrel.site().documents(NOTES)) == 10 * KILLS
    assert kestrel.site().problems() == heron.site().problems() == []
    kestrel.workspace.close()
    heron.workspace.close()


def test_several_laptops_sync_with_one_stick_at_the_same_time(tmp_path) -> None:
    stick = tmp_path / "stick"
    laptops = [Laptop(tmp_path / name) for name in ("kestrel", "heron", "owl")]
    for laptop in laptops:
        fill(laptop, 10)
        laptop.workspace.close()
    running = [start(laptop, str(stick), "once") for laptop in laptops]
    assert [process.wait(60) for process in running] == [0, 0, 0]
    for process in running:
        process.stdout.close()
    for laptop in laptops:
        laptop.reopen()
        laptop.sync(stick)
    assert laptops[0].sync(stick).body()["sent"] == 0
    assert laptops[0].shown() == laptops[1].shown() == laptops[2].shown()
    for laptop in laptops:
        laptop.workspace.close()


def sync_and_keep_the_error(laptop: Laptop, base: Base, failures: list[FieldlogError]) -> None:
    try:
        laptop.sync(base.depot(), verify=True)
    except FieldlogError as error:
        failures.append(error)


@pytest.fixture
def server() -> Server:
    return need_server()


def test_a_server_killed_in_mid_sync_loses_nothing(tmp_path, server, tally) -> None:
    base = Base(server)
    kestrel, heron = Laptop(tmp_path / "kestrel"), Laptop(tmp_path / "heron")
    fill(kestrel, 40)
    chance = random.Random(2)
    for _ in range(max(2, KILLS // 4)):
        failures: list[FieldlogError] = []
        sending = threading.Thread(target=sync_and_keep_the_error, args=(kestrel, base, failures))
        sending.start()
        time.sleep(chance.random() * 0.1)
        server.kill()
        sending.join()
        assert all(isinstance(error, StoreError) and "\n" not in str(error) for error in failures)
        server.start()
        tally["server kills"] += 1
        tally["syncs cut"] += len(failures)
        kestrel.reopen()
        fill(kestrel, 10)
    kestrel.sync(base.depot())
    heron.sync(base.depot())
    assert heron.shown() == kestrel.shown()
    in_base = {row[0] for row in base.rows("select id from fieldlog.revision")}
    assert in_base == set().union(*kestrel.revisions().values())
    base.close()
    kestrel.workspace.close()
    heron.workspace.close()


def test_two_laptops_bring_to_one_base_at_the_same_time(tmp_path, server) -> None:
    base = Base(server)
    laptops = [Laptop(tmp_path / name) for name in ("kestrel", "heron", "owl")]
    shared = laptops[0].write(laptops[0].team, "shared", {"n": 0})
    laptops[0].sync(base.depot())
    for number, laptop in enumerate(laptops):
        laptop.sync(base.depot())
        laptop.write(laptop.team, "shared", {"n": number + 1})
        fill(laptop, 8)
        laptop.workspace.close()
    running = [start(laptop, base.url("tester"), "once") for laptop in laptops]
    assert [process.wait(60) for process in running] == [0, 0, 0]
    for process in running:
        process.stdout.close()
    for laptop in laptops:
        laptop.reopen()
        laptop.sync(base.depot())
    assert laptops[0].shown() == laptops[1].shown() == laptops[2].shown()
    heads = base.rows("select id from fieldlog.head where document = 'shared'")
    assert len(heads) == 3
    assert (shared.id,) not in heads
    base.close()
    for laptop in laptops:
        laptop.workspace.close()


def test_a_sync_stopped_by_its_user_says_so_in_one_line(tmp_path) -> None:
    kestrel = Laptop(tmp_path / "kestrel")
    fill(kestrel, 60)
    kestrel.workspace.close()
    code = (
        # A shell that runs the tests in the background has ctrl+c ignored by all it starts.
        "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "import sys, fieldlog.exchange.folder_depot as f\n"
        "put = f.FolderDepot.put\n"
        "def slow(self, key, data):\n"
        "    print('putting', flush=True); import time; time.sleep(20); return put(self, key, data)\n"
        "f.FolderDepot.put = slow\n"
        "from fieldlog.cli.main import main; main()\n"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code, "--workspace", str(kestrel.path), "sync", str(tmp_path / "stick")],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT, env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    process.stdout.readline()
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=30)
    assert process.returncode == 2
    assert err.strip().count(b"\n") == 0
    assert b"stopped" in err
    kestrel.reopen()
    kestrel.sync(tmp_path / "stick")
    heron = Laptop(tmp_path / "heron")
    heron.sync(tmp_path / "stick")
    assert heron.shown() == kestrel.shown()
    kestrel.workspace.close()
    heron.workspace.close()
