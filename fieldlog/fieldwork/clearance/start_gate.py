"""May this set be started? The one place that says so; screens and commands ask here and nowhere else.

The gate never says that a test is safe. It says what is still missing.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from fieldlog.date_words import moment_text
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.books import at_site, of_team
from fieldlog.fieldwork.catalogue import SAFEGUARD_WORDS
from fieldlog.fieldwork.clearance.clearance_rules import protocol_objections, set_objections
from fieldlog.fieldwork.clearance.clearances import clearance_today
from fieldlog.fieldwork.clearance.stops import stops_today
from fieldlog.fieldwork.results.cover import not_for_use_since
from fieldlog.fieldwork.rig_checks.checks import checks_of_rig
from fieldlog.fieldwork.rig_life.rigs import events_of
from fieldlog.fieldwork.setup.setups import setup_of
from fieldlog.records.athlete import Athlete
from fieldlog.records.clearance import Clearance
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import PlannedSet, Protocol, Side
from fieldlog.records.setup import Setup
from fieldlog.records.setup_plan import SAFEGUARDS, SetupPlan
from fieldlog.records.stop_entry import StopEntry
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["StartFacts", "StartGate", "judge_start", "may_start", "rig_not_for_use"]


@dataclass(frozen=True)
class StartGate:
    """The answer: allowed, or what is missing in words, the gravest first."""

    allowed: bool
    missing: tuple[str, ...]


@dataclass(frozen=True)
class StartFacts:
    """All the gate looks at. ``disturbed_at`` is the last time the rig was changed since for anyone else."""

    now: dt.datetime
    visit: Visit
    athlete: Athlete | None
    protocol: Protocol
    planned: PlannedSet
    side: Side
    plan: SetupPlan
    setup: Setup | None
    clearance: Clearance | None
    stops: tuple[StopEntry, ...]
    first_visit: bool
    disturbed_at: dt.datetime | None
    rig_hold: str


def judge_start(facts: StartFacts) -> StartGate:
    """Return whether the set may be started with these facts; nothing is looked up."""
    missing = [facts.rig_hold] if facts.rig_hold else []
    missing += _about_clearance(facts)
    if any(stop.holds for stop in facts.stops):
        missing.append("stopped today: no restart without the decision of a named, qualified person")
    if facts.athlete is None:
        missing.append("the athlete's record is not on this laptop: exchange first")
    else:
        missing += protocol_objections(facts.protocol, minor=facts.athlete.minor)
        missing += set_objections(
            facts.planned,
            facts.side,
            minor=facts.athlete.minor,
            first_visit=facts.first_visit,
            clearance=facts.clearance,
        )
    missing += _about_safeguards(facts)
    return StartGate(allowed=not missing, missing=tuple(missing))


def may_start(
    workspace: Workspace,
    store: Store,
    visit: Visit,
    *,
    athlete_id: str,
    protocol: Protocol,
    planned: PlannedSet,
    side: Side,
    now: dt.datetime,
    rig_id: str | None = None,
) -> StartGate:
    """Return whether this set of this athlete may be started now, and if not, all that is missing.

    Needed are: today's clearance with go or limits, range stops confirmed, the range tried passively, the
    stop switch tried and held, the straps confirmed (each again after another athlete, side, unit or plan
    version was on the rig, or after anything happened to it), no stop that holds, a rig that is not marked
    "not for use", and a set that suits the athlete. Raises NotFoundError where the setup plan is unknown.
    """
    rig = rig_id or visit.rig_id
    athlete = of_team(workspace, Athlete).get(athlete_id)
    plan = catalogue.plan(workspace, protocol.plan_id)
    setup = setup_of(store, visit, athlete_id, plan, side)
    return judge_start(
        StartFacts(
            now=now,
            visit=visit,
            athlete=athlete.record if athlete else None,
            protocol=protocol,
            planned=planned,
            side=side,
            plan=plan,
            setup=setup.record if setup else None,
            clearance=clearance_today(store, visit, athlete_id),
            stops=tuple(stops_today(store, visit, athlete_id)),
            first_visit=_is_first_visit(workspace, visit, athlete_id),
            disturbed_at=_last_disturbance(workspace, store, visit, rig, setup.record if setup else None),
            rig_hold=rig_not_for_use(workspace, rig, now) if rig else "",
        )
    )


def rig_not_for_use(workspace: Workspace, rig_id: str, now: dt.datetime) -> str:
    """Return why the rig is not for use now, or nothing: a check failed and none has passed since."""
    failed = not_for_use_since(check for check in checks_of_rig(workspace, rig_id) if check.at <= now)
    if failed is None:
        return ""
    return (
        f"rig not for use: {failed.stage} check of {moment_text(failed.at, now.date())} is {failed.verdict}"
    )


def _about_clearance(facts: StartFacts) -> list[str]:
    clearance = facts.clearance
    if clearance is None:
        return ["no clearance today"]
    if facts.now.date() != clearance.at.date() or clearance.visit_id != facts.visit.id:
        return ["the clearance is of another day"]
    if clearance.outcome != "held":
        return []
    if clearance.needs_decision:
        return ["held: only the decision of a named, qualified person lets the athlete go on"]
    return [f"held: {', '.join(clearance.missing)} missing"]


def _about_safeguards(facts: StartFacts) -> list[str]:
    missing = []
    in_plan = {step.safeguard for step in facts.plan.safeguards}
    missing += [
        f"the plan '{facts.plan.name}' has no step for: {SAFEGUARD_WORDS[safeguard]}"
        for safeguard in SAFEGUARDS
        if safeguard not in in_plan
    ]
    for step in facts.plan.safeguards:
        words = SAFEGUARD_WORDS[step.safeguard] if step.safeguard else step.label
        taken = facts.setup.taken(step.key) if facts.setup else None
        if facts.setup is None or taken is None or not taken.confirmed:
            missing.append(f"not confirmed: {words}")
            continue
        confirmed_at = taken.at or facts.setup.at
        if confirmed_at.date() != facts.visit.date or confirmed_at > facts.now:
            missing.append(f"not confirmed today: {words}")
        elif facts.disturbed_at is not None and confirmed_at <= facts.disturbed_at:
            missing.append(f"confirm again, the rig was changed since: {words}")
    return missing


def _is_first_visit(workspace: Workspace, visit: Visit, athlete_id: str) -> bool:
    sets = _dated(workspace, EffortSet.table, "athlete_id", athlete_id)
    return not any(body.get("visit_id") != visit.id and at.date() < visit.date for at, body in sets)


def _dated(
    workspace: Workspace, table: str, field: str, value: str
) -> Iterator[tuple[dt.datetime, dict[str, Any]]]:
    # The gate is asked at every look at the Bench. It needs a date and a word of each of hundreds of large
    # records, so these are read as they lie, not as whole records.
    for store in workspace.stores():
        for revision in store.equal(table, (field,), value):
            body = revision.body or {}
            try:
                at = dt.datetime.fromisoformat(body["at"])
            except (KeyError, TypeError, ValueError):
                continue
            if at.utcoffset() is not None:
                yield at, body


def _last_disturbance(
    workspace: Workspace, store: Store, visit: Visit, rig_id: str | None, setup: Setup | None
) -> dt.datetime | None:
    own = setup.id if setup else None
    moments = [
        kept.record.at
        for kept in at_site(store, Setup).find(visit_id=visit.id)
        if kept.record.id != own and (rig_id is None or kept.record.rig_id in (None, rig_id))
    ]
    if rig_id is not None:
        moments += [event.at for event in events_of(workspace, rig_id) if event.at.date() == visit.date]
    return max(moments, default=None)
