"""A workspace with one site, one visit and two athletes, made afresh for each test that asks for it."""

import datetime as dt
from types import SimpleNamespace

import pytest

from fieldlog.fieldwork.athletes.athletes import add_athlete
from fieldlog.fieldwork.visit.visits import ensure_visit
from fieldlog.records.site import Site
from fieldlog.store.workspace import Workspace

DAY = dt.date(2031, 5, 4)


def clock(text="09:00", day=DAY):
    """A moment of the visit's day at the site."""
    return dt.datetime.fromisoformat(f"{day.isoformat()}T{text}:00+02:00")


@pytest.fixture
def field(tmp_path):
    with Workspace.create(tmp_path / "workspace") as workspace:
        site = Site(id="site01", name="Boathouse", latitude_deg=60.2, height_m=4.0)
        store = workspace.add_site(site, by="tester")
        adult = add_athlete(workspace, "R07", by="tester").record
        minor = add_athlete(workspace, "Y01", by="tester", minor=True).record
        yield SimpleNamespace(
            workspace=workspace,
            store=store,
            visit=ensure_visit(store, DAY, "tester").record,
            adult=adult,
            minor=minor,
            clock=clock,
            visit_on=lambda day: ensure_visit(store, day, "tester").record,
        )
