"""Editing a setup plan: a draft in which steps are added, changed, moved and taken out, and what is wrong with it.

A draft may be wrong for a while (a step moved above the one it goes back to); each fault is named, and only
a draft without one becomes the next version of the plan.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from pydantic import TypeAdapter, ValidationError

from fieldlog.errors import InputError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.setup.dial_in import compares
from fieldlog.fieldwork.setup.ordered import new_key
from fieldlog.fieldwork.setup.step_fields import PLAN_WORDS
from fieldlog.records.base import first_fault
from fieldlog.records.protocol import Protocol
from fieldlog.records.setup import Setup
from fieldlog.records.setup_plan import SAFEGUARDS, PlanStep, ReadingStep, SetupPlan
from fieldlog.store.repo import Kept
from fieldlog.store.workspace import Workspace

__all__ = [
    "PlanDraft",
    "changed_scales",
    "copied_plan",
    "plan_faults",
    "save_draft",
    "setups_by_version",
    "use_plan",
    "with_plan_words",
]

_STEPS: TypeAdapter[tuple[PlanStep, ...]] = TypeAdapter(tuple[PlanStep, ...])


@dataclass(frozen=True)
class PlanDraft:
    """A plan while it is edited. ``words`` are its name, unit, source and caution by the fields of a plan."""

    id: str
    region: str
    words: Mapping[str, str]
    parts: tuple[PlanStep, ...]

    @classmethod
    def of(cls, plan: SetupPlan) -> PlanDraft:
        """The draft that a plan begins as."""
        return cls(plan.id, plan.region, {name: getattr(plan, name) for name in PLAN_WORDS}, plan.steps)

    def with_parts(self, parts: Sequence[PlanStep]) -> PlanDraft:
        """The draft with other steps."""
        return replace(self, parts=tuple(parts))

    def to_body(self) -> dict[str, Any]:
        """The draft as the JSON object that is kept."""
        return {"words": dict(self.words), "steps": _STEPS.dump_python(self.parts, mode="json")}

    def from_body(self, body: Mapping[str, Any]) -> PlanDraft:
        """The draft of this plan that was kept. Raises InputError where it cannot be read."""
        try:
            words = {name: str(body["words"][name]) for name in PLAN_WORDS}
            return replace(self, words=words, parts=_STEPS.validate_python(body["steps"]))
        except (KeyError, TypeError, ValidationError):
            raise InputError(f"the draft of plan {self.id} cannot be read", "edit the plan anew") from None


def plan_faults(draft: PlanDraft) -> dict[str, str]:
    """Return what is wrong with a draft by the key of the step; faults of the plan as a whole under ``""``."""
    faults: dict[str, str] = {}
    labels = {step.key: step.label for step in draft.parts}
    before: set[str] = set()
    for step in draft.parts:
        if step.back_to == step.key:
            faults[step.key] = "goes back to itself"
        elif step.back_to is not None and step.back_to not in labels:
            faults[step.key] = "goes back to a step that is not in the plan"
        elif step.back_to is not None and step.back_to not in before:
            faults[step.key] = f"goes back to '{labels[step.back_to]}', which does not come before it"
        before.add(step.key)
    confirmed = {getattr(step, "safeguard", None) for step in draft.parts}
    lost = [catalogue.SAFEGUARD_WORDS[each] for each in SAFEGUARDS if each not in confirmed]
    if not draft.parts:
        faults[""] = "the plan has no step"
    elif lost:
        faults[""] = f"no step confirms: {', '.join(lost)}; without it no set could start"
    return faults


def with_plan_words(draft: PlanDraft, typed: Mapping[str, str]) -> PlanDraft:
    """Return the draft under other words. Raises InputError where it has no name or one is too long."""
    words = {name: typed[name].strip() for name in PLAN_WORDS}
    _plan_of(replace(draft, words=words), version=1)
    return replace(draft, words=words)


def copied_plan(workspace: Workspace, plan: SetupPlan, name: str) -> PlanDraft:
    """Return a copy of a plan under a name of its own, as a plan of the team that is not kept yet.

    Raises InputError where there is no name, or a plan of that name.
    """
    name = " ".join(name.split())
    known = catalogue.plans(workspace)
    if not name:
        raise InputError("a plan needs a name", "type what it is for")
    if any(each.name.casefold() == name.casefold() for each in known.values()):
        raise InputError(f"there is a setup plan {name!r} already", "give the copy a name of its own")
    draft = PlanDraft.of(plan)
    return with_plan_words(
        replace(draft, id=new_key(name, known)),
        {**draft.words, "name": name, "source": f"the team's own, from '{plan.name}' (common practice)"},
    )


def save_draft(workspace: Workspace, draft: PlanDraft, *, by: str, why: str) -> Kept[SetupPlan]:
    """Keep a draft as the next version of the team's plan.

    Raises InputError naming the step that is wrong, RefusedError where a safeguard is missing.
    """
    labels = {step.key: step.label for step in draft.parts}
    for key, fault in plan_faults(draft).items():
        raise InputError(
            f"{labels[key]}: it {fault}" if key else fault, "correct it, then save; nothing was saved"
        )
    known = catalogue.plans(workspace).get(draft.id)
    plan = _plan_of(draft, version=known.version if known else 1)
    return catalogue.save_plan(workspace, plan, by=by, why=why.strip())


def changed_scales(older: SetupPlan, newer: SetupPlan) -> tuple[str, ...]:
    """Labels of the readings of ``older`` that do not compare with ``newer`` any more."""
    gone = []
    for step in older.readings:
        now = newer.step(step.key)
        if not isinstance(now, ReadingStep) or not compares(now, step):
            gone.append(step.label)
    return tuple(gone)


def setups_by_version(workspace: Workspace, plan_id: str) -> dict[int, int]:
    """How many setups were taken under each version of a plan, over all sites."""
    counts: dict[int, int] = {}
    for store in workspace.stores():
        for revision in store.equal(Setup.table, ("plan_id",), plan_id):
            version = (revision.body or {}).get("plan_version")
            if isinstance(version, int):
                counts[version] = counts.get(version, 0) + 1
    return dict(sorted(counts.items()))


def use_plan(workspace: Workspace, plan_id: str, typed: str, *, by: str) -> Kept[Protocol]:
    """Let a protocol, named by the first letters of its name, be set up under another plan.

    Raises InputError where no protocol or more than one begins so, or where it is of another region.
    """
    plan = catalogue.plan(workspace, plan_id)
    words = typed.strip().casefold()
    fitting = [
        each
        for each in catalogue.protocols(workspace).values()
        if words and each.name.casefold().startswith(words)
    ]
    exact = [each for each in fitting if each.name.casefold() == words]
    if len(exact or fitting) != 1:
        known = ", ".join(each.name for each in fitting) or "none"
        raise InputError(
            f"protocols that begin with {typed.strip()[:30]!r}: {known}", "type more of the name"
        )
    protocol = (exact or fitting)[0]
    if protocol.region != plan.region:
        raise InputError(
            f"{protocol.name} is of the {protocol.region}, the plan of the {plan.region}",
            "choose a plan of the same region",
        )
    changed = protocol.model_copy(update={"plan_id": plan.id})
    return catalogue.save_protocol(workspace, changed, by=by, why=f"set up under {plan.name}")


def _plan_of(draft: PlanDraft, *, version: int) -> SetupPlan:
    body = {"id": draft.id, "region": draft.region, "version": version, **draft.words}
    try:
        return SetupPlan.model_validate({**body, "steps": draft.parts})
    except ValidationError as error:
        raise InputError(f"setup plan: {first_fault(error)}", "correct it and save again") from None
