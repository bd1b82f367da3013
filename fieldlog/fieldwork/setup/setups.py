"""Setups: walking down a plan step by step, and finding the setup an athlete had last time.

Every accepted step is on disk before the next is shown, so a laptop that dies loses none.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from fieldlog.errors import InputError, NotFoundError, RefusedError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.books import at_site, everywhere
from fieldlog.fieldwork.setup.dial_in import (
    DialInLine,
    check_reading,
    dial_in,
    outside_tolerance,
    reading_of,
    reading_text,
)
from fieldlog.records.protocol import Side
from fieldlog.records.setup import Setup, StepTaken, setup_id
from fieldlog.records.setup_plan import ChoiceStep, ConfirmStep, PlanStep, ReadingStep, SetupPlan
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = [
    "accepted",
    "check_setup",
    "check_step",
    "dial_in_today",
    "fail_step",
    "last_setup",
    "next_step",
    "plan_of",
    "save_setup",
    "save_step",
    "setup_of",
    "setup_on_rig",
    "standing_on_rig",
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


def next_step(plan: SetupPlan, setup: Setup | None) -> PlanStep | None:
    """The first step that is neither taken nor passed over, or ``None`` when the walk is done."""
    taken = {step.key for step in setup.steps} if setup else set()
    return next((step for step in plan.steps if step.key not in taken), None)


def accepted(step: PlanStep, target: float | None, last: StepTaken | None = None) -> StepTaken:
    """The step accepted as shown: confirmed, read at its target, or chosen as last time.

    Raises InputError where there is nothing shown that could be accepted.
    """
    if isinstance(step, ConfirmStep):
        return StepTaken(key=step.key, confirmed=True)
    if isinstance(step, ChoiceStep):
        choice = last.choice if last and last.choice in step.options else None
        if choice is None:
            raise InputError(
                f"{step.label}: nothing was chosen last time", f"choose {' or '.join(step.options)}"
            )
        return StepTaken(key=step.key, choice=choice)
    if target is None:
        raise InputError(f"{step.label}: there is no reading to accept", "type what the scale shows")
    return StepTaken(key=step.key, reading=target)


def check_step(plan: SetupPlan, taken: StepTaken) -> StepTaken:
    """Return ``taken`` where it fits its step of the plan.

    Raises InputError naming the step where it is not in the plan, off its scale, not among the choices,
    or passed over though it is not optional.
    """
    step = plan.step(taken.key)
    if step is None:
        raise InputError(f"setup plan {plan.id} version {plan.version} has no step {taken.key!r}")
    given = {
        "confirm": taken.confirmed,
        "reading": taken.reading is not None,
        "choice": taken.choice is not None,
    }
    wrong = [kind for kind, is_given in given.items() if is_given and kind != step.kind]
    if wrong:
        raise InputError(f"{step.label}: a {wrong[0]} was given for a {step.kind} step")
    if not given[step.kind]:
        if step.optional:
            return taken
        raise InputError(f"{step.label}: this step cannot be passed over", _what_to_do(step))
    if isinstance(step, ReadingStep) and taken.reading is not None:
        check_reading(step, taken.reading)
    if isinstance(step, ChoiceStep) and taken.choice not in step.options:
        raise InputError(f"{step.label}: {taken.choice!r} is no choice here", _what_to_do(step))
    return taken


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
    """Keep one accepted step of today's setup; it is on disk when this returns.

    Raises InputError where it does not fit the plan, RefusedError where a reading is outside the retest
    tolerance of last time's and no word says why.
    """
    check_step(plan, taken)
    step = plan.step(taken.key)
    if isinstance(step, ReadingStep) and taken.reading is not None and not taken.why.strip():
        last = last_setup(workspace, athlete_id, plan.id, side, before=visit.date)
        last_record = last.record if last else None
        reading, _ = reading_of(step, last_record, plan, plan_of(workspace, last_record))
        if reading is not None and outside_tolerance(step, reading, taken.reading):
            raise RefusedError(
                f"{step.label}: {reading_text(step, taken.reading)} is more than "
                f"{reading_text(step, step.retest_tolerance)} from last time's {reading_text(step, reading)}",
                "dial it in as last time, or say in a word why",
            )
    timed = taken.model_copy(update={"at": at})
    before = setup_of(store, visit, athlete_id, plan, side)
    if before is None:
        setup = Setup(
            id=setup_id(visit.id, athlete_id, side, plan.id, plan.version),
            visit_id=visit.id,
            athlete_id=athlete_id,
            rig_id=rig_id or visit.rig_id,
            side=side,
            plan_id=plan.id,
            plan_version=plan.version,
            at=at,
            by=by,
            steps=(timed,),
        )
        return at_site(store, Setup).save(setup, by=by)
    steps = {step.key: step for step in before.record.steps} | {timed.key: timed}
    return at_site(store, Setup).save(
        before.record.model_copy(update={"steps": _in_order(plan, steps), "at": at, "by": by}),
        by=by,
        why=taken.why,
        seen=before.revision,
    )


def fail_step(
    store: Store, kept: Kept[Setup], plan: SetupPlan, key: str, *, by: str, at: dt.datetime
) -> tuple[Kept[Setup], str]:
    """Go back from a step that does not come right; return the setup and the key to go on from.

    Everything from the step it goes back to is open again, except steps that were passed over.
    Raises InputError where the plan has no such step.
    """
    step = plan.step(key)
    if step is None:
        raise InputError(f"setup plan {plan.id} version {plan.version} has no step {key!r}")
    target = step.back_to or step.key
    keys = [each.key for each in plan.steps]
    reopened = set(keys[keys.index(target) : keys.index(key) + 1])
    steps = {each.key: each for each in kept.record.steps if each.key not in reopened}
    saved = at_site(store, Setup).save(
        kept.record.model_copy(update={"steps": _in_order(plan, steps), "at": at, "by": by}),
        by=by,
        why=f"{step.label} did not come right",
        seen=kept.revision,
    )
    return saved, target


def check_setup(plan: SetupPlan, setup: Setup) -> Setup:
    """Return ``setup`` where every step fits the plan; InputError names the first that does not."""
    if (setup.plan_id, setup.plan_version) != (plan.id, plan.version):
        raise InputError(
            f"the setup belongs to plan {setup.plan_id} version {setup.plan_version}, "
            f"not to {plan.id} version {plan.version}"
        )
    for taken in setup.steps:
        check_step(plan, taken)
    return setup


def save_setup(
    workspace: Workspace, store: Store, setup: Setup, *, by: str, seen: Kept[Setup] | None = None
) -> Kept[Setup]:
    """Keep a whole setup at once, checked against its plan in the version it names."""
    check_setup(catalogue.plan(workspace, setup.plan_id, setup.plan_version), setup)
    return at_site(store, Setup).save(setup, by=by, seen=seen.revision if seen else None)


def _of_visit(store: Store, visit: Visit, rig_id: str | None) -> list[Kept[Setup]]:
    found = at_site(store, Setup).find(visit_id=visit.id)
    return [kept for kept in found if rig_id is None or kept.record.rig_id in (None, rig_id)]


def _in_order(plan: SetupPlan, steps: Mapping[str, StepTaken]) -> tuple[StepTaken, ...]:
    return tuple(steps[step.key] for step in plan.steps if step.key in steps)


def _what_to_do(step: PlanStep) -> str:
    if isinstance(step, ChoiceStep):
        return f"choose {' or '.join(step.options)}"
    return "read the scale" if isinstance(step, ReadingStep) else "see to it and confirm it"
