"""Asking for a squad's season page and making it in a thread."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

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
    from fieldlog.fieldwork.entry import parse_day

    return parse_day(text) if text.strip() else None


def _begin(room: Room, squad: str, first: dt.date | None, last: dt.date | None) -> None:
    from fieldlog.screens.sheets import make_behind, make_season

    app = room.fieldlog
    make_behind(
        room,
        f"the season page of {squad}",
        lambda: make_season(app.workspace, squad, first, last, by=app.by),
        lambda where: f"made: {where}",
    )
