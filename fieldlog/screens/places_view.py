"""Places as data: where to and what is left undone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from fieldlog.count_words import counted
from fieldlog.fieldwork.rig_life.due import Due, due_list
from fieldlog.fieldwork.visit.places import Place
from fieldlog.screens.places import DUE_COLUMNS, PLACE_COLUMNS
from fieldlog.screens.table import Pane, Row, Span, View
from fieldlog.screens.words import day_words, moment_words, number
from fieldlog.store.workspace import Workspace

__all__ = ["place_lines", "places_view"]


def places_view(workspace: Workspace, found: Sequence[Place], today: dt.date) -> View:
    """Return the sites as given, and what falls due."""
    due = due_list(workspace, today)
    count = counted(len(found), "site")
    return View(
        "fieldlog",
        f"on this laptop · {day_words(today, dt.date.min)}",
        (
            Pane(
                "Places",
                PLACE_COLUMNS,
                tuple(_place_row(place, today) for place in found),
                note=count,
                empty="no site yet; press a to add one",
            ),
            Pane(
                "Due",
                DUE_COLUMNS,
                tuple(_due_row(entry) for entry in due),
                empty="nothing is due within 30 days",
            ),
        ),
    )


def place_lines(place: Place, today: dt.date) -> list[str]:
    """Return what there is to know of one place."""
    north = f"{abs(place.latitude_deg):.1f}° {'N' if place.latitude_deg >= 0 else 'S'}"
    gravity = number(place.local_gravity_m_s2, 4, "m/s²")
    last, check = "no check yet", place.last_check
    if check is not None:
        last = f"last {check.stage} check {check.verdict}, {moment_words(check.at, today)}"
    return [f"  {north}, {number(place.height_m, 0, 'm')} · local g {gravity} · {last}"]


def _place_row(place: Place, today: dt.date) -> Row:
    if place.athletes_planned > place.athletes_tested:
        athletes = f"{place.athletes_tested} of {place.athletes_planned}"
    else:
        athletes = f"{place.athletes_tested}" if place.last_visit else "–"
    to_finish = Span(place.to_finish, "warn") if place.to_finish else Span("–", "quiet")
    return Row(
        place.folder,
        (place.name, day_words(place.last_visit, today), athletes, place.rig or "–", to_finish),
    )


def _due_row(entry: Due) -> Row:
    role = "bad" if entry.days < 0 else "warn" if entry.days <= 7 else ""
    return Row(entry.what, (entry.what, Span(entry.text, role)))
