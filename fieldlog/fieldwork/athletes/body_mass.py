"""Body mass on the day: what it was last time, and a question where it cannot be."""

from __future__ import annotations

import datetime as dt

from fieldlog.analysis.units import KG_PER_UNIT
from fieldlog.errors import InputError
from fieldlog.fieldwork.books import at_site, everywhere
from fieldlog.records.batch import Batch
from fieldlog.records.effort_set import EffortSet
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["last_body_mass_kg", "mass_question", "set_body_mass"]

MASS_STEP_PCT = 5.0
"""A body mass further than this from the last one is asked about (common practice)."""


def last_body_mass_kg(workspace: Workspace, athlete_id: str, *, before: dt.date) -> float | None:
    """Return the body mass of the latest earlier set, over all sites."""
    weighed = [
        kept.record
        for _, kept in everywhere(workspace, EffortSet, athlete_id=athlete_id)
        if kept.record.at.date() < before and kept.record.body_mass_kg is not None
    ]
    latest = max(weighed, key=lambda record: record.at, default=None)
    return latest.body_mass_kg if latest else None


def mass_question(mass_kg: float, last_kg: float | None) -> str:
    """Return what to ask where a body mass is more than 5 % off the last one; nothing where it is not."""
    if last_kg is None or abs(mass_kg - last_kg) <= last_kg * MASS_STEP_PCT / 100.0:
        return ""
    change_pct = 100.0 * (mass_kg / last_kg - 1.0)
    said = f"{mass_kg:g} kg is {abs(change_pct):.0f} % {'over' if change_pct > 0 else 'under'} the last {last_kg:g} kg"
    in_kg = mass_kg * KG_PER_UNIT["lb"]
    if abs(in_kg - last_kg) <= last_kg * MASS_STEP_PCT / 100.0:
        return f"{said}: pounds? {mass_kg:g} lb are {in_kg:.1f} kg"
    return f"{said}: pounds? another person?"


def set_body_mass(
    store: Store, batch: Kept[Batch], athlete_id: str, mass_kg: float, *, by: str
) -> Kept[Batch]:
    """Keep today's body mass of an athlete in the batch.

    Raises InputError where the athlete is not in the batch or the mass is none of a person.
    """
    if not 10.0 <= mass_kg <= 400.0:
        raise InputError(f"body mass: {mass_kg:g} kg is not between 10 and 400 kg", "weigh again")
    if all(entry.athlete_id != athlete_id for entry in batch.record.entries):
        raise InputError("body mass: this athlete is not in the batch", "add the athlete to the batch first")
    entries = tuple(
        entry.model_copy(update={"body_mass_kg": mass_kg}) if entry.athlete_id == athlete_id else entry
        for entry in batch.record.entries
    )
    changed = batch.record.model_copy(update={"entries": entries})
    return at_site(store, Batch).save(changed, by=by, seen=batch.revision)
