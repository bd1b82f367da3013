"""Asking for a squad's season page and making it in a thread."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from fieldlog.errors import FieldlogError

if TYPE_CHECKING:
    from fieldlog.screens.room import Room

__all__ = ["ask_for_season_page"]


def ask_for_season_page(room: Room, squad: str) -> None:
    """Ask for the squad (``squad`` stands there to begin with) and the days, then make the page."""
    room.ask("season page of the squad:", lambda text: _ask_first_day(room, text.strip()), squad)


def _ask_first_day(room: Room, squad: str) -> None:
    room.ask(
        "first day of the season, or empty for a year:", lambda text: _ask_last_day(room, squad, _day(text))
    )


def _ask_last_day(room: Room, squad: str, first: dt.date | None) -> None:
    room.ask(
        "last day, or empty for the squad's latest:", lambda text: _begin(room, squad, first, _day(text))
    )


def _day(text: str) -> dt.date | None:
    from fieldlog.screens.squad_retests import day_of

    return day_of(text) if text.strip() else None


def _begin(room: Room, squad: str, first: dt.date | None, last: dt.date | None) -> None:
    room.say(f"making the season page of {squad} …", "quiet")
    room.run_worker(lambda: _make(room, squad, first, last), thread=True, exclusive=True, group="sheet")


def _make(room: Room, squad: str, first: dt.date | None, last: dt.date | None) -> None:
    from fieldlog.screens.sheets import make_season

    app = room.fieldlog
    try:
        path = make_season(app.workspace, squad, first, last, by=app.by)
    except (FieldlogError, OSError) as error:
        app.call_from_thread(room.say, f"not made: {error}", "bad")
        return
    app.call_from_thread(room.say, f"made: {path}", "good")
