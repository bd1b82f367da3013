"""Setups as they are kept: today's, the one an athlete had last time, and what stands on the rig."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from fieldlog.errors import NotFoundError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.books import at_site, everywhere
from fieldlog.fieldwork.setup.dial_in import DialInLine, dial_in, reading_of
from fieldlog.fieldwork.setup.steps import check_against_last, check_setup, check_step, with_step
from fieldlog.records.protocol import Side
from fieldlog.records.setup import Setup, StepTaken, setup_id
from fieldlog.records.setup_plan import ReadingStep, SetupPlan
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = [
    "dial_in_today",
    "empty_setup",
    "last_reading",
    "last_setup",
    "plan_of",
    "save_setup",
    "save_step",
    "setup_of",
    "setup_on_rig",
    "standing_on_rig",
    "step_fits",
]


def last_setup(
    workspace: Workspace, athlete_id: str, plan_id: str, side: Side, *, before: dt.date
) -> Kept[Setup] | None:
    """The athlete's latest setup with a reading on this plan and side before a day, over all sites."""
    earlier = [
        kept
        for _, kept in everywhere(workspace, Setup, athlete_id=athlete_id, plan_id=plan_id, side=side)
        if kept.record.at.date() < before and any(step.reading is not None for step in kept.record.steps)
    ]
    return max(earlier, key=lambda kept: kept.record.at, default=None)


def setup_of(store: Store, visit: Visit, athlete_id: str, plan: SetupPlan, side: Side) -> Kept[Setup] | None:
    """Today's setup of an athlete and side under the present version of the plan."""
    found = at_site(store, Setup).find(visit_id=visit.id, athlete_id=athlete_id, side=side, plan_id=plan.id)
    current = [kept for kept in found if kept.record.plan_version == plan.version]
    return max(current, key=lambda kept: kept.record.at, default=None)


def setup_on_rig(store: Store, visit: Visit, rig_id: str | None = None) -> Kept[Setup] | None:
    """The setup worked on last at this visit (on one rig, where the visit has two)."""
    return max(_of_visit(store, visit, rig_id), key=lambda kept: kept.record.at, default=None)


def standing_on_rig(store: Store, visit: Visit, rig_id: str | None = None) -> Setup | None:
    """What stands on the rig now: the latest setup, with readings it passed over as they were left before.

    Readings are carried on only as long as plan and version stay the same.
    """
    setups = sorted((kept.record for kept in _of_visit(store, visit, rig_id)), key=lambda setup: setup.at)
    if not setups:
        return None
    latest = setups[-1]
    standing: dict[str, StepTaken] = {}
    for setup in reversed(setups):
        if (setup.plan_id, setup.plan_version) != (latest.plan_id, latest.plan_version):
            break
        for step in setup.steps:
            if step.reading is not None:
                standing.setdefault(step.key, step)
    return latest.model_copy(update={"steps": tuple(standing.values())})


def plan_of(workspace: Workspace | None, setup: Setup | None) -> SetupPlan | None:
    """The plan in the version a setup was taken under, or ``None`` where it is not on this laptop."""
    if setup is None:
        return None
    try:
        return catalogue.plan(workspace, setup.plan_id, setup.plan_version)
    except NotFoundError:
        return None


def dial_in_today(
    workspace: Workspace,
    store: Store,
    visit: Visit,
    *,
    athlete_id: str,
    plan: SetupPlan,
    side: Side,
    rig_id: str | None = None,
    starting: Mapping[str, float] | None = None,
) -> tuple[DialInLine, ...]:
    """The dial-in lines for an athlete and side at this visit, the biggest change first."""
    last = last_setup(workspace, athlete_id, plan.id, side, before=visit.date)
    last_record = last.record if last else None
    now = standing_on_rig(store, visit, rig_id)
    return dial_in(
        plan,
        now,
        last_record,
        now_plan=plan_of(workspace, now),
        last_plan=plan_of(workspace, last_record),
        starting=starting,
    )


def save_step(
    workspace: Workspace,
    store: Store,
    visit: Visit,
    *,
    athlete_id: str,
    plan: SetupPlan,
    side: Side,
    taken: StepTaken,
    by: str,
    at: dt.datetime,
    rig_id: str | None = None,
) -> Kept[Setup]:
    """Keep one accepted step of today's setup at once; it is on disk when this returns.

    Raises InputError where it does not fit the plan, RefusedError where a reading is outside the retest
    tolerance of last time's and no word says why.
    """
    step_fits(workspace, visit, athlete_id=athlete_id, plan=plan, side=side, taken=taken)
    before = setup_of(store, visit, athlete_id, plan, side)
    setup = (
        before.record if before else empty_setup(visit, athlete_id, plan, side, by=by, at=at, rig_id=rig_id)
    )
    changed = with_step(setup, plan, taken, by=by, at=at)
    return at_site(store, Setup).save(changed, by=by, why=taken.why, seen=before.revision if before else None)


def step_fits(
    workspace: Workspace, visit: Visit, *, athlete_id: str, plan: SetupPlan, side: Side, taken: StepTaken
) -> None:
    """Raise InputError where a step does not fit the plan, RefusedError where it is off last time's without a word."""
    check_step(plan, taken)
    step = plan.step(taken.key)
    if isinstance(step, ReadingStep):
        last = last_reading(workspace, visit, athlete_id=athlete_id, plan=plan, side=side, step=step)
        check_against_last(step, taken, last)


def last_reading(
    workspace: Workspace, visit: Visit, *, athlete_id: str, plan: SetupPlan, side: Side, step: ReadingStep
) -> float | None:
    """The reading of last time, ``None`` where there is none or it does not compare with this plan."""
    last = last_setup(workspace, athlete_id, plan.id, side, before=visit.date)
    record = last.record if last else None
    return reading_of(step, record, plan, plan_of(workspace, record))[0]


def empty_setup(
    visit: Visit,
    athlete_id: str,
    plan: SetupPlan,
    side: Side,
    *,
    by: str,
    at: dt.datetime,
    rig_id: str | None = None,
) -> Setup:
    """The one setup of an athlete and side under this version of the plan today, with no step taken."""
    return Setup(
        id=setup_id(visit.id, athlete_id, side, plan.id, plan.version),
        visit_id=visit.id,
        athlete_id=athlete_id,
        rig_id=rig_id or visit.rig_id,
        side=side,
        plan_id=plan.id,
        plan_version=plan.version,
        at=at,
        by=by,
    )


def save_setup(
    workspace: Workspace, store: Store, setup: Setup, *, by: str, seen: Kept[Setup] | None = None
) -> Kept[Setup]:
    """Keep a whole setup at once, checked against its plan in the version it names."""
    check_setup(catalogue.plan(workspace, setup.plan_id, setup.plan_version), setup)
    return at_site(store, Setup).save(setup, by=by, seen=seen.revision if seen else None)


def _of_visit(store: Store, visit: Visit, rig_id: str | None) -> list[Kept[Setup]]:
    found = at_site(store, Setup).find(visit_id=visit.id)
    return [kept for kept in found if rig_id is None or kept.record.rig_id in (None, rig_id)]
