"""A step of a setup plan as fields of text: what can be typed, and the step that comes of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any, Literal, get_args

from pydantic import TypeAdapter, ValidationError

from fieldlog.errors import InputError
from fieldlog.fieldwork.entry import parse_quantity
from fieldlog.fieldwork.setup.ordered import new_key, read_yes_no
from fieldlog.records.base import first_fault
from fieldlog.records.setup_plan import SAFEGUARDS, PlanStep, ScaleUnit

__all__ = ["KIND_WORDS", "PLAN_WORDS", "StepKind", "field_hint", "read_step", "step_fields", "typed_of_step"]

StepKind = Literal["confirm", "reading", "choice"]
KIND_WORDS: Mapping[StepKind, str] = MappingProxyType(
    {"confirm": "confirmation", "reading": "reading", "choice": "choice"}
)
PLAN_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "name": "name of the plan",
        "unit_name": "unit of the rig it is for",
        "source": "where it comes from",
        "caution": "caution",
    }
)
UNITS: tuple[str, ...] = get_args(ScaleUnit)
SAFEGUARD_TYPED: Mapping[str, str] = MappingProxyType({each.replace("_", " "): each for each in SAFEGUARDS})

_WORDS = {"label": "name of the step", "text": "what to do"}
_BY_KIND: Mapping[StepKind, Mapping[str, str]] = MappingProxyType(
    {
        "confirm": {
            "safeguard": "safeguard it confirms",
            "holds_start": "holds the start (yes or no)",
            "each_time": "anew for every side (yes or no)",
        },
        "reading": {
            "unit": f"unit: {', '.join(UNITS)}",
            "low": "scale begins at",
            "high": "scale ends at",
            "step": "step of the scale",
            "retest_tolerance": "tolerance at a retest",
            "at_floor": "what it shows at floor level",
            "vertical": "larger is higher (yes or no)",
            "dialled": "dialled at the rig (yes or no)",
        },
        "choice": {"options": "choices, a ; between them"},
    }
)
_MORE = {
    "optional": "may be left out (yes or no)",
    "landmark": "landmark on the body",
    "why": "why it matters",
    "caution": "caution",
    "group": "before or with the athlete",
    "back_to": "where to go back to when it fails",
}
_YES_NO = ("holds_start", "each_time", "vertical", "dialled", "optional")
_NUMBERS = ("low", "high", "step", "retest_tolerance", "at_floor")
_NEW: Mapping[str, str] = MappingProxyType(
    {"unit": "cm", "dialled": "yes", "each_time": "yes", "group": "with", "retest_tolerance": "0"}
)
_GROUPS = {"before": "before_athlete", "with": "with_athlete"}
_STEP: TypeAdapter[PlanStep] = TypeAdapter(PlanStep)


def step_fields(kind: StepKind) -> dict[str, str]:
    """Return the fields of a step of this kind in words, in the order they are asked for."""
    return {**_WORDS, **_BY_KIND[kind], **_MORE}


def typed_of_step(kind: StepKind, step: PlanStep | None, steps: Sequence[PlanStep]) -> dict[str, str]:
    """Return a step as the text of each field, to be edited; a new one begins with what is usual."""
    fields = step_fields(kind)
    if step is None:
        return {name: _NEW.get(name, "no" if name in _YES_NO else "") for name in fields}
    labels = {each.key: each.label for each in steps}
    body = step.model_dump()
    typed = {}
    for name in fields:
        value = body[name]
        if name in _YES_NO:
            typed[name] = "yes" if value else "no"
        elif name == "group":
            typed[name] = "before" if value == "before_athlete" else "with"
        elif name == "back_to":
            typed[name] = labels.get(value, value or "")
        elif name == "options":
            typed[name] = "; ".join(value)
        elif name == "safeguard":
            typed[name] = (value or "").replace("_", " ")
        else:
            typed[name] = "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
    return typed


def read_step(
    kind: StepKind, typed: Mapping[str, str], *, key: str | None, steps: Sequence[PlanStep]
) -> PlanStep:
    """Return a step from what was typed; ``key`` is its own where it is in the plan already.

    Raises InputError naming the field that cannot be.
    """
    given = {name: typed.get(name, "").strip() for name in step_fields(kind)}
    if not given["label"]:
        raise InputError("name of the step: nothing was typed", "name the step")
    own = key or new_key(given["label"], [step.key for step in steps])
    body: dict[str, Any] = {"kind": kind, "key": own}
    for name, text in given.items():
        body[name] = _read(name, text, own=own, unit=given.get("unit", ""), steps=steps)
    if body.get("safeguard"):
        # A safeguard holds the start and is confirmed each time: that is what it is.
        body |= {"holds_start": True, "each_time": True}
    if kind == "reading" and body["low"] >= body["high"]:
        raise InputError(
            f"{given['label']}: the scale runs from {given['low']} to {given['high']}, which is upside down",
            "the smaller value comes first",
        )
    try:
        return _STEP.validate_python(body)
    except ValidationError as error:
        raise InputError(f"{given['label']}: {_in_words(first_fault(error), kind)}", "correct it") from None


def field_hint(name: str, steps: Sequence[PlanStep], own: str | None) -> str:
    """Return what can be typed at a field, where that is not in its name."""
    if name == "back_to":
        names = [f"{place} {step.label}" for place, step in enumerate(steps, start=1) if step.key != own]
        before = names[: next((index for index, step in enumerate(steps) if step.key == own), len(names))]
        return f"a number, or nothing: {', '.join(before)}"
    if name == "safeguard":
        return f"{', '.join(SAFEGUARD_TYPED)}, or nothing; each of the four is confirmed by some step"
    if name in _NUMBERS:
        return "a number in the unit of the scale; 1.4in and 35mm are understood"
    return ""


def _read(name: str, text: str, *, own: str, unit: str, steps: Sequence[PlanStep]) -> object:
    if name in _YES_NO:
        return read_yes_no(text, _field_words(name))
    if name in _NUMBERS:
        return _number(name, text, unit)
    if name == "back_to":
        return _back_to(text, own, steps)
    return {"options": _options, "group": _group, "safeguard": _safeguard}.get(name, str)(text)


def _field_words(name: str) -> str:
    return next(fields[name] for fields in (_WORDS, *_BY_KIND.values(), _MORE) if name in fields)


def _number(name: str, text: str, unit: str) -> float | None:
    if unit not in UNITS:
        raise InputError(f"unit: {unit[:20] or 'nothing'!r} is none", f"one of {', '.join(UNITS)}")
    return None if name == "at_floor" and not text else parse_quantity(text, unit, _field_words(name))


def _options(text: str) -> tuple[str, ...]:
    return tuple(option.strip() for option in text.split(";") if option.strip())


def _group(text: str) -> str:
    if text.casefold() not in _GROUPS:
        raise InputError(f"{_MORE['group']}: {text[:20]!r} is neither", "type before or with")
    return _GROUPS[text.casefold()]


def _safeguard(text: str) -> str | None:
    if not text:
        return None
    found = SAFEGUARD_TYPED.get(text.casefold().replace("_", " "))
    if found is None:
        raise InputError(
            f"safeguard: {text[:20]!r} is none", f"one of {', '.join(SAFEGUARD_TYPED)}, or nothing"
        )
    return found


def _back_to(text: str, own: str, steps: Sequence[PlanStep]) -> str | None:
    if not text:
        return None
    if text.isdecimal() and 1 <= int(text) <= len(steps):
        found = steps[int(text) - 1].key
    else:
        named = [step.key for step in steps if text.casefold() in (step.label.casefold(), step.key)]
        if not named:
            raise InputError(
                f"where to go back to: there is no step {text[:30]!r}", "type the number of an earlier step"
            )
        found = named[0]
    if found == own:
        raise InputError("where to go back to: the step goes back to itself", "name an earlier step")
    return found


def _in_words(fault: str, kind: StepKind) -> str:
    place, _, text = fault.partition(": ")
    name = place.rpartition(".")[2]
    words = step_fields(kind).get(name)
    return f"{words}: {text}" if words and text else text or fault
