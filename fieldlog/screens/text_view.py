"""A room as plain text, for screen readers and scripts: the room itself, drawn on no terminal."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from textual.pilot import Pilot
from textual.screen import Screen

from fieldlog.errors import FieldlogError, InputError, NotFoundError
from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.batch.batches import batch_of, batches_of
from fieldlog.fieldwork.books import site_of
from fieldlog.fieldwork.entry import parse_day
from fieldlog.fieldwork.visit.visits import find_visit, visits_of
from fieldlog.screens.app import FieldlogApp
from fieldlog.screens.room import Room
from fieldlog.screens.table import compose_row, headings, text_of
from fieldlog.screens.widgets.keys_line import KeysLine
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["ROOMS", "room_lines"]

ROOMS = ("places", "day", "bench", "rig-log", "squad", "exchange", "settings")
HEIGHT = 60


def room_lines(
    workspace: Workspace,
    room: str,
    *,
    clock: Callable[[], dt.datetime],
    by: str = "",
    site: str | None = None,
    visit: str | None = None,
    athlete: str | None = None,
    rig: str | None = None,
    width: int = 100,
) -> list[str]:
    """Return a room as lines of text, every row of every list.

    Raises InputError for a room there is none of, NotFoundError for a site, day, athlete or rig nobody knows,
    and the error that keeps the room from opening.
    """
    opened = _rig_log(workspace, rig) if room == "rig-log" else _opened(workspace, room, site, visit, athlete)
    app = _OneRoom(workspace, by=by, clock=clock)
    lines: list[str] = []

    async def read(pilot: Pilot[Any]) -> None:
        if app.failure is None and opened is not None:
            app.push_screen(opened)
        await pilot.pause()
        await app.workers.wait_for_complete()
        await pilot.pause()
        lines.extend(_lines(app.screen, width))
        app.exit()

    app.run(headless=True, size=(width, HEIGHT), auto_pilot=read)
    if app.failure is not None:
        raise app.failure
    return lines


class _OneRoom(FieldlogApp):
    """The application for one room: there is no room before it to turn back to."""

    def turn_back(self, error: FieldlogError) -> None:
        self.fail(error)


def _opened(
    workspace: Workspace, room: str, site: str | None, visit: str | None, athlete: str | None
) -> Room | None:
    if room == "places":
        return None
    if room not in ROOMS:
        raise InputError(f"there is no room {room!r}", f"rooms: {', '.join(ROOMS)}")
    if room == "squad":
        from fieldlog.screens.squad import SquadRoom

        return SquadRoom(everything=True)
    if room == "exchange":
        from fieldlog.screens.exchange import ExchangeRoom

        return ExchangeRoom(everything=True)
    if room == "settings":
        from fieldlog.screens.settings_room import SettingsRoom

        return SettingsRoom()
    store = _site(workspace, site)
    day = None if visit is None else parse_day(visit, "--visit")
    if room == "day":
        from fieldlog.screens.day import DayRoom

        return DayRoom(store, day)
    from fieldlog.screens.bench import BenchRoom

    visits = visits_of(store)
    kept = find_visit(store, day).record if day else visits[0].record if visits else None
    if kept is None:
        raise NotFoundError(f"{site_of(store).name}: no visit yet", "begin one in the application")
    batches = batches_of(store, kept)
    if athlete:
        identity = athlete_named(workspace, athlete).record.id
        batch = batch_of(store, kept, identity)
    else:
        batch = batches[0] if batches else None
        identity = batch.record.entries[0].athlete_id if batch and batch.record.entries else ""
    if batch is None or not identity:
        raise NotFoundError(f"nobody of that name is in the batch of {kept.date}", "name one with --athlete")
    return BenchRoom(store, kept, batch.record.id, identity, site_name=site_of(store).name)


def _rig_log(workspace: Workspace, rig: str | None) -> Room:
    from fieldlog.fieldwork.rig_life.rigs import rig_named
    from fieldlog.fieldwork.visit.day import rig_names
    from fieldlog.screens.rig_log import RigLogRoom

    names = rig_names(workspace)
    if rig is None and len(names) != 1:
        if not names:
            raise InputError("no rig yet", "name one in the application: stage 1 of a day")
        raise InputError("which rig?", f"name one with --rig; there are: {', '.join(names)}")
    return RigLogRoom(rig_named(workspace, rig or names[0]).record.id, everything=True)


def _site(workspace: Workspace, name: str | None) -> Store:
    if name is not None:
        return workspace.site_named(name)
    stores = list(workspace.sites.values())
    if len(stores) == 1:
        return stores[0]
    names = ", ".join(site_of(store).name for store in stores) or "none yet"
    raise InputError("which place?", f"name one with --site; there are: {names}")


def _lines(screen: Screen[Any], width: int) -> list[str]:
    lines: list[str] = []
    for widget in screen.query("*").results():
        if isinstance(widget, KeysLine) or widget.id == "message" or not widget.display:
            continue
        if isinstance(widget, PaneTitle):
            lines += ["", f"-- {widget.text}"]
        elif isinstance(widget, TextLines):
            lines += [line.rstrip() for line in widget.text.split("\n") if line.strip()]
        elif isinstance(widget, Listing):
            lines += _list_lines(widget, width)
    return lines


def _list_lines(listing: Listing, width: int) -> list[str]:
    if not listing.rows:
        return [f"  {listing.empty}"]
    titles = text_of(headings(listing.columns, width - 2)).rstrip()
    shown = [f"  {titles}"] if listing.heading and titles else []
    return shown + [
        f"  {text_of(compose_row(listing.columns, row.cells, width - 2)).rstrip()}" for row in listing.rows
    ]
