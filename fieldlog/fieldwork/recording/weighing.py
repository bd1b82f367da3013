"""Weighing a limb for a set: whose sweep may be used, and what speaks against what it found.

An evenly tensed limb passes every check inside one sweep. What tells is the last visit, the other side,
and what a body of that size weighs by the handbook.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from fieldlog.date_words import day_text
from fieldlog.errors import NotFoundError, RefusedError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.books import at_site, everywhere, of_team
from fieldlog.fieldwork.recording.body_segments import handbook_range_nm
from fieldlog.fieldwork.setup.dial_in import outside_tolerance, reading_text
from fieldlog.fieldwork.setup.setups import plan_of, setup_of
from fieldlog.records.athlete import Athlete
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Protocol, Side
from fieldlog.records.setup import Setup
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

if TYPE_CHECKING:
    from fieldlog.analysis.limb import WeightTorque
    from fieldlog.analysis.quality import Remark

__all__ = ["Occasion", "occasion_of", "refuse_borrowed_sweep", "weighing_entries", "with_entries"]

_LEVER = "lever_length"
# Which way of taking the weight out an entry speaks of.
_FITS = {"not_relaxed": ("sweep",), "trunk_weighed": ("sweep", "given")}


@dataclass(frozen=True)
class Occasion:
    """Who is at the rig when a limb is weighed, and how they are set up."""

    workspace: Workspace
    store: Store
    visit_id: str
    athlete_id: str
    protocol_id: str
    rig_id: str
    side: Side
    at: dt.datetime
    setup: Setup | None = None

    @property
    def readings(self) -> dict[str, float]:
        """Readings of lever and pads, which the weight on the lever depends on."""
        return _lever_and_pads(self.setup)


def occasion_of(
    workspace: Workspace,
    store: Store,
    visit: Visit,
    *,
    athlete_id: str,
    protocol: Protocol,
    rig_id: str,
    side: Side,
    at: dt.datetime,
) -> Occasion:
    """Return the occasion with today's setup of this athlete and side."""
    plan = catalogue.plan(workspace, protocol.plan_id)
    setup = setup_of(store, visit, athlete_id, plan, side)
    return Occasion(
        workspace,
        store,
        visit.id,
        athlete_id,
        protocol.id,
        rig_id,
        side,
        at,
        setup.record if setup else None,
    )


def refuse_borrowed_sweep(occasion: Occasion, sweep: bytes) -> None:
    """Raise RefusedError where this sweep weighed another athlete, day, rig, side, lever length or pad position.

    Known is what was kept: a sweep that no set has used yet is taken as today's. Refused too is the
    recording of a set.
    """
    digest = hashlib.sha256(sweep).hexdigest()
    for _, kept in everywhere(occasion.workspace, EffortSet, trace=digest):
        raise RefusedError(
            f"this sweep is the recording of set {kept.record.number} of {_code(occasion, kept.record)}",
            "choose the recording of the relaxed limb",
        )
    for store, kept in everywhere(occasion.workspace, EffortSet, sweep_trace=digest):
        record = kept.record
        differs = next(_differences(occasion, store, record), "")
        if differs:
            raise RefusedError(
                f"this sweep weighed {_code(occasion, record)}, {record.side}, on {day_text(record.at.date())} "
                f"(set {record.number}): {differs}",
                "weigh the limb anew as it lies on the rig now",
            )


def weighing_entries(
    occasion: Occasion, measures: Mapping[str, Any], body_mass_kg: float | None
) -> list[dict[str, Any]]:
    """Return the quality entries that only a comparison gives: `not_relaxed`, and how the trunk is treated.

    ``measures`` are those of the set about to be kept. A weighing that was itself not relaxed is no yardstick.
    The trunk has its words for both ways; ``with_entries`` shows the one that fits the measures.
    """
    region = _region(occasion)
    remarks: list[Remark] = []
    if measures["recipe"]["gravity"] == "sweep":
        remarks.extend(_against(_weight_of(measures), occasion, region, body_mass_kg))
    if region == "trunk":
        remarks.extend(_trunk_remarks())
    return [asdict(remark) for remark in remarks]


def with_entries(measures: dict[str, Any], entries: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Return measures with these quality entries in front, as far as they fit how the weight was taken out.

    An entry on a missing correction replaces the general words, and only those.
    """
    gravity = measures["recipe"]["gravity"]
    quality = list(measures["quality"])
    ahead = []
    for entry in entries:
        if entry["code"] == "gravity_missing":
            quality = [
                {**old, "text": entry["text"]} if old["code"] == "gravity_missing" else old for old in quality
            ]
        elif gravity in _FITS.get(entry["code"], ()):
            ahead.append(dict(entry))
    return {**measures, "quality": ahead + quality}


def _differences(occasion: Occasion, store: Store, record: EffortSet) -> Iterator[str]:
    if record.athlete_id != occasion.athlete_id:
        yield "another athlete"
    if record.visit_id != occasion.visit_id:
        yield "another day"
    if record.side != occasion.side:
        yield "another side"
    if record.rig_id != occasion.rig_id:
        yield "another rig"
    plan = plan_of(occasion.workspace, occasion.setup)
    setup = at_site(store, Setup).get(record.setup_id) if record.setup_id else None
    # A setup can be changed after its set; what stood when the limb was weighed is kept with the set.
    then = record.options.get("weighed_at") or _lever_and_pads(setup.record if setup else None)
    for step in plan.readings if plan else ():
        now, before = occasion.readings.get(step.key), then.get(step.key)
        if now is not None and before is not None and outside_tolerance(step, before, now):
            yield (
                f"{step.label.lower()} was {reading_text(step, before)} and is {reading_text(step, now)} now"
            )


def _code(occasion: Occasion, record: EffortSet) -> str:
    athlete = of_team(occasion.workspace, Athlete).get(record.athlete_id)
    return athlete.record.code if athlete else record.athlete_id


def _lever_and_pads(setup: Setup | None) -> dict[str, float]:
    return {
        step.key: step.reading
        for step in (setup.steps if setup else ())
        if step.reading is not None and (step.key == _LEVER or "pad" in step.key.split("_"))
    }


def _against(
    now: WeightTorque, occasion: Occasion, region: str | None, body_mass_kg: float | None
) -> Iterator[Remark]:
    from fieldlog.analysis.limb_plausibility import weight_remarks

    last, other = _last_visit(occasion), _other_side(occasion)
    for last_visit, other_side in ((last, None), (None, other)):
        try:
            yield from weight_remarks(now, last_visit=last_visit, other_side=other_side)
        except ValueError:  # weighed at other angles: there is nothing to compare
            continue
    lever_cm = occasion.readings.get(_LEVER)
    if region and body_mass_kg and lever_cm:
        known = handbook_range_nm(region, body_mass_kg, lever_cm)
        if known is not None:
            # Held against the length that speaks best for the weighing, so that silence and alarm both hold.
            nearest = min(max(now.amplitude_nm, known[0]), known[1])
            yield from weight_remarks(now, handbook_nm=nearest)


def _last_visit(occasion: Occasion) -> WeightTorque | None:
    earlier = [
        kept.record
        for _, kept in everywhere(
            occasion.workspace, EffortSet, athlete_id=occasion.athlete_id, side=occasion.side
        )
        if kept.record.visit_id != occasion.visit_id and kept.record.at < occasion.at
    ]
    return _latest_weight(occasion, earlier)


def _other_side(occasion: Occasion) -> WeightTorque | None:
    if occasion.side == "both":
        return None
    other = "left" if occasion.side == "right" else "right"
    sets = at_site(occasion.store, EffortSet).find(
        visit_id=occasion.visit_id, athlete_id=occasion.athlete_id, side=other
    )
    return _latest_weight(occasion, [kept.record for kept in sets])


def _latest_weight(occasion: Occasion, records: list[EffortSet]) -> WeightTorque | None:
    plan_id = _plan_id(occasion.workspace, occasion.protocol_id)
    sound = [
        record
        for record in records
        if record.measures["recipe"]["gravity"] == "sweep"
        and not any(
            entry["code"] == "not_relaxed" and entry["level"] == "stop"
            for entry in record.measures["quality"]
        )
        and _plan_id(occasion.workspace, record.protocol_id) == plan_id
    ]
    latest = max(sound, key=lambda record: record.at, default=None)
    return _weight_of(latest.measures) if latest else None


def _plan_id(workspace: Workspace, protocol_id: str) -> str | None:
    try:
        return catalogue.protocol(workspace, protocol_id).plan_id
    except NotFoundError:
        return None


def _region(occasion: Occasion) -> str | None:
    try:
        return catalogue.protocol(occasion.workspace, occasion.protocol_id).region
    except NotFoundError:
        return None


def _weight_of(measures: Mapping[str, Any]) -> WeightTorque:
    from fieldlog.analysis.limb import WeightTorque

    return WeightTorque(**measures["weight_torque"])


def _trunk_remarks() -> tuple[Remark, Remark]:
    from fieldlog.analysis.quality import remark

    return (
        remark("trunk_weighed"),
        remark(
            "gravity_missing",
            seen="the weight of the trunk is not corrected, by default, as no way of weighing it is known to hold",
            advice="compare only with visits without correction",
        ),
    )
