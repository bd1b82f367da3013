"""A planned order as rows and lines: times, changing at the rig, and what could not be kept to."""

from __future__ import annotations

from collections.abc import Mapping

from fieldlog.fieldwork.batch.batch_order import BatchOrder
from fieldlog.fieldwork.batch.batches import entry_of
from fieldlog.records.batch import Batch
from fieldlog.screens.table import Cell, Column, Row, Span, wrapped

__all__ = ["COLUMNS", "done_rows", "order_lines", "order_note", "turn_rows"]

COLUMNS = (
    Column("", 3, "right"),
    Column("starts", 6, "right"),
    Column("ends", 6, "right"),
    Column("athlete", 14),
    Column("sides", 11),
    Column("changing", 9, "right"),
    Column(""),
)


def done_rows(batch: Batch, codes: Mapping[str, str]) -> list[Row]:
    """Return who is through, in order."""
    return [
        Row(
            entry.athlete_id,
            ("", "", "", codes.get(entry.athlete_id, entry.athlete_id), " ".join(entry.sides), "", "✓ done"),
            "quiet",
        )
        for entry in batch.entries
        if entry.status == "done"
    ]


def turn_rows(batch: Batch, order: BatchOrder, codes: Mapping[str, str], *, frozen: int) -> list[Row]:
    """Return the turns to come with their times; the first ``frozen`` stay where they are."""
    done = sum(entry.status == "done" for entry in batch.entries)
    rows = []
    for place, turn in enumerate(order.timetable, start=1):
        entry = entry_of(batch, turn.key)
        sides = " ".join(entry.sides) if entry else ""
        code = codes.get(turn.key, turn.key)
        if "absent" in turn.broken:
            rows.append(Row(turn.key, ("", "–", "–", code, sides, "", Span("absent", "warn"))))
            continue
        notes: list[Span] = [Span("stays", "quiet")] if place <= frozen else []
        if turn.waiting_minutes >= 1.0:
            notes.append(Span(f"{' · ' if notes else ''}rig waits {turn.waiting_minutes:.0f} min", "warn"))
        for reason in turn.broken:
            notes.append(Span(f"{' · ' if notes else ''}✗ {reason}", "bad"))
        cells: tuple[Cell, ...] = (
            Span(str(done + place), "quiet"),
            clock_text(turn.start),
            Span(clock_text(turn.end), "quiet"),
            Span(code, "strong" if place == 1 else ""),
            sides,
            f"{turn.changing_minutes:.0f} min",
            notes,
        )
        rows.append(Row(turn.key, cells))
    return rows


def order_note(order: BatchOrder) -> str:
    """Return when the day ends, and what the order saves."""
    return f"ends {clock_text(order.end)} · {_saved(order)}" if _is_to_come(order) else "nobody is to come"


def order_lines(order: BatchOrder, codes: Mapping[str, str], width: int, *, is_kept: bool) -> list[Cell]:
    """Return what the order is worth against the list, and what it could not keep to."""
    kept = "this is the order of the batch" if is_kept else "not kept yet: enter keeps this order"
    lines: list[Cell] = [Span(f"  {kept}", "good" if is_kept else "accent")]
    if _is_to_come(order):
        listed = f"in the order of the list: ends {clock_text(order.list_end)}"
        broken = f", {order.list_broken} not kept to" if order.list_broken else ""
        best = "proven best" if order.proven_best else "best that was found"
        text = f"{listed}{broken}; changing {order.changing_minutes:.0f} instead of {order.list_changing_minutes:.0f} min ({best})"
        lines += wrapped(text, width, "quiet")
    if order.broken:
        said = "; ".join(_named(each, codes) for each in order.broken)
        lines += wrapped(f"could not be kept: {said}", width, "bad")
    return lines


def _is_to_come(order: BatchOrder) -> bool:
    return any("absent" not in turn.broken for turn in order.timetable)


def clock_text(minutes: float) -> str:
    """Return minutes from midnight as a time of day."""
    whole = int(minutes + 0.5)
    text = f"{whole // 60 % 24:02d}:{whole % 60:02d}"
    return f"{text}+" if whole >= 24 * 60 else text


def _saved(order: BatchOrder) -> str:
    saved = round(order.saved_minutes)
    if saved >= 1:
        return f"saves {saved} min of changing"
    return (
        "saves nothing against the list" if saved == 0 else f"{-saved} min more changing, to keep constraints"
    )


def _named(broken: str, codes: Mapping[str, str]) -> str:
    athlete_id, _, reason = broken.partition(": ")
    return f"{codes.get(athlete_id, athlete_id)}: {reason}"
