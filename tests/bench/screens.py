"""What the screens cost: first paint beside a bare application, keys and rooms on a large workspace, idling.

The large workspace holds 2,000 athletes over five seasons: the sets, setups and checks are those of the sample
workspace under other ids. Every figure is measured in this run.
"""

from __future__ import annotations

import asyncio
import datetime as dt
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

__all__ = ["rows"]

FIRST_PAINT_GOAL = 1.5
FILLED_GOAL = 3.0
KEY_MEDIAN_GOAL_MS = 16.0
KEY_SLOWEST_GOAL_MS = 50.0
ROOM_GOAL_MS = 150.0
IDLE_GOAL_PCT = 1.0
ROUNDS = 9
ATHLETES = 2_000
SEASONS = 5
SITES = 10
SAMPLE = Path(__file__).parents[2] / "sample_sites"

# Each prints the seconds from the start of its process to the paint that is meant, then leaves.
_BARE = """
import os, time
from textual.app import App
from textual.widgets import Static
class Bare(App):
    def compose(self):
        yield Static("hello")
    def post_display_hook(self):
        print(time.time() - float(os.environ["STARTED"]))
        os._exit(0)
Bare().run(headless=True)
"""
_OURS = """
import datetime, os, sys, time
from pathlib import Path
from fieldlog.screens.app import FieldlogApp
zone, wanted = datetime.timezone.utc, sys.argv[2]
def opened():
    from fieldlog.store.workspace import Workspace
    return Workspace.open(Path(sys.argv[1]))
class Watched(FieldlogApp):
    def post_display_hook(self):
        if wanted == "frame" or self.screen.ready:
            print(time.time() - float(os.environ["STARTED"]))
            sys.stdout.flush()
            os._exit(0)
Watched(opened, by="t", clock=lambda: datetime.datetime(2026, 5, 6, 9, tzinfo=zone)).run(headless=True)
"""


def rows() -> list[dict[str, Any]]:
    """One row for the first paint, and one for each measure on the large workspace."""
    with tempfile.TemporaryDirectory() as folder:
        sample = Path(shutil.copytree(SAMPLE, Path(folder) / "sample"))
        found = _first_paint(sample)
        large = Path(folder) / "large"
        _build_large(sample, large)
        found += asyncio.run(_on_large(large))
        return found


def _row(name: str, ours: float, beside: float, peer: str, goal: float) -> dict[str, Any]:
    ratio = ours / beside
    return {
        "name": name,
        "ours": ours,
        "beside": beside,
        "peer": peer,
        "ratio": ratio,
        "goal": f"<= {goal:g}",
        "met": ratio <= goal,
    }


def _first_paint(sample: Path) -> list[dict[str, Any]]:
    # Turn by turn, so that a busy moment of the machine meets all.
    frame, filled, bare = [], [], []
    _paint_s(_OURS, sample, "filled")
    for _ in range(ROUNDS):
        bare.append(_paint_s(_BARE, sample))
        frame.append(_paint_s(_OURS, sample, "frame"))
        filled.append(_paint_s(_OURS, sample, "filled"))
    beside, peer = statistics.median(bare), "bare Textual application"
    return [
        _row("first paint, s", statistics.median(frame), beside, peer, FIRST_PAINT_GOAL),
        _row(
            "first room with the sample workspace in it, s",
            statistics.median(filled),
            beside,
            peer,
            FILLED_GOAL,
        ),
    ]


def _paint_s(program: str, sample: Path, wanted: str = "") -> float:
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path), "STARTED": str(time.time())}
    # As installed: all is compiled, also where this process was told to write no bytecode.
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    environment["PYTHONPYCACHEPREFIX"] = str(sample.parent / "compiled")
    done = subprocess.run(
        [sys.executable, "-c", program, str(sample), wanted],
        check=True,
        env=environment,
        capture_output=True,
        text=True,
    )
    return float(done.stdout.split()[-1])


# the large workspace


def _build_large(sample: Path, folder: Path) -> None:
    from fieldlog.records.athlete import Athlete
    from fieldlog.records.base import derived_id
    from fieldlog.records.site import Site
    from fieldlog.records.visit import visit_id
    from fieldlog.store.lines import Change
    from fieldlog.store.workspace import Workspace

    with Workspace.open(sample) as source, Workspace.create(folder) as made:
        store = source.site_named("Skarvik boathouse")
        bodies = {
            table: [revision.body for revision in store.documents(table)]
            for table in ("sets", "setups", "rig_checks", "batches", "visits")
        }
        rig = [revision.body for revision in source.team.documents("rigs")]
        changes = [Change("rigs", body["id"], body, ()) for body in rig if body]
        athletes = [
            Athlete(id=derived_id("a", str(number)), code=f"S{number:04}", squad=f"Squad {number % 40:02}")
            for number in range(ATHLETES)
        ]
        changes += [Change("athletes", athlete.id, athlete.to_body(), ()) for athlete in athletes]
        made.team.commit(changes, by="bench")
        each_site = ATHLETES // SITES
        for place in range(SITES):
            site = Site(
                id=f"site{place:02}", name=f"Hall {place:02}", latitude_deg=50 + place, height_m=10 * place
            )
            home = made.add_site(site, by="bench")
            members = athletes[place * each_site : (place + 1) * each_site]
            for season in range(SEASONS):
                for quarter in range(4):
                    date = dt.date(2022 + season, 1 + 3 * quarter, 10)
                    some = members[quarter::4]
                    home.commit(
                        _visit_changes(Change, bodies, site.id, date, some, visit_id(site.id, date)),
                        by="bench",
                    )


def _visit_changes(
    change: type, bodies: dict[str, list[Any]], site_id: str, date: dt.date, members: list[Any], visit: str
) -> list[Any]:
    from fieldlog.records.base import derived_id

    def at(hour: int) -> str:
        return f"{date.isoformat()}T{hour:02}:00:00+00:00"

    def moved(body: Any, *parts: str, **fields: Any) -> Any:
        return {**body, "id": derived_id(visit, *parts), "visit_id": visit, **fields}

    first = bodies["visits"][0]
    made = [change("visits", visit, {**first, "id": visit, "site_id": site_id, "date": date.isoformat()}, ())]
    for stage, hour in (("opening", 8), ("closing", 17)):
        body = next(body for body in bodies["rig_checks"] if body["stage"] == stage)
        body = moved(body, stage, site_id=site_id, at=at(hour))
        made.append(change("rig_checks", body["id"], body, ()))
    batch_id = derived_id(visit, "batch")
    entries = [
        {"athlete_id": member.id, "sides": ["both"], "status": "done", "body_mass_kg": 80.0}
        for member in members
    ]
    batch = {**bodies["batches"][0], "protocol_id": "trunk_standing_60_120", "entries": entries}
    made.append(change("batches", batch_id, moved(batch, "batch"), ()))
    templates = [body for body in bodies["sets"] if body["protocol_id"] == "trunk_standing_60_120"][:2]
    setup = next(body for body in bodies["setups"] if body["plan_id"] == "trunk_standing")
    for member in members:
        body = moved(setup, member.id, "setup", athlete_id=member.id, at=at(9))
        made.append(change("setups", body["id"], body, ()))
        for number, template in enumerate(templates):
            body = moved(template, member.id, str(number), athlete_id=member.id, at=at(10), batch_id=batch_id)
            made.append(change("sets", body["id"], body, ()))
    return made


# keys and rooms


async def _on_large(folder: Path) -> list[dict[str, Any]]:
    from fieldlog.screens.app import FieldlogApp
    from fieldlog.store.workspace import Workspace

    now = dt.datetime(2026, 10, 10, 9, tzinfo=dt.UTC)

    class Watched(FieldlogApp):
        painted = asyncio.Event()

        def on_ready(self) -> None:
            # As in a terminal; only a run without one leaves the collector alone.
            self.spare_the_collector()

        def post_display_hook(self) -> None:
            self.painted.set()

    workspace = Workspace.open(folder)
    app = Watched(workspace, by="bench", clock=lambda: now)
    found = []
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        found += await _rooms(app, pilot)
        found += await _keys(app, pilot)
        started, burnt = time.perf_counter(), time.process_time()
        await asyncio.sleep(5.0)
        idle_pct = 100 * (time.process_time() - burnt) / (time.perf_counter() - started)
        found.append(_row("idle, % of one processor", idle_pct, IDLE_GOAL_PCT, "goal", 1.0))
    workspace.close()
    return found


async def _rooms(app: Any, pilot: Any) -> list[dict[str, Any]]:
    from fieldlog.fieldwork.batch.batches import batches_of
    from fieldlog.fieldwork.books import of_team
    from fieldlog.fieldwork.visit.visits import visits_of
    from fieldlog.records.rig import Rig
    from fieldlog.screens.batch_entry import BatchRoom
    from fieldlog.screens.bench import BenchRoom
    from fieldlog.screens.clearance_entry import ClearanceRoom
    from fieldlog.screens.day import DayRoom
    from fieldlog.screens.exchange import ExchangeRoom
    from fieldlog.screens.rig_log import RigLogRoom
    from fieldlog.screens.squad import SquadRoom

    store = next(iter(app.workspace.sites.values()))
    visit = visits_of(store)[0].record
    batch = batches_of(store, visit)[0].record
    athlete_id = batch.entries[0].athlete_id
    rig = of_team(app.workspace, Rig).all()[0].record
    rooms: dict[str, Callable[[], Any]] = {
        "day": lambda: DayRoom(store),
        "bench": lambda: BenchRoom(store, visit, batch.id, athlete_id, site_name="Hall"),
        "batch": lambda: BatchRoom(store, visit, site_name="Hall"),
        "clearance": lambda: ClearanceRoom(store, visit, athlete_id, site_name="Hall"),
        "rig log": lambda: RigLogRoom(rig.id),
        "squad": SquadRoom,
        "exchange": ExchangeRoom,
    }
    found = []
    for name, make in rooms.items():
        times = []
        for _ in range(5):
            started = time.perf_counter()
            app.push_screen(make())
            await _painted(app, lambda: getattr(app.screen, "ready", False))
            times.append(1000 * (time.perf_counter() - started))
            await pilot.pause()
            app.pop_screen()
            await pilot.pause()
        found.append(
            _row(f"opening the {name} room, ms", statistics.median(times), ROOM_GOAL_MS, "goal", 1.0)
        )
    return found


async def _painted(app: Any, there: Callable[[], bool]) -> None:
    async with asyncio.timeout(30):
        while True:
            app.painted.clear()
            await app.painted.wait()
            if there():
                return


async def _keys(app: Any, pilot: Any) -> list[dict[str, Any]]:
    from textual import events

    from fieldlog.fieldwork.visit.visits import visits_of
    from fieldlog.screens.batch_entry import BatchRoom

    store = next(iter(app.workspace.sites.values()))
    room = BatchRoom(store, visits_of(store)[0].record, site_name="Hall")
    app.push_screen(room)
    await pilot.pause()
    await pilot.press("end", "enter")
    times = []
    strokes = ["down", "down", "pagedown", "up", "space"] * 60
    for name in strokes:
        app.painted.clear()
        started = time.perf_counter()
        app._driver.send_message(events.Key(name, " " if name == "space" else None))
        async with asyncio.timeout(10):
            await app.painted.wait()
        times.append(1000 * (time.perf_counter() - started))
        await asyncio.sleep(0.02)
    times.sort()
    app.pop_screen()
    await pilot.pause()
    return [
        _row(
            "key to repaint among 2,000 athletes, median ms",
            statistics.median(times),
            KEY_MEDIAN_GOAL_MS,
            "goal",
            1.0,
        ),
        _row(
            "key to repaint, 99th percentile ms",
            times[int(0.99 * len(times))],
            KEY_SLOWEST_GOAL_MS,
            "goal",
            1.0,
        ),
    ]
