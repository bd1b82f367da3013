"""The exchange beside plain copying: a first sync, an empty one, and the team base on a real server.

What is measured beside is done in the same run on the same bytes. The base's figures need PostgreSQL
on this machine; without it those rows are left out. Invented records throughout.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fieldlog.exchange.depot import open_depot
from fieldlog.exchange.folder_depot import FolderDepot
from fieldlog.exchange.sync import sync
from fieldlog.records.site import Site
from fieldlog.store.disk import Disk
from fieldlog.store.lines import FORMAT, Change, Header, write_commit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

DOCUMENTS = 100_000
LAPTOPS = 20
SEASONS, SITES, VISITS_A_SEASON, TRACES_A_VISIT = 5, 20, 15, 10
DAY = dt.datetime(2031, 1, 6, 9, 0, tzinfo=dt.UTC)
ROOT = Path(__file__).resolve().parents[2]
START = (
    "import sys, fieldlog.cli.main, fieldlog.cli.sync\n"
    "import fieldlog.exchange.sync, fieldlog.exchange.depot, fieldlog.exchange.folder_depot\n"
    "from fieldlog.cli.location import open_workspace\n"
    "open_workspace(sys.argv[1])\n"
)


class Hasty(Disk):
    """Flushes nothing: for making what is measured later."""

    def fsync(self, descriptor: int) -> None:
        pass

    def fsync_folder(self, path: Path) -> None:
        pass


def rows() -> list[dict[str, Any]]:
    """Measure everything once; about five minutes on two slow cores."""
    found = []
    with _folder() as folder:
        found += _first_sync(folder)
    with _folder() as folder:
        found += _empty_sync(folder)
    with _folder() as folder:
        found += _team_base(folder)
    return found


def _first_sync(folder: Path) -> list[dict[str, Any]]:
    workspace = Workspace.create(folder / "kestrel", disk=Hasty())
    store = workspace.add_site(_site(0), by="bench")
    for number in range(DOCUMENTS):
        store.commit([Change("bench", f"{number:024x}", _body(number))], by="bench")
        if number % 10_000 == 9_999:
            store.seal()
    store.seal()
    workspace.close()
    ours, beside = [], []
    for turn in range(3):
        beside.append(_timed(lambda turn=turn: _copy(store.path / "sealed", folder / f"copy {turn}")))
        with Workspace.open(folder / "kestrel") as again:
            ours.append(
                _timed(lambda turn=turn, again=again: sync(again, FolderDepot(folder / f"stick {turn}")))
            )
    found = [
        _row("first sync, 100,000 documents brought to a folder (s)", ours, beside, "copying with fsync", 3.0)
    ]
    ours, beside = [], []
    for turn in range(2):

        def copied(turn: int = turn) -> None:
            target = folder / f"copied {turn}"
            shutil.copytree(store.path, target, ignore=shutil.ignore_patterns("sealed"))
            _copy(store.path / "sealed", target / "sealed")
            Store(target, device="bench").close()

        beside.append(_timed(copied))
        with Workspace.create(folder / f"heron {turn}") as heron:
            depot = FolderDepot(folder / f"stick {turn}")
            ours.append(_timed(lambda heron=heron, depot=depot: sync(heron, depot)))
    peer = "copying with fsync and opening with every check"
    found.append(_row("first sync, 100,000 documents fetched and checked (s)", ours, beside, peer, 3.0))
    return found


def _empty_sync(folder: Path) -> list[dict[str, Any]]:
    """A workspace of five seasons: 1,500 visits at 20 sites, a sealed file each, and 15,000 recordings."""
    workspace = Workspace.create(folder / "kestrel", disk=Hasty())
    for number in range(SITES):
        store = workspace.add_site(_site(number), by="bench")
        for visit in range(SEASONS * VISITS_A_SEASON):
            traces = [store.traces.put(b"%d,%d,%d\n" % (number, visit, t)) for t in range(TRACES_A_VISIT)]
            changes = [Change("bench", trace[:24], {**_body(visit), "trace": trace}) for trace in traces]
            store.commit(changes, by="bench")
            store.seal()
    with_hasty = FolderDepot(folder / "stick", disk=Hasty())
    sync(workspace, with_hasty)
    workspace.close()
    command = [sys.executable, "-c", "from fieldlog.cli.main import main; main()", "--workspace"]
    ours, beside = [], []
    for _ in range(7):
        sync_command = [*command, str(folder / "kestrel"), "sync", str(folder / "stick"), "--json"]
        ours.append(_timed(lambda c=sync_command: _run(c)))
        beside.append(_timed(lambda: _run([sys.executable, "-c", START, str(folder / "kestrel")])))
    seconds = statistics.median(ours) - statistics.median(beside)
    return [
        {
            "name": "empty sync of five seasons, beyond start-up (s)",
            "ours": seconds,
            "beside": statistics.median(beside),
            "peer": "start-up",
            "ratio": seconds / statistics.median(beside),
            "goal": "<= 0.3 s",
            "met": seconds <= 0.3,
        }
    ]


def _team_base(folder: Path) -> list[dict[str, Any]]:
    try:
        from tests.exchange.server import Server, binaries
    except ImportError:
        return []  # psycopg or pytest is not installed
    place = binaries()
    if place is None:
        return []
    server = Server(place, durable=True)
    try:
        return _on_server(server, folder)
    finally:
        server.stop()


def _on_server(server: Any, folder: Path) -> list[dict[str, Any]]:
    base = server.prepared()
    files = [file for number in range(LAPTOPS) for file in _laptop_files(number)]
    first = folder / "first"
    with Workspace.create(first) as one, _depot(server.url(base, "tester")) as depot:
        one.add_site(_site(99), by="bench")
        sync(one, depot)
        before = _one_more(one, depot)
    ours = _timed(lambda: _put(server.url(base, "tester"), files))
    server.execute("create table plain (name text primary key, body bytea)")
    beside = _timed(lambda: _put_plain(server.url(), files))
    found = [
        {
            "name": "base: 100,000 revisions of 20 laptops, files and rows (s)",
            "ours": ours,
            "beside": beside,
            "peer": "the same files alone in a plain table",
            "ratio": ours / beside,
            "goal": "<= 30",
            "met": ours / beside <= 30,
        }
    ]
    server.execute("analyze", base)
    with Workspace.open(first) as one, _depot(server.url(base, "tester")) as depot:
        after = _one_more(one, depot)
    found.append(
        _row("base: sync of one new record, 100,000 there (s)", after, before, "the same, one there", 2.0)
    )
    queries = {
        "a rig's history over all sites": "select * from fieldlog.rig_history where rig = 'rig 3' order by happened_at",
        "one site's results with cover": "select * from fieldlog.result where site = 'Site 3'",
        "cover words over all results": "select cover, count(*) from fieldlog.result group by cover",
        "the due list": "select * from fieldlog.due order by due_on",
        "open conflicts": "select * from fieldlog.conflict",
    }
    for name, query in queries.items():
        times = [_timed(lambda q=query: _ask(server.url(base, "lead"), q)) for _ in range(3)]
        seconds = statistics.median(times)
        found.append(
            {
                "name": f"base: {name} (s)",
                "ours": seconds,
                "beside": 1.0,
                "peer": "one second",
                "ratio": seconds,
                "goal": "<= 1",
                "met": seconds <= 1.0,
            }
        )
    return found


def _laptop_files(number: int) -> Iterator[tuple[str, str, bytes]]:
    """Yield store, name and content of a laptop's files: 5,000 revisions of one site in ten files."""
    site, device = f"site{number:020x}", f"{number:024x}"
    lines: list[bytes] = []
    clock = int(DAY.timestamp() * 1000) << 16
    for count in range(DOCUMENTS // LAPTOPS):
        at = DAY + dt.timedelta(days=7 * (count // 100), minutes=3 * (count % 100))
        identity = hashlib.sha256(f"{number} {count}".encode()).hexdigest()[:24]
        table, document, body = _revision(number, count, identity, at)
        change = (table, document, (), _json(body))
        lines.append(
            write_commit([change], clock=clock + count, device=device, by=f"tester {number}", why="")[0]
        )
    for start in range(0, len(lines), len(lines) // 10):
        header = Header(FORMAT, site, device, (), clock + start).line()
        data = header + b"".join(lines[start : start + len(lines) // 10])
        yield site, hashlib.sha256(data).hexdigest() + ".jsonl", data


def _revision(number: int, count: int, identity: str, at: dt.datetime) -> tuple[str, str, dict[str, Any]]:
    rig = f"r{number % 5}"
    if count == 0:
        site = f"site{number:020x}"
        return "site", site, {"id": site, "name": f"Site {number}", "latitude_deg": 50, "height_m": 10}
    if count % 100 in (1, 99):
        stage = "opening" if count % 100 == 1 else "closing"
        verdict = "fail" if count % 1700 == 99 else "pass"
        points = [
            {
                "direction": direction,
                "reference_nm": load,
                "error_pct": 0.4,
                "mass_kg": load / 5,
                "verdict": "pass",
            }
            for direction in ("up", "down")
            for load in (25, 50, 100, 150, 200)
        ]
        torque = {
            "points": points,
            "hysteresis_pct": 0.2,
            "lines": {"up": {"slope": 1.0}, "down": {"slope": 1.0}},
        }
        return "rig_checks", identity, {
            "id": identity, "rig_id": rig, "stage": stage, "state": "as-found", "verdict": verdict, "by": "Ana",
            "at": at.isoformat(), "entry": {"rig": f"rig {number % 5}"}, "judged": {"torque": torque, "zero": {"change_nm": 0}},
        }  # fmt: skip
    if count % 3 == 0:
        figures = {
            direction: {"movements": 5, "best_peak_torque_nm": 100.0 + count % 90, "total_work_j": 300.0}
            for direction in ("up", "down")
        }
        movements = [{"index": i, "peak_torque_nm": 100.5, "work_j": 60.1, "flags": []} for i in range(10)]
        return "sets", identity, {
            "id": identity, "rig_id": rig, "athlete_id": f"a{count % 40}", "visit_id": "v", "protocol_id": "p",
            "number": 1, "side": "left", "mode": "concentric", "standing": "counted", "at": at.isoformat(),
            "measures": {"set_speed_deg_s": 60, "set": figures, "movements": movements},
        }  # fmt: skip
    return "bench", identity, _body(count)


def _one_more(workspace: Workspace, depot: Any) -> list[float]:
    """Time a sync that brings one new record, some times over, on a laptop that holds one site of its own."""
    own = next(iter(workspace.sites.values()))
    times = []
    for count in range(7):
        shown = own.shown("bench", "x")
        change = Change("bench", "x", {"n": count}, (shown.id,) if shown else ())
        own.commit([change], by="bench")
        times.append(_timed(lambda: sync(workspace, depot, sites=[own.id])))
    return times


def _put(address: str, files: list[tuple[str, str, bytes]]) -> None:
    from fieldlog.exchange.depot import DepotFile

    with _depot(address) as depot:
        for store, name, data in files:
            depot.put(DepotFile(store, "sealed", name), data)


def _put_plain(address: str, files: list[tuple[str, str, bytes]]) -> None:
    import psycopg

    with psycopg.connect(address, autocommit=True) as connection:
        for _, name, data in files:
            connection.execute("insert into plain values (%s, %b)", (name, data))


def _ask(address: str, query: str) -> None:
    import psycopg

    with psycopg.connect(address) as connection:
        connection.execute(query.encode()).fetchall()


@contextmanager
def _depot(address: str) -> Iterator[Any]:
    depot = open_depot(address)
    try:
        yield depot
    finally:
        depot.close()


def _copy(source: Path, target: Path) -> None:
    target.mkdir(parents=True)
    for path in sorted(source.glob("*.jsonl")):
        descriptor = os.open(target / path.name, os.O_WRONLY | os.O_CREAT)
        os.write(descriptor, path.read_bytes())
        os.fsync(descriptor)
        os.close(descriptor)


def _run(command: list[str]) -> None:
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)


def _site(number: int) -> Site:
    return Site(id=f"{number:024x}", name=f"Site {number}", latitude_deg=50, height_m=10)


def _body(number: int) -> dict[str, Any]:
    return {
        "schema_version": 1, "visit_id": "5174e0000000000000000001", "athlete_id": "a" * 24, "number": number,
        "peak_torque_nm": 123.456, "measures": {f"figure_{i}": i * 1.234567 for i in range(20)},
    }  # fmt: skip


def _json(body: dict[str, Any]) -> bytes:
    import orjson

    return orjson.dumps(body)


def _timed(action: Callable[[], object]) -> float:
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def _row(name: str, ours: list[float], beside: list[float], peer: str, goal: float) -> dict[str, Any]:
    ratio = statistics.median(a / b for a, b in zip(ours, beside, strict=True))
    return {
        "name": name,
        "ours": statistics.median(ours),
        "beside": statistics.median(beside),
        "peer": peer,
        "ratio": ratio,
        "goal": f"<= {goal:g}",
        "met": ratio <= goal,
    }


@contextmanager
def _folder() -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp(prefix="flbench"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
