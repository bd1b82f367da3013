"""Asking for today's body mass; one that is far from the last is asked about before it is kept."""

from __future__ import annotations

from collections.abc import Callable

from fieldlog.fieldwork.athletes.body_mass import last_body_mass_kg, mass_question, set_body_mass
from fieldlog.fieldwork.entry import parse_quantity
from fieldlog.records.batch import Batch
from fieldlog.records.visit import Visit
from fieldlog.screens.room import Room
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store

__all__ = ["ask_body_mass"]


def ask_body_mass(
    room: Room, store: Store, visit: Visit, batch: Kept[Batch], athlete_id: str, *, then: Callable[[], None]
) -> None:
    """Ask, keep, and call ``then``. More than 5 % off the last one: typed again, or kept with enter."""
    app = room.fieldlog
    last_kg = last_body_mass_kg(app.workspace, athlete_id, before=visit.date)
    known = f" (last time {last_kg:.1f})" if last_kg else ""

    def take(text: str, asked: str = "") -> None:
        if not text.strip():
            return
        mass_kg = parse_quantity(text, "kg", "body mass")
        doubt = mass_question(mass_kg, last_kg)
        if doubt and text != asked:
            room.ask(f"{doubt}; enter keeps it, or type it again:", lambda again: take(again, text), text)
            return
        kept = set_body_mass(store, batch, athlete_id, mass_kg, by=app.by)
        app.note_saved("body mass", (store, Batch.table, kept.record.id))
        room.refresh_room()
        room.say("saved: body mass", "quiet")
        then()

    room.ask(f"body mass today in kg{known}:", take)
