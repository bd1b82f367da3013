"""Stage 3: protocol and athletes of the visit, and whose turn it is."""

from __future__ import annotations

from typing import ClassVar

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.batch.batch_turns import no_show
from fieldlog.fieldwork.batch.batches import batches_of, change_entry, entry_of, next_waiting
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.clearance.clearances import clearance_today
from fieldlog.fieldwork.results.sets import sets_of
from fieldlog.records.athlete import Athlete
from fieldlog.records.batch import Batch, BatchEntry
from fieldlog.records.protocol import Protocol
from fieldlog.screens.stages.stage import Stage
from fieldlog.screens.stop_entry import holding_stops
from fieldlog.screens.table import Cell, Column, Row, Span, wrapped
from fieldlog.screens.words import verdict_span
from fieldlog.store.repo import Kept

__all__ = ["TestStage"]

CHOOSE = "choose"


class TestStage(Stage):
    """The athletes in order, each with clearance and sets; enter goes to the bench with one."""

    columns: ClassVar = (
        Column("athlete", 12),
        Column("protocol"),
        Column("side", 11),
        Column("clearance", 9),
        Column("sets", 8, "right"),
        Column("turn", 8),
    )
    word = "to the bench"

    def rows(self) -> list[Row]:
        """Athletes of all batches; without a batch one row that leads to choosing."""
        batches = batches_of(self.day.store, self.day.visit)
        if not batches:
            return [
                Row(CHOOSE, (Span("choose", "accent"), Span("protocol, athletes", "accent"), "", "", "", ""))
            ]
        athletes = {kept.record.id: kept.record for kept in of_team(self.day.workspace, Athlete).all()}
        return [
            self._row(kept.record, entry, athletes.get(entry.athlete_id))
            for kept in batches
            for entry in kept.record.entries
        ]

    def _row(self, batch: Batch, entry: BatchEntry, athlete: Athlete | None) -> Row:
        protocol = self._protocol(batch)
        clearance = clearance_today(self.day.store, self.day.visit, entry.athlete_id)
        done = [kept.record for kept in sets_of(self.day.store, self.day.visit.id, entry.athlete_id)]
        counted = sum(record.standing == "counted" and record.batch_id == batch.id for record in done)
        planned = sum(planned.purpose == "counted" for planned in protocol.sets) * len(entry.sides)
        return Row(
            f"{batch.id} {entry.athlete_id}",
            (
                athlete.code if athlete else entry.athlete_id,
                protocol.name,
                ", ".join(entry.sides),
                Span("✗ stopped", "bad")
                if holding_stops(self.day.store, self.day.visit, entry.athlete_id)
                else verdict_span(clearance.outcome)
                if clearance
                else Span("not yet", "quiet"),
                f"{counted} of {planned}",
                verdict_span(entry.status) if entry.status == "done" else Span(entry.status, "quiet"),
            ),
        )

    def _protocol(self, batch: Batch) -> Protocol:
        return catalogue.protocol(self.day.workspace, batch.protocol_id)

    def note(self) -> str:
        """The protocol of the day, or how many there are."""
        names = {self._protocol(kept.record).name for kept in batches_of(self.day.store, self.day.visit)}
        return next(iter(names)) if len(names) == 1 else f"{len(names)} protocols" if names else ""

    def hint(self, row_key: str | None) -> list[Cell]:
        """The protocol's caution and what holds the stage up."""
        lines: list[Cell] = []
        batch = self._batch_of(row_key)
        if batch is not None:
            protocol = self._protocol(batch.record)
            caution = protocol.caution
            if len(batches_of(self.day.store, self.day.visit)) > 1:
                lines.append(Span(f"  {protocol.name}", "quiet"))
            lines += wrapped(f"Caution: {caution}", self.day.size.width, "warn") if caution else []
            lines.append(
                Span("  B timetable   K the athlete today   j decision after a hold or a stop", "quiet")
            )
        state = self.day.stage_states[2]
        if state.waits_for:
            lines.insert(0, Span(f"  waits for {state.waits_for}", "warn"))
        return lines

    def _batch_of(self, row_key: str | None) -> Kept[Batch] | None:
        identity = (row_key or "").partition(" ")[0]
        batches = batches_of(self.day.store, self.day.visit)
        return next((kept for kept in batches if kept.record.id == identity), None)

    def athlete_of(self, row_key: str) -> str | None:
        """The athlete of a row, ``None`` for the row that leads to choosing."""
        return row_key.partition(" ")[2] or None

    def batch_id_of(self, row_key: str | None) -> str | None:
        """The batch of a row, else the first of the day, ``None`` where there is none."""
        batches = batches_of(self.day.store, self.day.visit)
        batch = self._batch_of(row_key) or (batches[0] if batches else None)
        return batch.record.id if batch else None

    def open(self, row_key: str) -> None:
        """To the bench, or first to choosing."""
        from fieldlog.screens.batch_entry import BatchRoom
        from fieldlog.screens.bench import BenchRoom

        day, athlete_id = self.day, self.athlete_of(row_key)
        batch = self._batch_of(row_key)
        if batch is None or athlete_id is None:
            day.app.push_screen(BatchRoom(day.store, day.ensure_visit().record, site_name=day.site.name))
            return
        day.app.push_screen(
            BenchRoom(day.store, day.visit, batch.record.id, athlete_id, site_name=day.site.name)
        )

    def next_row(self) -> str | None:
        """The row of who is next: the first who waits."""
        for kept in batches_of(self.day.store, self.day.visit):
            entry = next_waiting(kept.record)
            if entry is not None:
                return f"{kept.record.id} {entry.athlete_id}"
        return None

    def toggle_absent(self, row_key: str) -> None:
        """Mark an athlete as absent, which moves the turn to the tail, or as waiting again."""
        batch, athlete_id = self._batch_of(row_key), self.athlete_of(row_key)
        entry = entry_of(batch.record, athlete_id) if batch and athlete_id else None
        if batch is None or entry is None:
            return
        day = self.day
        if entry.status == "absent":
            kept = change_entry(day.store, batch, entry.athlete_id, by=day.fieldlog.by, status="waiting")
            day.saved("waits again", Batch.table, kept.record.id)
        else:
            kept = no_show(day.store, batch, entry.athlete_id, by=day.fieldlog.by)
            day.saved("absent, at the tail; B plans anew", Batch.table, kept.record.id)
