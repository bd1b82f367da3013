"""The steps of a plan one by one: which is next, what accepting it as shown means, and whether an answer fits.

Pure: a plan and what was answered in, the setup with it out. Where it is kept is not decided here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.setup.dial_in import check_reading, outside_tolerance, reading_text
from fieldlog.records.setup import Setup, StepTaken
from fieldlog.records.setup_plan import ChoiceStep, ConfirmStep, PlanStep, ReadingStep, SetupPlan

__all__ = [
    "accepted",
    "check_against_last",
    "check_setup",
    "check_step",
    "next_step",
    "with_step",
    "without_failed",
]


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


def check_against_last(step: PlanStep, taken: StepTaken, last: float | None) -> None:
    """Raise RefusedError where a reading is outside the retest tolerance of last time's and no word says why."""
    if not isinstance(step, ReadingStep) or taken.reading is None or taken.why.strip() or last is None:
        return
    if outside_tolerance(step, last, taken.reading):
        raise RefusedError(
            f"{step.label}: {reading_text(step, taken.reading)} is more than "
            f"{reading_text(step, step.retest_tolerance)} from last time's {reading_text(step, last)}",
            "dial it in as last time, or say in a word why",
        )


def with_step(setup: Setup, plan: SetupPlan, taken: StepTaken, *, by: str, at: dt.datetime) -> Setup:
    """Return the setup with one step taken at ``at``, in the place of an earlier answer to it."""
    timed = taken.model_copy(update={"at": at})
    steps = {step.key: step for step in setup.steps} | {timed.key: timed}
    return setup.model_copy(update={"steps": _in_order(plan, steps), "at": at, "by": by})


def without_failed(setup: Setup, plan: SetupPlan, key: str, *, by: str, at: dt.datetime) -> tuple[Setup, str]:
    """Go back from a step that does not come right; return the setup and the key to go on from.

    Everything from the step it goes back to is open again. Raises InputError where the plan has no such step.
    """
    step = plan.step(key)
    if step is None:
        raise InputError(f"setup plan {plan.id} version {plan.version} has no step {key!r}")
    target = step.back_to or step.key
    keys = [each.key for each in plan.steps]
    reopened = set(keys[keys.index(target) : keys.index(key) + 1])
    steps = {each.key: each for each in setup.steps if each.key not in reopened}
    return setup.model_copy(update={"steps": _in_order(plan, steps), "at": at, "by": by}), target


def _in_order(plan: SetupPlan, steps: Mapping[str, StepTaken]) -> tuple[StepTaken, ...]:
    return tuple(steps[step.key] for step in plan.steps if step.key in steps)


def _what_to_do(step: PlanStep) -> str:
    if isinstance(step, ChoiceStep):
        return f"choose {' or '.join(step.options)}"
    return "read the scale" if isinstance(step, ReadingStep) else "see to it and confirm it"
