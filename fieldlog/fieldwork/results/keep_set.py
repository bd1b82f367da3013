"""Keeping a recording as a set of the athlete at the rig: asks the gate, keeps, and moves the turn on."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fieldlog.errors import RefusedError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.batch.batches import change_entry, entry_of
from fieldlog.fieldwork.batch.turn import is_through, turn_rows
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.clearance.clearances import recorded_without_clearance
from fieldlog.fieldwork.clearance.start_gate import StartGate, may_start, rig_not_for_use
from fieldlog.fieldwork.entry import checked_note
from fieldlog.fieldwork.recording.weighing import Occasion, occasion_of
from fieldlog.fieldwork.results.imports import Import, JudgedImport
from fieldlog.fieldwork.results.sets import add_set, sets_of
from fieldlog.fieldwork.results.typed_set import is_typed
from fieldlog.fieldwork.setup.setups import setup_of
from fieldlog.records.batch import Batch
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Mode, PlannedSet, Protocol, Side
from fieldlog.records.rig import Rig
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["KeptSet", "Seat", "change_note", "gate_of", "keep_set", "occasion_at", "other_side_of"]


@dataclass(frozen=True)
class Seat:
    """Who is at the rig, under which protocol, on which rig: what every set of the turn shares."""

    workspace: Workspace
    store: Store
    visit: Visit
    batch: Kept[Batch]
    athlete_id: str
    protocol: Protocol
    rig: Rig | None


@dataclass(frozen=True)
class KeptSet:
    """The set on disk, and the records (table and id) an undo takes back, the latest first."""

    kept: Kept[EffortSet]
    changed: tuple[tuple[str, str], ...]


def gate_of(seat: Seat, planned: PlannedSet, side: Side, now: dt.datetime) -> StartGate:
    """Return whether this set may be started now, and all that is missing."""
    return may_start(
        seat.workspace,
        seat.store,
        seat.visit,
        athlete_id=seat.athlete_id,
        protocol=seat.protocol,
        planned=planned,
        side=side,
        now=now,
        rig_id=seat.rig.id if seat.rig else None,
    )


def occasion_at(seat: Seat, side: Side, at: dt.datetime) -> Occasion | None:
    """Return what the weighing of a limb is held against at this seat; nothing where the rig is not known."""
    if seat.rig is None:
        return None
    return occasion_of(
        seat.workspace,
        seat.store,
        seat.visit,
        athlete_id=seat.athlete_id,
        protocol=seat.protocol,
        rig_id=seat.rig.id,
        side=side,
        at=at,
    )


def keep_set(
    seat: Seat, given: Import | JudgedImport, planned: PlannedSet, *, at: dt.datetime, by: str
) -> KeptSet:
    """Keep a recording for a planned set; the turn is done once nothing counted is left of it.

    What was judged already is kept as it was measured, and not analysed again.

    A recording of an athlete without clearance is kept as such and stands on no page. Raises RefusedError
    where the rig is not known or not for use, or where a safeguard was not confirmed.
    """
    if seat.rig is None:
        raise RefusedError(
            "which rig the set was done on is not known", "choose the rig at stage 1 of the day"
        )
    hold = rig_not_for_use(seat.workspace, seat.rig.id, at)
    if hold:
        raise RefusedError(f"not kept: {hold}", "no set counts on it until a check passes")
    side = given.side if isinstance(given, Import) else given.taken.side
    without = recorded_without_clearance(seat.store, seat.visit, seat.athlete_id, at)
    gate = gate_of(seat, planned, side, at)
    if not gate.allowed and not without:
        raise RefusedError(f"not kept: {'; '.join(gate.missing)}", "see to it, then keep the recording")
    plan = catalogue.plan(seat.workspace, seat.protocol.plan_id)
    setup = setup_of(seat.store, seat.visit, seat.athlete_id, plan, side)
    before = {
        kept.record.id: kept.record.standing for kept in sets_of(seat.store, seat.visit.id, seat.athlete_id)
    }
    kept = add_set(
        seat.workspace,
        seat.store,
        given,
        visit_id=seat.visit.id,
        batch_id=seat.batch.record.id,
        athlete_id=seat.athlete_id,
        protocol_id=seat.protocol.id,
        rig_id=seat.rig.id,
        at=at,
        by=by,
        setup_id=setup.record.id if setup else None,
        standing=planned.purpose,
        without_clearance=without,
    )
    sets = sets_of(seat.store, seat.visit.id, seat.athlete_id)
    redone = [
        (EffortSet.table, each.record.id)
        for each in sets
        if before.get(each.record.id, each.record.standing) != each.record.standing
    ]
    changed = [(EffortSet.table, kept.record.id), *redone]
    rows = turn_rows(seat.workspace, seat.store, seat.visit, seat.athlete_id, seat.protocol)
    batch = at_site(seat.store, Batch).get(seat.batch.record.id) or seat.batch
    entry = entry_of(batch.record, seat.athlete_id)
    if entry and entry.status != "done" and is_through(rows):
        change_entry(seat.store, batch, seat.athlete_id, by=by, status="done")
        changed.insert(0, (Batch.table, batch.record.id))
    return KeptSet(kept, tuple(changed))


def other_side_of(seat: Seat, side: Side, speed_deg_s: float, mode: Mode) -> EffortSet | None:
    """The latest counted set of the other side at this visit that was the same effort, as it was recorded."""
    return max(
        (
            kept.record
            for kept in sets_of(seat.store, seat.visit.id, seat.athlete_id)
            if kept.record.side not in (side, "both")
            and side != "both"
            and (kept.record.speed_deg_s, kept.record.mode) == (speed_deg_s, mode)
            and (kept.record.protocol_id, kept.record.standing) == (seat.protocol.id, "counted")
            and not is_typed(kept.record.measures)
        ),
        key=lambda record: record.at,
        default=None,
    )


def change_note(store: Store, kept: Kept[EffortSet], note: str, *, by: str) -> Kept[EffortSet]:
    """Write another note to a set. Raises InputError for one longer than a note may be."""
    changed = kept.record.model_copy(update={"note": checked_note(note)})
    return at_site(store, EffortSet).save(changed, by=by, seen=kept.revision)
