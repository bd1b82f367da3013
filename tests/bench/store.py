"""What the store costs, as ratios beside raw disk calls, stock TinyDB and SQLite in the same run.

Each durable operation is measured in turn with its peer, so that a slow moment of the machine hits
both.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import orjson
from tinydb import TinyDB, where

from fieldlog.store.disk import Disk
from fieldlog.store.lines import Change
from fieldlog.store.store import Store

LARGE, MIDDLE, SMALL, SEASON = 100_000, 10_000, 1_000, 2_400
ROUNDS = 300
TABLE = "repetition"


class HastyDisk(Disk):
    """Builds the large stores quickly: nothing is flushed."""

    def fsync(self, descriptor):
        pass

    def fsync_folder(self, path):
        pass


def body(number: int) -> dict:
    """Return an invented repetition of about 540 bytes."""
    chance = random.Random(number)
    return {
        "schema_version": 1,
        "id": f"{chance.getrandbits(96):024x}",
        "visit_id": f"visit-{number // 240}",
        "athlete_id": f"athlete-{number // 80 % 400}",
        "set_id": f"set-{number // 10}",
        "set_number": number // 10 % 8,
        "index": number % 10,
        "direction": "up" if number % 2 else "down",
        "mode": "concentric",
        "peak_torque_nm": round(chance.uniform(60, 240), 3),
        "peak_torque_angle_deg": round(chance.uniform(30, 80), 3),
        "time_to_peak_s": round(chance.uniform(0.1, 0.6), 4),
        "work_j": round(chance.uniform(50, 220), 3),
        "mean_power_w": round(chance.uniform(50, 300), 3),
        "load_range_share_pct": round(chance.uniform(40, 95), 2),
        "flags": ["peak_at_edge"] if number % 17 == 0 else [],
        "note": "x" * 60,
    }


def fill(folder: Path, count: int) -> None:
    disk = HastyDisk()
    with Store.create(folder, store_id="bench", kind="site", device="bench", disk=disk) as store:
        for number in range(count):
            document = body(number)
            store.commit([Change(TABLE, document["id"], document)], by="bench")
            if (number + 1) % 5_000 == 0:
                store.seal()


def sqlite_at(path: Path, count: int) -> sqlite3.Connection:
    base = sqlite3.connect(path, isolation_level=None)
    base.execute("pragma journal_mode=wal")
    base.execute("pragma synchronous=full")
    base.execute("create table record (id text primary key, body text)")
    base.execute("create index by_set on record (json_extract(body, '$.set_id'))")
    base.execute("begin")
    base.executemany(
        "insert into record values (?, ?)",
        ((document["id"], orjson.dumps(document).decode()) for document in map(body, range(count))),
    )
    base.execute("commit")
    return base


def interleaved(*actions, rounds: int = ROUNDS) -> list[float]:
    """Return the milliseconds of each action, all called in turn, by the quiet quarter of the rounds.

    The order rotates, so that none always follows the same other; the lower quartile is what they
    take while the machine does nothing else.
    """
    spans: list[list[float]] = [[] for _ in actions]
    for number in range(rounds):
        for place in range(len(actions)):
            which = (number + place) % len(actions)
            start = time.perf_counter()
            actions[which](number)
            spans[which].append((time.perf_counter() - start) * 1000)
    return [statistics.quantiles(kept, n=4)[0] for kept in spans]


def row(name: str, ours: float, beside: float, peer: str, goal: float, *, at_least: bool = False) -> dict:
    ratio = beside / ours if at_least else ours / beside
    met = ratio >= goal if at_least else ratio <= goal
    return {
        "name": name,
        "ours": round(ours, 4),
        "beside": round(beside, 4),
        "peer": peer,
        "ratio": round(ratio, 3),
        "goal": f"{'≥' if at_least else '≤'} {goal:g}",
        "met": met,
    }


def insert_rows(folder: Path) -> list[dict]:
    stores = {count: Store(folder / str(count), device="bench") for count in (SMALL, MIDDLE, LARGE)}
    # Made beforehand: inventing a document is no part of keeping it.
    fresh = iter([body(number) for number in range(10_000_000, 10_000_000 + 6 * ROUNDS)])

    def insert(count: int):
        def action(_number: int) -> None:
            document = next(fresh)
            store = stores[count]
            store.commit([Change(TABLE, document["id"], document)], by="bench")

        return action

    raw = os.open(folder / "raw", os.O_RDWR | os.O_APPEND | os.O_CREAT)
    line = (folder / str(SMALL) / "active.jsonl").read_bytes().splitlines(keepends=True)[-1]

    def append(_number: int) -> None:
        os.write(raw, line)
        os.fsync(raw)

    base = sqlite_at(folder / "plain.sqlite", MIDDLE)
    base.execute("drop index by_set")

    def sqlite_insert(_number: int) -> None:
        document = next(fresh)
        base.execute("insert into record values (?, ?)", (document["id"], orjson.dumps(document).decode()))

    for store in stores.values():  # the first commit writes the header
        store.commit([Change(TABLE, "first", {"id": "first"})], by="bench")
    small, middle, large, plain, lite = interleaved(
        insert(SMALL), insert(MIDDLE), insert(LARGE), append, sqlite_insert
    )
    stock = TinyDB(folder / "stock.json")
    stock.insert_multiple(body(number) for number in range(MIDDLE))
    ours, theirs = interleaved(insert(MIDDLE), lambda _: stock.insert(next(fresh)), rounds=7)
    for store in stores.values():
        store.close()
    os.close(raw)
    return [
        row("durable insert, 10,000 documents [ms]", middle, plain, "append + fsync of the same bytes", 1.5),
        row("durable insert, 100,000 beside 1,000 documents [ms]", large, small, "the store at 1,000", 1.15),
        row("durable insert, 10,000 documents [ms]", ours, theirs, "stock TinyDB", 200, at_least=True),
        row("durable insert, 10,000 documents [ms]", middle, lite, "SQLite (WAL, synchronous full)", 1.0),
    ]


MEASURED = """
import resource, sys, time
sys.path.insert(0, {root!r})
{imports}

def peak():
    # The kernel's own mark for this program; getrusage would count the parent's before the start.
    try:
        with open("/proc/self/status") as status:
            return next(int(line.split()[1]) for line in status if line.startswith("VmHWM"))
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss

before = peak()
start = time.perf_counter()
{action}
span = time.perf_counter() - start
print(span * 1000, (peak() - before) / 1024)
"""


def in_fresh_process(imports: str, action: str) -> tuple[float, float]:
    """Return milliseconds and MiB of peak memory that ``action`` took beyond the imports."""
    root = str(Path(__file__).parents[2])
    program = MEASURED.format(root=root, imports=imports, action=action)
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    span, memory = done.stdout.split()
    return float(span), float(memory)


def open_rows(folder: Path) -> list[dict]:
    documents = [body(number) for number in range(LARGE)]
    (folder / "all.json").write_bytes(orjson.dumps(documents))
    tiny = {TABLE: {str(number + 1): document for number, document in enumerate(documents)}}
    (folder / "tiny.json").write_text(json.dumps(tiny), encoding="utf-8")
    del documents, tiny
    opened = "from pathlib import Path\nfrom fieldlog.store.store import Store"
    spans: dict[str, list[tuple[float, float]]] = {"ours": [], "parse": [], "tiny": [], "season": []}
    for _ in range(5):
        spans["ours"].append(
            in_fresh_process(opened, f"kept = Store(Path({str(folder / str(LARGE))!r}), device='b')")
        )
        spans["parse"].append(
            in_fresh_process(
                "import orjson", f"kept = orjson.loads(open({str(folder / 'all.json')!r}, 'rb').read())"
            )
        )
        spans["season"].append(
            in_fresh_process(opened, f"kept = Store(Path({str(folder / str(SEASON))!r}), device='b')")
        )
    for _ in range(2):
        spans["tiny"].append(
            in_fresh_process(
                "from tinydb import TinyDB",
                f"kept = TinyDB({str(folder / 'tiny.json')!r}).table({TABLE!r})\nlen(kept)",
            )
        )
    span = {name: statistics.median(pair[0] for pair in pairs) for name, pairs in spans.items()}
    # A fixed bound has no peer that slows down with the machine: the best of the runs counts.
    span["season"] = min(pair[0] for pair in spans["season"])
    memory = {name: statistics.median(pair[1] for pair in pairs) for name, pairs in spans.items()}
    return [
        row("open 100,000 documents, all verified [ms]", span["ours"], span["parse"], "orjson parse", 2.0),
        row(
            "peak memory of opening 100,000 documents [MiB]",
            memory["ours"],
            memory["tiny"],
            "stock TinyDB",
            1.1,
        ),
        row("open a season's site, 2,400 documents [ms]", span["season"], 25.0, "25 ms", 1.0),
    ]


def lookup_rows(folder: Path) -> list[dict]:
    base = sqlite_at(folder / "indexed.sqlite", LARGE)
    query = "select id, body from record where json_extract(body, '$.set_id') = ?"
    with Store(folder / str(LARGE), device="bench") as store:
        table = store.table(TABLE)
        table.search(where("set_id") == "set-1")  # the first question makes the index

        def ours(number: int) -> None:
            assert len(table.search(where("set_id") == f"set-{number}")) == 10

        def theirs(number: int) -> None:
            rows = base.execute(query, (f"set-{number}",)).fetchall()
            assert len([orjson.loads(text) for _, text in rows]) == 10

        found, beside = interleaved(ours, theirs)
    return [row("equality lookup by index, 10 of 100,000 [ms]", found, beside, "indexed SQLite", 1.5)]


def rows() -> list[dict]:
    """Measure and return one row a goal."""
    folder = Path(tempfile.mkdtemp(prefix="fieldlog-bench-"))
    try:
        for count in (SMALL, SEASON, MIDDLE, LARGE):
            fill(folder / str(count), count)
        return [*insert_rows(folder), *open_rows(folder), *lookup_rows(folder)]
    finally:
        shutil.rmtree(folder)
