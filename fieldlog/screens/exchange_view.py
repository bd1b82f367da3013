"""The exchange as data: what is not yet shared, depots, conflicts, and what a sync did."""

from __future__ import annotations

from fieldlog.count_words import counted
from fieldlog.exchange.conflicts import OpenConflict
from fieldlog.exchange.laptops import KnownLaptop
from fieldlog.exchange.likeness import Likeness
from fieldlog.exchange.outcome import SyncReport
from fieldlog.exchange.standing import DepotStanding, Standing, StoreStanding
from fieldlog.screens.table import Cell, Column, Row, Span

__all__ = [
    "CONFLICT_COLUMNS",
    "DEPOT_COLUMNS",
    "STORE_COLUMNS",
    "conflict_rows",
    "depot_rows",
    "laptop_rows",
    "report_lines",
    "standing_words",
    "store_rows",
    "to_decide_words",
]

STORE_COLUMNS = (Column("", 28), Column(""))
DEPOT_COLUMNS = (Column(""), Column("", 40))
CONFLICT_COLUMNS = (Column("", 18), Column("", 20), Column(""))


def standing_words(standing: Standing) -> str:
    """Return what is not yet shared, in a few words."""
    waiting = [counted(standing.changes, "change")] if standing.changes else []
    waiting += [counted(standing.files, "file")] if standing.files else []
    return f"{' and '.join(waiting)} not yet shared" if waiting else "everything is shared"


def store_rows(standing: Standing) -> list[Row]:
    """Return a row a store."""
    return [Row(store.store, (_store_name(store), _store_cell(store))) for store in standing.stores]


def depot_rows(standing: Standing) -> list[Row]:
    """Return a row a depot."""
    return [
        Row(depot.address, (depot.address, _depot_cell(depot, standing.changes))) for depot in standing.depots
    ]


def conflict_rows(conflicts: list[OpenConflict], alike: list[Likeness]) -> list[Row]:
    """Return a row a conflict, then a row a pair of athletes that may be one person."""
    rows = []
    for place, conflict in enumerate(conflicts):
        writers = " and ".join(head.by for head in conflict.heads)
        fields = counted(len(conflict.differences), "field")
        hint = "can be combined" if conflict.combinable else "a choice is needed"
        rows.append(
            Row(
                f"conflict/{place}",
                (conflict.site, conflict.conflict.table.replace("_", " "), f"{hint}: {writers}, {fields}"),
            )
        )
    for place, pair in enumerate(alike):
        rows.append(
            Row(
                f"alike/{place}",
                ("perhaps one person", f"{pair.first.code}, {pair.second.code}", ", ".join(pair.reasons)),
            )
        )
    return rows


def laptop_rows(waiting: list[KnownLaptop]) -> list[Row]:
    """Return a row a laptop that the team has not admitted."""
    return [
        Row(f"laptop/{place}", ("laptop waits", laptop.name, f"not admitted, {laptop.fingerprint}"))
        for place, laptop in enumerate(waiting)
    ]


def to_decide_words(conflicts: list[OpenConflict], waiting: list[KnownLaptop]) -> str:
    """Return what waits for a person, in a few words."""
    laptops = f", {counted(len(waiting), 'laptop')} not admitted" if waiting else ""
    return f"{counted(len(conflicts), 'conflict')} open{laptops}"


def report_lines(report: SyncReport) -> list[Cell]:
    """Return what came and went, what is missing, what was set aside, and what is new to decide."""
    body = report.body()
    lines: list[Cell] = [
        f"  {body['depot']}: {counted(body['sent'], 'file')} sent, {body['received']} received"
    ]
    for site, count in body["by_site"].items():
        if count["sent"] or count["received"]:
            lines.append(f"    {site}: {count['sent']} sent, {count['received']} received")
    lines += [Span(f"  missing: {entry['site']}: {entry['text']}", "warn") for entry in body["missing"]]
    lines += [Span(f"  set aside: {entry['site']}: {entry['text']}", "bad") for entry in body["set_aside"]]
    lines += [Span(f"  {note}", "warn") for note in body["notes"]]
    if body["conflicts"]:
        lines.append(Span(f"  {counted(len(body['conflicts']), 'new conflict')}, listed above", "warn"))
    return lines


def _store_name(store: StoreStanding) -> str:
    return "the team's records" if store.store == "team" else store.label


def _store_cell(store: StoreStanding) -> Cell:
    if store.shared:
        return Span("✓ shared", "good")
    parts = [f"{counted(store.changes, 'change')} not synced"] if store.changes else []
    parts += [f"{counted(store.files, 'file')} in no depot"] if store.files else []
    return Span("~ " + ", ".join(parts), "warn")


def _depot_cell(depot: DepotStanding, changes: int) -> Cell:
    parts = []
    if depot.lacks or changes:
        parts.append("has not all of this laptop")
    if depot.awaited:
        parts.append(f"{counted(depot.awaited, 'recording')} nobody has brought")
    if depot.left:
        parts.append(f"{depot.left} left there")
    return Span(", ".join(parts) or "✓ agrees with this laptop", "warn" if depot.lacks or changes else "")
