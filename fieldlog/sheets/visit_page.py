"""The record of a visit: everything of the day, for the file. Codes only, and nothing about health."""

from __future__ import annotations

from fieldlog.date_words import day_text
from fieldlog.fieldwork.books import at_site, of_team, site_of
from fieldlog.fieldwork.pages.sheet_sources import SheetSubject
from fieldlog.fieldwork.results.results import ResultBook
from fieldlog.fieldwork.results.sets import sets_of
from fieldlog.fieldwork.visit.day import checks_of_visit
from fieldlog.records.batch import Batch
from fieldlog.records.clearance import Clearance
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.review import Review
from fieldlog.records.rig import Rig, RigEvent
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.setup import Setup
from fieldlog.records.stop_entry import StopEntry
from fieldlog.records.visit import Arrival
from fieldlog.sheets.content import Block, Column, Facts, Figure, Row, Sheet, Signatures, Table, Words
from fieldlog.sheets.day_tables import check_summary, check_words, events_table, reviews_table
from fieldlog.sheets.sets_tables import protocol_name, sets_tables
from fieldlog.sheets.setup_table import setups_table
from fieldlog.sheets.wording import clock_text, place_text
from fieldlog.store.workspace import Workspace

__all__ = ["visit_sheet"]

_ARRIVAL = (
    ("levelled", "levelled"),
    ("anchored", "anchored"),
    ("cables", "cables"),
    ("stop_switch_athlete", "athlete's stop switch"),
    ("stop_switch_tester", "tester's stop switch"),
)
_SEEN = {True: "seen to", False: "not in order", None: "not looked at"}


def visit_sheet(workspace: Workspace, subject: SheetSubject) -> Sheet:
    """Return the record of a visit in the order of the day."""
    store, visit = subject.store, subject.visit
    book = ResultBook(workspace)
    site = site_of(store)
    checks = checks_of_visit(store, visit)
    sets = [kept.record for kept in sets_of(store, visit.id)]
    rigs = sorted({check.rig_id for check in checks} | {record.rig_id for record in sets})
    names = [_rig_name(workspace, rig_id) for rig_id in rigs]
    blocks: list[Block] = [
        Facts(
            (
                ("place", place_text(site)),
                ("rig", ", ".join(names) or "none used"),
                ("day", day_text(visit.date)),
                *_arrival_facts(visit.arrival),
                ("note", visit.note or "none"),
            )
        ),
        check_summary("Rig checks", checks),
        events_table(
            event for event in at_site(store, RigEvent).all() if event.record.at.date() == visit.date
        ),
        _turns(book, [kept.record for kept in at_site(store, Batch).find(visit_id=visit.id)]),
        _clearances(book, [kept.record for kept in at_site(store, Clearance).find(visit_id=visit.id)]),
        setups_table(
            workspace, book, [kept.record for kept in at_site(store, Setup).find(visit_id=visit.id)]
        ),
        *sets_tables(book, subject, sets),
    ]
    stops = [kept.record for kept in at_site(store, StopEntry).find(visit_id=visit.id)]
    if stops:
        blocks.append(_stops(book, stops))
    about = {check.id for check in checks} | {record.id for record in sets}
    reviews = [kept.record for kept in at_site(store, Review).all() if kept.record.subject_id in about]
    if reviews:
        blocks.append(reviews_table(reviews, _subjects(book, checks, sets)))
    blocks.append(
        Words(
            ("For the team's file. Screening answers and reasons are kept apart and are not printed.",),
            caution=True,
        )
    )
    blocks.append(Signatures(("kept by: name, date, signature", "seen by the lead: name, date, signature")))
    return Sheet(
        kind="visit",
        title="Record of a visit",
        subject=f"{site.name}, {day_text(visit.date)}",
        blocks=tuple(blocks),
    )


def _subjects(book: ResultBook, checks: list[RigCheck], sets: list[EffortSet]) -> dict[str, str]:
    """What a review can be about, in words."""
    words = {record.id: f"{book.code(record.athlete_id)}, set {record.number}" for record in sets}
    return words | {check.id: check_words(check) for check in checks}


def _rig_name(workspace: Workspace, rig_id: str) -> str:
    kept = of_team(workspace, Rig).get(rig_id)
    if kept is None:
        return "a rig not entered here"
    return f"{kept.record.name} ({kept.record.serial})" if kept.record.serial else kept.record.name


def _arrival_facts(arrival: Arrival | None) -> tuple[tuple[str, str], ...]:
    if arrival is None:
        return (("arrival", "nothing noted"),)
    seen = tuple((words, _SEEN[getattr(arrival, name)]) for name, words in _ARRIVAL)
    hall = "not measured" if arrival.hall_temperature_c is None else f"{arrival.hall_temperature_c:g} °C"
    powered = "not noted" if arrival.powered_on_at is None else clock_text(arrival.powered_on_at)
    return (
        *seen,
        ("first aid", arrival.first_aid or "not noted"),
        ("hall", hall),
        ("powered on at", powered),
    )


def _turns(book: ResultBook, batches: list[Batch]) -> Table:
    columns = (
        Column("turn", "turn", "", "number", 26),
        Column("athlete", "athlete", width_pt=60, share=1),
        Column("protocol", "protocol", width_pt=110, share=1),
        Column("sides", "sides", width_pt=60),
        Column("body_mass_kg", "body mass", "kg", "number", 46),
        Column("status", "status", width_pt=60),
    )
    words = {"waiting": "not tested today", "absent": "absent", "done": "done"}
    rows = [
        Row(
            (
                Figure(number, 0),
                book.code(entry.athlete_id),
                protocol_name(book, batch.protocol_id),
                ", ".join(entry.sides),
                Figure(entry.body_mass_kg, 1),
                words[entry.status],
            )
        )
        for batch in batches
        for number, entry in enumerate(batch.entries, start=1)
    ]
    return Table("Athletes in their order", columns, tuple(rows), empty="no batch was made")


def _clearances(book: ResultBook, clearances: list[Clearance]) -> Table:
    columns = (
        Column("at", "time", width_pt=40),
        Column("athlete", "athlete", width_pt=60, share=1),
        Column("outcome", "clearance", width_pt=90),
        Column("consent", "consent", width_pt=70),
        Column("by", "taken by", width_pt=70, share=1),
        Column("decided_by", "decided by", width_pt=90, share=1),
    )
    words = {"go": "go", "held": "held", "limits": "go with limits"}
    rows = [
        Row(
            (
                clock_text(clearance.at),
                book.code(clearance.athlete_id),
                words[clearance.outcome],
                "in date" if clearance.consent_in_date else "not in date",
                clearance.by,
                clearance.decided_by or "–",
            )
        )
        for clearance in sorted(clearances, key=lambda clearance: (clearance.at, clearance.athlete_id))
    ]
    return Table("Clearances", columns, tuple(rows), empty="none taken")


def _stops(book: ResultBook, stops: list[StopEntry]) -> Table:
    columns = (
        Column("at", "time", width_pt=40),
        Column("athlete", "athlete", width_pt=60, share=1),
        Column("kind", "stopped by", width_pt=80),
        Column("restart", "afterwards", width_pt=120, share=1),
        Column("by", "noted by", width_pt=80, share=1),
    )
    rows = [
        Row((clock_text(stop.at), book.code(stop.athlete_id), stop.kind, _after(stop), stop.by))
        for stop in sorted(stops, key=lambda stop: stop.at)
    ]
    return Table("Stops", columns, tuple(rows))


def _after(stop: StopEntry) -> str:
    if not stop.no_restart:
        return "could go on"
    return f"released by {stop.released_by}" if stop.released_by else "no restart that day"
