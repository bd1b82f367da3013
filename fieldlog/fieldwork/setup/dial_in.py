"""What to change at the rig for the next athlete: last time, now on the rig, and the way between."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from fieldlog.errors import InputError
from fieldlog.records.setup import Setup
from fieldlog.records.setup_plan import ReadingStep, SetupPlan

__all__ = [
    "DialInLine",
    "check_reading",
    "compares",
    "dial_in",
    "no_longer_compares",
    "outside_tolerance",
    "reading_of",
    "reading_text",
]

HAIR = 1e-9
UNIT_WORDS = {"cm": " cm", "mm": " mm", "deg": "°", "hole": " hole", "mark": " mark"}


@dataclass(frozen=True)
class DialInLine:
    """One scale of the rig: where it stood last time, where it stands now, where it should go.

    ``target`` is last time's reading, or the starting value handed in for a new athlete; ``change`` is
    target − now in the unit of the scale. Each is ``None`` where it is not known. ``text`` is the change
    as a person reads it. ``note`` says why a reading of last time does not count. ``decimals`` is what the
    scale has.
    """

    key: str
    label: str
    unit: str
    last: float | None
    now: float | None
    target: float | None
    change: float | None
    text: str
    unchanged: bool
    note: str = ""
    decimals: int = 0


def dial_in(
    plan: SetupPlan,
    now_on_rig: Setup | None,
    last: Setup | None,
    *,
    now_plan: SetupPlan | None = None,
    last_plan: SetupPlan | None = None,
    starting: Mapping[str, float] | None = None,
) -> tuple[DialInLine, ...]:
    """Return a line for each scale of ``plan``, the biggest change first.

    A change is weighed in retest tolerances of its scale (in scale steps where the tolerance is 0). Lines
    with a target but nothing known on the rig come before all others, unchanged ones and those without a
    target last, each in the order of the plan. ``now_plan`` and ``last_plan`` are the plan in the versions
    the two setups were taken under; a reading whose scale or landmark has changed since, or whose plan is
    unknown, gives no target. ``starting`` gives targets by key where last time has none.
    """
    lines = [
        _line(
            step,
            reading_of(step, now_on_rig, plan, now_plan)[0],
            *reading_of(step, last, plan, last_plan),
            (starting or {}).get(step.key),
        )
        for step in plan.readings
        if step.dialled
    ]
    steps = {step.key: step for step in plan.readings}
    return tuple(sorted(lines, key=lambda line: _urgency(line, steps[line.key])))


def check_reading(step: ReadingStep, reading: float) -> float:
    """Return ``reading`` where it can stand on the scale of ``step``; InputError says why it cannot."""
    if not math.isfinite(reading):
        raise InputError(f"{step.label}: {reading} is no reading", "type the number the scale shows")
    if not step.low - HAIR <= reading <= step.high + HAIR:
        raise InputError(
            f"{step.label}: {reading_text(step, reading)} is off the scale, which runs from "
            f"{reading_text(step, step.low)} to {reading_text(step, step.high)}",
            "read the scale again",
        )
    if step.unit in ("hole", "mark") and abs(reading - round(reading)) > HAIR:
        raise InputError(f"{step.label}: {reading:g} lies between two {step.unit}s", "type a whole number")
    return reading


def outside_tolerance(step: ReadingStep, last: float | None, reading: float) -> bool:
    """Whether ``reading`` is further from last time's than the retest tolerance, and so needs a word why."""
    return last is not None and abs(reading - last) > step.retest_tolerance + HAIR


def compares(step: ReadingStep, older: ReadingStep | None) -> bool:
    """Whether readings of ``older`` (the step in another version of its plan) compare with those of ``step``.

    They do as long as unit, start of the scale, direction and landmark are the same.
    """
    return older is not None and (
        (step.unit, step.low, step.landmark, step.vertical)
        == (older.unit, older.low, older.landmark, older.vertical)
    )


def no_longer_compares(plan: SetupPlan, last: Setup, last_plan: SetupPlan | None) -> tuple[str, ...]:
    """Labels of the readings ``last`` holds that do not compare with ``plan`` any more.

    ``last_plan`` is the plan in the version of ``last``; where it is not to be had, none compares.
    """
    gone = []
    for taken in last.steps:
        if taken.reading is None:
            continue
        older = _reading_step(last_plan, taken.key)
        newer = _reading_step(plan, taken.key)
        same_plan = (last.plan_id, last.plan_version) == (plan.id, plan.version)
        if newer is None or not (same_plan or compares(newer, older)):
            gone.append(older.label if older else newer.label if newer else taken.key)
    return tuple(gone)


def reading_of(
    step: ReadingStep, setup: Setup | None, plan: SetupPlan, setup_plan: SetupPlan | None
) -> tuple[float | None, str]:
    """Return what ``setup`` holds for ``step``, or ``None`` and the reason where it does not compare.

    ``plan`` is the plan ``step`` is from, ``setup_plan`` the same plan in the version of ``setup``.
    """
    reading = setup.reading(step.key) if setup else None
    if setup is None or reading is None:
        return None, ""
    if setup.plan_id != plan.id:
        return None, ""
    if setup.plan_version == plan.version or compares(step, _reading_step(setup_plan, step.key)):
        return reading, ""
    return None, f"{reading:g} under version {setup.plan_version} of the plan does not compare"


def reading_text(step: ReadingStep, reading: float) -> str:
    """The reading with its unit, in as many decimals as the scale has."""
    return f"{_number(step, reading)}{UNIT_WORDS[step.unit]}".replace("-", "−")


def _reading_step(plan: SetupPlan | None, key: str) -> ReadingStep | None:
    step = plan.step(key) if plan else None
    return step if isinstance(step, ReadingStep) else None


def _line(
    step: ReadingStep, now: float | None, last: float | None, note: str, starting: float | None
) -> DialInLine:
    target = last if last is not None else starting
    change = None if target is None or now is None else round(target - now, 6)
    unchanged = change is not None and abs(change) < step.step / 2 - HAIR
    if change is None:
        text = "" if target is None else f"to {reading_text(step, target)}"
    elif unchanged:
        text = "unchanged"
    else:
        sign = "+" if change > 0 else "−"
        arrow = (" ↑" if change > 0 else " ↓") if step.vertical else ""
        text = f"{sign}{_number(step, abs(change))}{UNIT_WORDS[step.unit]}{arrow}"
    return DialInLine(
        key=step.key,
        label=step.label,
        unit=step.unit,
        last=last,
        now=now,
        target=target,
        change=change,
        text=text,
        unchanged=unchanged,
        note=note,
        decimals=_decimals(step),
    )


def _urgency(line: DialInLine, step: ReadingStep) -> tuple[int, float]:
    if line.target is None:
        return 3, 0.0
    if line.change is None:
        return 0, 0.0
    if line.unchanged:
        return 2, 0.0
    return 1, -abs(line.change) / (step.retest_tolerance or step.step)


def _decimals(step: ReadingStep) -> int:
    return next((n for n in range(4) if abs(round(step.step, n) - step.step) < HAIR), 4)


def _number(step: ReadingStep, reading: float) -> str:
    decimals = _decimals(step)
    # A reading converted from inches, or taken between two marks, keeps the decimals it needs.
    while decimals < 3 and abs(round(reading, decimals) - reading) > 0.5 * 10.0 ** -(decimals + 1):
        decimals += 1
    return f"{reading:.{decimals}f}"
