"""What pages cost: a cold start to one page, and drawing many pages beside the page library alone.

The peer of a drawing is the very same calls, taken down while the page was drawn and played back on a
bare canvas with the same fonts. Times are medians in seconds.
"""

from __future__ import annotations

import io
import random
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from fieldlog.fieldwork.visit.visits import find_visit
from fieldlog.sheets import render
from fieldlog.sheets.fonts import REGULAR, page_fonts
from fieldlog.sheets.making import make_athlete_sheets, make_sheet, subject_of
from tests.sheets.making import make_workspace

ROUNDS = 5
ATHLETES = 30
BARE = (
    "import pydantic, orjson, click; from reportlab.pdfgen.canvas import Canvas; "
    "import io; Canvas(io.BytesIO()).save()"
)


class Notes:
    """Stands in for a canvas and takes down what is called on it."""

    def __init__(self, canvas, calls):
        object.__setattr__(self, "_canvas", canvas)
        object.__setattr__(self, "_calls", calls)

    def __getattr__(self, name):
        found = getattr(self._canvas, name)
        if name.startswith("_") or not callable(found):
            return found

        def noted(*arguments, **options):
            if name not in ("beginPath", "save"):
                self._calls.append((name, arguments, options))
            return found(*arguments, **options)

        return noted

    def __setattr__(self, name, value):
        setattr(self._canvas, name, value)


def drawn_calls(sheet, stamp):
    """The calls that draw a sheet."""
    from reportlab.pdfgen import canvas as library

    calls = []
    bare = library.Canvas
    library.Canvas = lambda *arguments, **options: Notes(bare(*arguments, **options), calls)
    try:
        render.render_pdf(sheet, stamp)
    finally:
        library.Canvas = bare
    return calls


def play(calls):
    """Draw the same with the page library alone."""
    from reportlab.pdfgen.canvas import Canvas

    canvas = Canvas(io.BytesIO(), pagesize=(595.276, 841.89), invariant=1, initialFontName=REGULAR)
    for name, arguments, options in calls:
        getattr(canvas, name)(*arguments, **options)
    canvas.save()


def timed(act):
    begun = time.perf_counter()
    act()
    return time.perf_counter() - begun


def row(name, ours, beside, peer, *, goal, met):
    return {
        "name": name,
        "ours": ours,
        "beside": beside,
        "peer": peer,
        "ratio": ours / beside,
        "goal": goal,
        "met": met,
    }


def rows() -> list[dict]:
    """Return the rows of this part."""
    with tempfile.TemporaryDirectory() as folder:
        codes = [f"R{number:02d}" for number in range(1, ATHLETES + 1)]
        path = Path(folder) / "workspace"
        with make_workspace(path, codes) as workspace:
            store = workspace.site_named("Boathouse")
            visit = find_visit(store).record
            coach = make_sheet(workspace, subject_of(workspace, store, visit, "coach"))
            pages = [made for _, _, made in make_athlete_sheets(workspace, store, visit)]
            return [
                _cold_start(path, Path(folder) / "coach.pdf"),
                _drawing("coach's page of 30 athletes, drawing", [coach]),
                _drawing("30 athletes' pages, drawing", pages),
                _whole_squad(workspace, store, visit, pages),
            ]


def _cold_start(workspace: Path, file: Path) -> dict:
    command = [sys.executable, "-m", "fieldlog.cli.main"]
    arguments = ["--workspace", workspace, "sheet", "coach", "--site", "Boathouse", "-o", file]
    start = "from fieldlog.cli.main import main; main()"
    ours, beside = [], []
    for _ in range(ROUNDS):
        call = [command[0], "-c", start, *map(str, arguments)]
        ours.append(timed(lambda call=call: subprocess.run(call, check=True, capture_output=True)))
        bare = [sys.executable, "-c", BARE]
        beside.append(timed(lambda bare=bare: subprocess.run(bare, check=True, capture_output=True)))
    seconds = statistics.median(ours)
    peer = "the same libraries loaded, an empty page"
    return row(
        "coach's page of 30 athletes, cold start, s",
        seconds,
        statistics.median(beside),
        peer,
        goal="1.5 s",
        met=seconds <= 1.5,
    )


def _drawing(name: str, made: list) -> dict:
    calls = [drawn_calls(one.sheet, one.stamp) for one in made]
    page_fonts()
    ours, beside = [], []
    for _ in range(ROUNDS):
        ours.append(timed(lambda: [render.render_pdf(one.sheet, one.stamp) for one in made]))
        beside.append(timed(lambda: [play(one) for one in calls]))
    mine, bare = statistics.median(ours), statistics.median(beside)
    return row(f"{name}, s", mine, bare, "reportlab alone, the same calls", goal="3 ×", met=mine <= 3 * bare)


def _whole_squad(workspace, store, visit, made: list) -> dict:
    calls = [drawn_calls(one.sheet, one.stamp) for one in made]
    random.Random(1).shuffle(calls)
    ours, beside = [], []
    for _ in range(3):
        ours.append(timed(lambda: list(make_athlete_sheets(workspace, store, visit))))
        beside.append(timed(lambda: [play(one) for one in calls]))
    mine, bare = statistics.median(ours), statistics.median(beside)
    name = "30 athletes' pages from the store, numbered, s"
    return row(name, mine, bare, "reportlab alone, the same calls", goal="3 ×", met=mine <= 3 * bare)
