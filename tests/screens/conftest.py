"""A workspace made through the verbs, and hands that press keys in the application on it."""

import asyncio
import contextlib
import datetime as dt
import shutil
import time
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from textual import events
from textual.worker import WorkerCancelled

from fieldlog.fieldwork.athletes.athletes import add_athlete
from fieldlog.records.site import Site
from fieldlog.store.workspace import Workspace

ZONE = dt.timezone(dt.timedelta(hours=1))
START = dt.datetime(2031, 5, 4, 8, 0, tzinfo=ZONE)
SAMPLE = Path(__file__).parents[2] / "sample_sites"
NAMES = {
    " ": "space",
    "-": "minus",
    ",": "comma",
    ".": "full_stop",
    ":": "colon",
    "+": "plus",
    "/": "slash",
    ">": "greater_than_sign",
    "?": "question_mark",
    "[": "left_square_bracket",
    "]": "right_square_bracket",
    "_": "underscore",
    "'": "apostrophe",
    "×": "multiplication_sign",
}

CHARACTERS = {name: character for character, name in NAMES.items()}
ROUNDS = 3
NEVER_S = 60  # what takes longer on any machine is stuck


class Hands:
    """Presses keys, counts them, and reads what the screen shows. Each look at the clock takes two seconds."""

    def __init__(self, workspace, start=START, size=(80, 24), **options):
        from fieldlog.screens.app import FieldlogApp

        self.now = start
        self.pressed = 0
        self.size = size
        self.workspace = workspace
        self.app = FieldlogApp(workspace, by="Kim", clock=self._clock, **options)

    def _clock(self):
        self.now += dt.timedelta(seconds=2)
        return self.now

    @property
    def room(self):
        return self.app.screen

    @property
    def text(self):
        return "\n".join(
            "".join(segment.text for segment in strip)
            for strip in self.app.screen._compositor.render_strips()
        )

    @property
    def said(self):
        return self.room.said

    async def settle(self):
        """Wait until what was pressed is done, work in threads included."""
        given_up = time.monotonic() + NEVER_S
        while True:
            assert time.monotonic() < given_up, f"never comes to rest: {self._unrest()}"
            if self.app._exception is not None:
                raise self.app._exception
            for _ in range(ROUNDS):
                await self.pilot._wait_for_screen()
            # Who watches a folder does so for as long as the room is open.
            workers = [worker for worker in self.app.workers if worker.group != "watch"]
            if any(worker.is_running for worker in workers):
                # A worker that ends the application is cancelled by that.
                with contextlib.suppress(WorkerCancelled):
                    await self.app.workers.wait_for_complete(workers)
            elif self._is_at_rest() or self.app._exit:
                return
            await asyncio.sleep(0.002)

    def _unrest(self):
        screen = self.app.screen
        shown = (
            "ready",
            "handing_on",
            "reading",
            "saving",
            "_layout_required",
            "_repaint_required",
            "_dirty_widgets",
            "is_current",
        )
        return type(screen).__name__, {name: getattr(screen, name, None) for name in shown}

    def _is_at_rest(self):
        screen = self.app.screen
        drawing = (
            screen._dirty_widgets
            or screen._callbacks
            or any(
                widget._layout_required or widget._repaint_required or widget._scroll_required
                for widget in screen.walk_children(with_self=True)
            )
        )
        busy = any(getattr(screen, name, False) for name in ("handing_on", "reading", "saving"))
        waiting = busy or not getattr(screen, "ready", True)
        return not (waiting or drawing)

    async def _strike(self, name):
        # As the terminal driver does it; the pilot would sleep forty milliseconds a key.
        character = name if len(name) == 1 else CHARACTERS.get(name)
        self.app._driver.send_message(events.Key(name, character))
        self.pressed += 1
        await asyncio.sleep(0)

    async def press(self, keys):
        """Press keys named with blanks between them."""
        for name in keys.split():
            await self._strike(NAMES.get(name, name))
        await self.settle()

    async def type(self, text, enter=True):
        """Type text character by character, then enter."""
        for character in text:
            await self._strike(NAMES.get(character, character))
        if enter:
            await self._strike("enter")
        await self.settle()

    def rows(self, selector):
        return [row.words for row in self.room.query_one(selector).rows]


@pytest.fixture
def hands():
    @asynccontextmanager
    async def open_app(workspace, **options):
        pair = Hands(workspace, **options)
        async with pair.app.run_test(size=pair.size) as pilot:
            pair.pilot = pilot
            await pair.settle()
            yield pair

    return open_app


@pytest.fixture
def workspace(tmp_path):
    with Workspace.create(tmp_path / "workspace") as made:
        made.add_site(Site(id="site01", name="Boathouse", latitude_deg=60.2, height_m=4.0), by="tester")
        for code in ("R01", "R07"):
            add_athlete(made, code, by="tester", squad="Rowers")
        add_athlete(made, "Y01", by="tester", squad="Youth", minor=True)
        yield made


@pytest.fixture
def sample(tmp_path):
    """A copy of the sample workspace, on the day whose visit waits there as raw files."""
    if not (SAMPLE / "workspace.json").is_file():
        pytest.skip("the sample workspace is not in this checkout")
    shutil.copytree(SAMPLE, tmp_path / "sample")
    with Workspace.open(tmp_path / "sample") as opened:
        yield opened
