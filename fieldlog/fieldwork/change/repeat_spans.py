"""Spans the team names: tests repeated without treatment, and treatments that part tests."""

from __future__ import annotations

from fieldlog.fieldwork.books import of_team
from fieldlog.records.base import new_id
from fieldlog.records.repeat_span import RepeatSpan
from fieldlog.store.repo import Kept
from fieldlog.store.workspace import Workspace

__all__ = ["name_span", "repeat_spans", "take_away_span"]


def repeat_spans(workspace: Workspace) -> list[Kept[RepeatSpan]]:
    """Every span, by its first day."""
    kept = of_team(workspace, RepeatSpan).all()
    return sorted(kept, key=lambda each: (each.record.first_day, each.record.id))


def name_span(workspace: Workspace, *, by: str, **fields: object) -> Kept[RepeatSpan]:
    """Keep a span of a squad, an athlete or everybody. Raises InputError naming the field that is wrong."""
    return of_team(workspace, RepeatSpan).save(RepeatSpan.from_body({"id": new_id(), **fields}), by=by)


def take_away_span(workspace: Workspace, kept: Kept[RepeatSpan], *, by: str) -> None:
    """Take a span away; what it was stays on record."""
    of_team(workspace, RepeatSpan).delete(kept.record.id, by=by, seen=kept.revision)
