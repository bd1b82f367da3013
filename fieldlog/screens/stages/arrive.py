"""Stage 1: what is seen to before the rig is used."""

from __future__ import annotations

from typing import ClassVar

from fieldlog.fieldwork.visit.arrival import ArrivalItem, arrival_caution, arrival_items
from fieldlog.fieldwork.visit.arrival_entry import with_answer, with_confirmed
from fieldlog.fieldwork.visit.day import choose_rig, rig_names
from fieldlog.fieldwork.visit.visits import save_arrival
from fieldlog.records.visit import Arrival, Visit
from fieldlog.screens.stages.stage import Stage
from fieldlog.screens.table import Cell, Column, Row, Span, wrapped
from fieldlog.screens.words import number

__all__ = ["ArriveStage"]

RIG = "rig"


class ArriveStage(Stage):
    """The rig, and the points of arrival; enter confirms one or asks for it, and goes on to the next."""

    columns: ClassVar = (Column("", 22), Column("", 22), Column(""))
    word = "confirm"

    def rows(self) -> list[Row]:
        """The rig and each point with its answer."""
        rig = self.day.rig
        named = Span(rig.name) if rig else Span("which one?", "warn")
        rows = [Row(RIG, ("Rig", named, Span("Which rig stands here today.", "quiet")))]
        arrival = self.day.visit.arrival
        return rows + [
            Row(item.field, (item.label, _answer(arrival, item), Span(item.text, "quiet")))
            for item in arrival_items()
        ]

    def hint(self, row_key: str | None) -> list[Cell]:
        """The point in full, and the caution of arriving."""
        item = _item(row_key)
        return [
            f"  {item.text if item else 'Which rig stands here today.'}",
            *wrapped(f"Caution: {arrival_caution()}", self.day.size.width, "warn"),
        ]

    def open(self, row_key: str) -> None:
        """Confirm, or ask."""
        item = _item(row_key)
        if item is None:
            names = rig_names(self.day.workspace)
            first = self.day.rig.name if self.day.rig else names[0] if names else ""
            self.day.ask(f"rig ({', '.join(names) or 'a new one'}):", self._keep_rig, first)
            return
        arrival = self.day.visit.arrival
        if item.kind == "yes_no":
            self._keep(with_confirmed(arrival, row_key), item.label)
            return
        first = _typed(arrival, item) or (f"{self.day.now:%H:%M}" if item.kind == "instant" else "")
        unit = f" {item.unit}" if item.unit else ""
        self.day.ask(f"{item.label}{unit}:", lambda text: self._keep_text(item, text), first)

    def _keep_text(self, item: ArrivalItem, text: str) -> None:
        visit = self.day.visit
        self._keep(with_answer(visit.arrival, item, text, self.day.now, visit.date), item.label)

    def _keep_rig(self, name: str) -> None:
        if not name.strip():
            self.day.say("name the rig as it is written on it")
            return
        day = self.day
        kept = choose_rig(day.workspace, day.store, day.ensure_visit(), name, day.fieldlog.by)
        day.saved(f"rig {name.strip()}", Visit.table, kept.record.id)
        day.step_on()

    def _keep(self, arrival: Arrival, what: str) -> None:
        day = self.day
        kept = save_arrival(day.store, day.ensure_visit(), arrival, day.fieldlog.by)
        day.saved(what, Visit.table, kept.record.id)
        day.step_on()


def _item(field: str | None) -> ArrivalItem | None:
    return next((item for item in arrival_items() if item.field == field), None)


def _answer(arrival: Arrival | None, item: ArrivalItem) -> Span:
    value = getattr(arrival, item.field) if arrival else None
    if value in (None, ""):
        return Span("·", "quiet")
    if item.kind == "yes_no":
        return Span("✓ confirmed", "good") if value else Span("✗ not so", "bad")
    return Span(f"{_typed(arrival, item)} {item.unit}".strip(), "good")


def _typed(arrival: Arrival | None, item: ArrivalItem) -> str:
    value = getattr(arrival, item.field) if arrival else None
    if value is None:
        return ""
    if item.kind == "instant":
        return f"{value:%H:%M}"
    return number(value, 1) if item.kind == "number" else str(value)
