"""Sets: taking in a recording for one athlete and side, and deciding what of it counts."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from fieldlog.errors import RefusedError
from fieldlog.fieldwork.books import at_site, everywhere, of_team
from fieldlog.fieldwork.recording.weighing import Occasion, refuse_borrowed_sweep, with_entries
from fieldlog.fieldwork.results.imports import Import, JudgedImport, analyse_import
from fieldlog.fieldwork.results.typed_set import TYPED, is_typed
from fieldlog.records.athlete import Athlete
from fieldlog.records.base import new_id
from fieldlog.records.column_map import ColumnMap
from fieldlog.records.effort_set import EffortSet, LeaveOut, Standing
from fieldlog.records.recipe import TraceOptions
from fieldlog.records.setup import Setup
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = [
    "add_set",
    "change_standing",
    "holder_of",
    "leave_out",
    "reanalyse",
    "recipe_of",
    "reload_recording",
    "sets_of",
]


def add_set(
    workspace: Workspace,
    store: Store,
    given: Import | JudgedImport,
    *,
    visit_id: str,
    batch_id: str,
    athlete_id: str,
    protocol_id: str,
    rig_id: str,
    at: dt.datetime,
    by: str,
    setup_id: str | None = None,
    standing: Standing = "counted",
    without_clearance: bool = False,
) -> Kept[EffortSet]:
    """Keep a recording as a set of this athlete; one that was not judged yet is analysed first.

    The counted set it replaces (same visit, athlete, side, speed and mode) becomes "redone" first.
    Raises RefusedError where the same recording is already somebody's, naming where, and where the sweep
    weighed another athlete, day, side, rig, lever length or pad position.
    """
    import_ = given if isinstance(given, Import) else given.taken
    _refuse_second_use(workspace, hashlib.sha256(import_.data).hexdigest())
    setup = at_site(store, Setup).get(setup_id) if setup_id else None
    occasion = Occasion(
        workspace,
        store,
        visit_id,
        athlete_id,
        protocol_id,
        rig_id,
        import_.side,
        at,
        setup.record if setup else None,
    )
    if isinstance(given, Import):
        judged = analyse_import(given, occasion=occasion)
    else:
        # While the set was looked at, another laptop's sets or another setup may have come in.
        if import_.sweep is not None:
            refuse_borrowed_sweep(occasion, import_.sweep)
        judged = given.weighed_at(occasion)
    repo = at_site(store, EffortSet)
    earlier = repo.find(visit_id=visit_id, athlete_id=athlete_id)
    # The recording is on disk before the record that names it.
    digest = store.traces.put(import_.data)
    sweep_digest = store.traces.put(import_.sweep) if import_.sweep is not None else None
    if standing == "counted":
        for kept in earlier:
            if kept.record.standing == "counted" and _same_effort(kept.record, import_):
                change_standing(store, kept, "redone", by=by, why=f"redone as {import_.name}")
    return repo.save(
        EffortSet(
            id=new_id(),
            visit_id=visit_id,
            batch_id=batch_id,
            athlete_id=athlete_id,
            protocol_id=protocol_id,
            rig_id=rig_id,
            setup_id=setup_id,
            number=1 + max((kept.record.number for kept in earlier), default=0),
            side=import_.side,
            mode=import_.mode,
            speed_deg_s=import_.speed_deg_s,
            at=at,
            by=by,
            body_mass_kg=import_.body_mass_kg,
            trace=digest,
            trace_name=import_.name[:200],
            sweep_trace=sweep_digest,
            column_map=import_.column_map.model_dump(mode="json") if import_.column_map else None,
            options={
                **_kept_options(import_),
                "weighing": judged.weighing,
                "weighed_at": occasion.readings if import_.sweep is not None else {},
            },
            measures=judged.measures,
            standing=standing,
            without_clearance=without_clearance,
        ),
        by=by,
    )


def holder_of(workspace: Workspace, data: bytes) -> str:
    """Return which set a recording already is, in words, or an empty text."""
    return _holder(workspace, hashlib.sha256(data).hexdigest())


def sets_of(store: Store, visit_id: str, athlete_id: str | None = None) -> list[Kept[EffortSet]]:
    """The sets of a visit, or of one athlete there, in the order they were done."""
    equals = {"visit_id": visit_id} | ({"athlete_id": athlete_id} if athlete_id else {})
    return sorted(
        at_site(store, EffortSet).find(**equals), key=lambda kept: (kept.record.at, kept.record.number)
    )


def reload_recording(store: Store, kept: EffortSet) -> Import:
    """The recording of a kept set as it came in, with what it was analysed with."""
    return Import(
        name=kept.trace_name,
        data=store.traces.get(kept.trace),
        side=kept.side,
        mode=kept.mode,
        speed_deg_s=kept.speed_deg_s,
        body_mass_kg=kept.body_mass_kg,
        sweep=store.traces.get(kept.sweep_trace) if kept.sweep_trace else None,
        column_map=ColumnMap.model_validate(kept.column_map) if kept.column_map else None,
        angles_deg=tuple(kept.options.get("at_deg", ())),
        typed=kept.options.get(TYPED),
        recipe=recipe_of(kept),
    )


def recipe_of(kept: EffortSet) -> TraceOptions:
    """The options a kept set was analysed with."""
    return TraceOptions.model_validate(
        {name: value for name, value in kept.options.items() if name in TraceOptions.model_fields}
    )


def leave_out(
    store: Store, kept: Kept[EffortSet], left_out: Sequence[LeaveOut], *, by: str, why: str = ""
) -> Kept[EffortSet]:
    """Leave repetitions out (they stay listed) and do the measures again."""
    record = kept.record
    measures = _measures_again(record, reload_recording(store, record), left_out)
    changed = record.model_copy(update={"left_out": tuple(left_out), "measures": measures})
    reasons = ", ".join(f"{entry.index} {entry.reason}" for entry in left_out) or "none"
    return at_site(store, EffortSet).save(
        changed, by=by, why=why or f"left out: {reasons}", seen=kept.revision
    )


def reanalyse(
    store: Store, kept: Kept[EffortSet], options: TraceOptions, *, by: str, why: str
) -> Kept[EffortSet]:
    """Measure a kept recording with another recipe; the result before stays in the set's history, with who and why.

    Speed, mode, body mass and what was left out are the set's own: ``options`` may name them only as they
    are. Raises RefusedError for another one, and where no reason is given.
    """
    record = kept.record
    if is_typed(record.measures):
        raise RefusedError(f"set {record.number} was typed", "there is no recording to measure again")
    if not why.strip():
        raise RefusedError("a recording is not analysed again without a reason", "say why; it is kept")
    own = {
        "speed_deg_s": record.speed_deg_s or None,
        "mode": record.mode,
        "body_mass_kg": record.body_mass_kg,
        "leave_out": tuple(entry.index for entry in record.left_out),
    }
    for name, value in own.items():
        asked = getattr(options, name)
        if asked not in (None, (), value):
            raise RefusedError(
                f"set {record.number}: {name} is {value} and not {asked}",
                "change the set itself; another recipe changes filter, band, angles and weight only",
            )
    again = replace(reload_recording(store, record), angles_deg=options.at_deg, recipe=options)
    changed = record.model_copy(
        update={
            "options": {**record.options, **_kept_options(again)},
            "measures": _measures_again(record, again, record.left_out),
        }
    )
    return at_site(store, EffortSet).save(changed, by=by, why=why, seen=kept.revision)


def change_standing(
    store: Store, kept: Kept[EffortSet], standing: Standing, *, by: str, why: str
) -> Kept[EffortSet]:
    """Say anew whether a set counts."""
    changed = kept.record.model_copy(update={"standing": standing})
    return at_site(store, EffortSet).save(changed, by=by, why=why, seen=kept.revision)


def _kept_options(import_: Import) -> dict[str, Any]:
    """What is needed to compute the measures again, beside the recordings and what was left out."""
    options = import_.options().model_dump(mode="json", exclude={"leave_out"})
    return options if import_.typed is None else {**options, TYPED: dict(import_.typed)}


def _measures_again(record: EffortSet, import_: Import, left_out: Sequence[LeaveOut]) -> dict[str, Any]:
    judged = analyse_import(import_, [entry.index for entry in left_out])
    return with_entries(judged.measures, record.options.get("weighing", ()))


def _same_effort(record: EffortSet, import_: Import) -> bool:
    return (record.side, record.mode, record.speed_deg_s) == (import_.side, import_.mode, import_.speed_deg_s)


def _refuse_second_use(workspace: Workspace, digest: str) -> None:
    holder = _holder(workspace, digest)
    if holder:
        raise RefusedError(
            f"this recording is already {holder}",
            "choose the file of this athlete and side, or undo that set first",
        )


def _holder(workspace: Workspace, digest: str) -> str:
    for store, kept in everywhere(workspace, EffortSet, trace=digest):
        athlete = of_team(workspace, Athlete).get(kept.record.athlete_id)
        code = athlete.record.code if athlete else kept.record.athlete_id
        return (
            f"set {kept.record.number} of {code}, {kept.record.side}, "
            f"{kept.record.at:%d %b %Y} in {store.name}"
        )
    return ""
