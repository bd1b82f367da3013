"""What is loaded before the first paint, and what is not."""

import json
import os
import subprocess
import sys

import pytest

HEAVY = ("numpy", "scipy", "reportlab", "xlsxwriter", "fsspec", "psycopg", "watchfiles")
LATER = (
    "fieldlog.analysis.trace",
    "fieldlog.sheets.render",
    "fieldlog.exchange.sync",
)


def loaded_after(tmp_path, script):
    program = f"""
import datetime, json, sys
from pathlib import Path
from fieldlog.records.site import Site
from fieldlog.store.workspace import Workspace
workspace = Workspace.create(Path(sys.argv[1]) / "w")
workspace.add_site(Site(id="s1", name="Hall", latitude_deg=60, height_m=4), by="t")
from fieldlog.screens.app import FieldlogApp
zone = datetime.timezone.utc
app = FieldlogApp(workspace, by="t", clock=lambda: datetime.datetime(2031, 5, 4, 8, tzinfo=zone))
async def look(pilot):
    await pilot.pause()
    {script}
    app.exit()
app.run(headless=True, auto_pilot=look)
print(json.dumps(sorted(sys.modules)))
"""
    done = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path)],
        capture_output=True,
        text=True,
        timeout=60,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
        check=True,
    )
    return set(json.loads(done.stdout.splitlines()[-1]))


def test_nothing_heavy_is_loaded_before_the_first_paint(tmp_path):
    loaded = loaded_after(tmp_path, "pass")
    assert "fieldlog.screens.places" in loaded
    assert not loaded & {*HEAVY, *LATER}


def test_walking_through_a_day_loads_no_numbers_and_no_page_maker(tmp_path):
    loaded = loaded_after(tmp_path, "await pilot.press('enter', '2', '3', '4', '5', 'escape')")
    assert "fieldlog.screens.day" in loaded
    assert not loaded & {*HEAVY, *LATER}


@pytest.mark.parametrize("name", ["NO_COLOR", "TERM=dumb"])
def test_it_starts_without_colour(tmp_path, monkeypatch, name):
    key, _, value = name.partition("=")
    monkeypatch.setenv(key, value or "1")
    assert "fieldlog.screens.places" in loaded_after(tmp_path, "pass")
