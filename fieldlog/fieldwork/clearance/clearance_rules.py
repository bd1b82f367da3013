"""The rules of the same-day clearance and of stopping: what holds, what ends the day, what may be added.

Common practice, not medical advice: local rules and licensed practitioners come first. Nothing here is a
diagnosis, and nothing here clears anybody: a person does.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from fieldlog.errors import InputError
from fieldlog.records.clearance import Clearance, Paper
from fieldlog.records.clearance_form import ClearanceForm, ClearanceItem
from fieldlog.records.protocol import PlannedSet, Protocol, Side

__all__ = [
    "STOP_PAIN",
    "STOP_PAIN_RISE",
    "STOP_REASONS",
    "Answer",
    "Judgement",
    "OneMore",
    "StopAdvice",
    "StopReason",
    "judge_answers",
    "one_more_allowed",
    "protocol_objections",
    "set_objections",
    "stop_advice",
]

Answer = bool | float | str | None
StopReason = Literal["request", "pain", "dizzy or chest", "strap slip", "rig noise", "other"]
STOP_REASONS: tuple[StopReason, ...] = (
    "request",
    "pain",
    "dizzy or chest",
    "strap slip",
    "rig noise",
    "other",
)

STOP_PAIN = 3
"""Pain above this, 0 to 10, ends the day (common practice)."""
STOP_PAIN_RISE = 2
"""So does pain that has risen by this much since the clearance (common practice)."""

NO_RESTART = "stop; do not restart today without a named person"


@dataclass(frozen=True)
class Judgement:
    """What the answers come to. ``reasons`` are the labels of the questions that hold the athlete."""

    outcome: Literal["go", "held"]
    reasons: tuple[str, ...]
    missing: tuple[Paper, ...]
    on_answers: bool
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class StopAdvice:
    """What a stop means for the rest of the day."""

    no_restart: bool
    text: str


class OneMore(NamedTuple):
    """Whether one more repetition may be suggested, and the reason in words."""

    allowed: bool
    reason: str


def judge_answers(
    form: ClearanceForm, answers: Mapping[str, Answer], *, minor: bool, consent_in_date: bool
) -> Judgement:
    """Return what today's answers come to; nothing but go or held can follow from answers alone.

    Raises InputError naming the question where an answer is missing, unknown or not of its kind.
    """
    asked = form.asked_of(minor=minor)
    known = {item.key for item in form.items}
    for key in answers:
        if key not in known:
            raise InputError(f"clearance: there is no question {key!r}", "answer the questions of the form")
    missing: list[Paper] = [] if consent_in_date else ["consent"]
    reasons = [] if consent_in_date else ["consent on file and in date"]
    cautions = []
    on_answers = False
    for item in asked:
        answer = _checked(item, answers.get(item.key))
        if answer is None:
            continue
        if _holds(item, answer):
            reasons.append(item.label)
            if item.paper:
                missing.append(item.paper)
            else:
                on_answers = True
        if item.key == "pain_now" and answer:
            cautions.append(item.caution)
    return Judgement(
        outcome="held" if reasons else "go",
        reasons=tuple(reasons),
        missing=tuple(missing),
        on_answers=on_answers,
        cautions=tuple(caution for caution in cautions if caution),
    )


def protocol_objections(protocol: Protocol, *, minor: bool) -> tuple[str, ...]:
    """Return what speaks against the protocol as a whole for this athlete."""
    if not minor:
        return ()
    first = protocol.sets[0]
    if first.effort != "submaximal" or first.mode == "eccentric":
        return ("a minor starts with a submaximal set that is not eccentric",)
    return ()


def set_objections(
    planned: PlannedSet, side: Side, *, minor: bool, first_visit: bool, clearance: Clearance | None
) -> tuple[str, ...]:
    """Return what speaks against this set for this athlete today, in words; empty where nothing does."""
    objections = []
    maximal_eccentric = planned.mode == "eccentric" and planned.effort == "maximal"
    if maximal_eccentric and first_visit:
        objections.append("no maximal eccentric effort at a first visit")
    if maximal_eccentric and minor:
        objections.append("no maximal eccentric effort for a minor")
    rules = clearance.limit_rules if clearance else ()
    if "submaximal only" in rules and planned.effort == "maximal":
        objections.append("limits today: submaximal only")
    if "concentric only" in rules and planned.mode != "concentric":
        objections.append("limits today: concentric only")
    objections.extend(
        f"limits today: {allowed} side only"
        for allowed in ("left", "right")
        if f"{allowed} side only" in rules and side != allowed
    )
    return tuple(objections)


def stop_advice(
    reason: StopReason, *, pain: float | None = None, pain_before: float | None = None
) -> StopAdvice:
    """Return what follows from a stop.

    Pain above 3, pain up by 2 since the clearance (from 0 where that is not known), dizziness or chest
    complaints end the day unless a named, qualified person decides otherwise. Raises InputError where a pain
    is not 0 to 10, or is missing for the reason pain.
    """
    for value in (pain, pain_before):
        if value is not None and not 0 <= value <= 10:
            raise InputError(f"pain: {value:g} is not between 0 and 10", "ask again: 0 none, 10 the worst")
    if reason == "pain" and pain is None:
        raise InputError("pain: the number is missing", "ask: 0 none to 10 the worst")
    if reason == "dizzy or chest":
        return StopAdvice(no_restart=True, text=f"{NO_RESTART}; call help as the local rules say")
    if pain is not None and (pain > STOP_PAIN or pain - (pain_before or 0) >= STOP_PAIN_RISE):
        return StopAdvice(no_restart=True, text=NO_RESTART)
    if reason == "rig noise":
        return StopAdvice(no_restart=False, text="stop; nobody on the rig until it was looked at and checked")
    if reason == "strap slip":
        return StopAdvice(
            no_restart=False, text="stop; strap anew, try the range passively, then repeat the set"
        )
    return StopAdvice(no_restart=False, text="stopped; go on only when the athlete says so")


def one_more_allowed(
    planned: PlannedSet,
    *,
    extra_done: int,
    pain_now: float | None,
    pain_before: float | None,
    stop_logged: bool,
    minor: bool,
    clearance: Clearance | None,
) -> OneMore:
    """Return whether one more repetition may be suggested to an athlete whose peaks still climb.

    Only where the protocol allows it, and never with pain (or with pain not asked), after a stop, for a
    minor, in eccentric work, or under limits.
    """
    objections: Sequence[tuple[bool, str]] = (
        (planned.purpose != "counted", "this set does not count"),
        (planned.extra_allowed == 0, "the protocol allows none"),
        (extra_done >= planned.extra_allowed > 0, f"the {planned.extra_allowed} allowed were done"),
        (planned.mode == "eccentric", "eccentric work"),
        (minor, "a minor"),
        (stop_logged, "a stop was logged today"),
        (clearance is None or clearance.outcome == "held", "no clearance today"),
        (clearance is not None and clearance.outcome == "limits", "limits today"),
        (pain_now is None, "ask for pain first"),
        (bool(pain_now), "pain above 0"),
        (pain_now is not None and pain_before is not None and pain_now > pain_before, "pain is rising"),
    )
    for objects, reason in objections:
        if objects:
            return OneMore(allowed=False, reason=reason)
    return OneMore(allowed=True, reason=f"{planned.extra_allowed - extra_done} more allowed by the protocol")


def _checked(item: ClearanceItem, answer: Answer) -> Answer:
    if answer is None or answer == "":
        if item.must_answer:
            raise InputError(f"{item.label}: not answered", "ask every question; when in doubt, no test")
        return None
    if item.kind == "yes_no" and not isinstance(answer, bool):
        raise InputError(f"{item.label}: answer yes or no")
    if item.kind == "text" and not isinstance(answer, str):
        raise InputError(f"{item.label}: answer in words")
    if item.kind != "number":
        return answer
    if isinstance(answer, bool | str) or not math.isfinite(answer):
        raise InputError(f"{item.label}: answer with a number")
    low = -math.inf if item.low is None else item.low
    high = math.inf if item.high is None else item.high
    if not low <= answer <= high:
        raise InputError(f"{item.label}: {answer:g} is not between {low:g} and {high:g}", "ask again")
    return answer


def _holds(item: ClearanceItem, answer: Answer) -> bool:
    if item.kind == "yes_no":
        return item.holds_on is not None and answer is (item.holds_on == "yes")
    return item.holds_above is not None and isinstance(answer, float | int) and answer > item.holds_above
