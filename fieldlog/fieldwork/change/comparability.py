"""Whether two scores may be compared at all, and what must be said beside them. The one place that decides it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest

from fieldlog.fieldwork.change.trials import Score, Trial, WeightWay, weight_way
from fieldlog.fieldwork.results.holds import ANGLE_TOLERANCE_DEG, hold_angle_deg
from fieldlog.fieldwork.results.measure_list import Measure, counted_movements
from fieldlog.fieldwork.results.results import quality_word
from fieldlog.fieldwork.setup.dial_in import outside_tolerance, reading_of, reading_text
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.setup_plan import ChoiceStep

__all__ = [
    "HARD_SESSION_H",
    "MORE_TRIALS",
    "RANGE_TOLERANCE_DEG",
    "TIME_OF_DAY_H",
    "marks",
    "range_of",
    "ranges_agree",
    "refusal",
    "set_differences",
    "setup_difference",
    "side_refusal",
]

MORE_TRIALS = 1.5
"""From this many times the repetitions on, a best of more is no longer a best of as many (common practice)."""
TIME_OF_DAY_H = 2.0
HARD_SESSION_H = 48.0
RANGE_TOLERANCE_DEG = 2.0
"""Ranges whose ends differ by no more than this hold the same work (common practice)."""

_RECIPE = {"version": "version of the analysis", "cutoff_hz": "low-pass", "band_pct": "load range band"}


def refusal(now: Score, before: Score) -> str:
    """Return why two scores of an athlete may not be compared, or an empty text."""
    if now.measure.key != before.measure.key:
        return _other_figure(now.measure, before.measure)
    for today, last in zip_longest(now.trials, before.trials):
        if today is None or last is None:
            return "one side or direction is missing at one visit"
        reason = next(_reasons(today, last, now.measure), "")
        if reason:
            return reason
    return ""


def side_refusal(left: Score, right: Score) -> str:
    """Return why two sides of one day may not be compared, or an empty text."""
    one, other = left.trial, right.trial
    if one.visit.id != other.visit.id:
        return "the sides were tested on different days"
    if one.record.rig_id != other.record.rig_id:
        return "the sides were tested on different rigs"
    return next(_reasons_between((one, "left"), (other, "right"), left.measure), "")


def marks(now: Score, before: Score) -> tuple[str, ...]:
    """Return what may explain a change besides strength, each in a few words."""
    today, last = now.trial, before.trial
    found = []
    apart_h = abs(_hour_of_day(today) - _hour_of_day(last))
    if min(apart_h, 24.0 - apart_h) > TIME_OF_DAY_H:
        found.append(f"another time of day ({today.record.at:%H:%M}, last time {last.record.at:%H:%M})")
    for trial, when in ((today, "today"), (last, "last time")):
        hours = trial.hours_since_hard_session
        if hours is not None and hours < HARD_SESSION_H:
            found.append(f"hard session {hours:.0f} h before, {when}")
    if last.first_visit:
        found.append("last time was the first visit: part of a rise may be familiarisation")
    if weight_way(today.record) != weight_way(last.record):
        found.append("weight taken out in another way")
    for trial, when in ((today, "today"), (last, "last time")):
        if quality_word(trial.record.measures) == "warning":
            found.append(f"data with a warning, {when}")
        if trial.result.cover.decision is not None:
            found.append(f"rig {trial.result.cover.shown}, {when}")
        if trial.setup is None:
            found.append(f"setup not on record, {when}")
    return tuple(found)


def setup_difference(now: Trial, before: Trial) -> str:
    """Return the first scale or position in which the setups differ beyond tolerance, or an empty text.

    Steps that were passed over at either visit, and a visit without a setup on record, say nothing.
    """
    plan, setup, last = now.plan, now.setup, before.setup
    if plan is None or setup is None or last is None:
        return ""
    if last.plan_id != setup.plan_id:
        return "another setup plan"
    for step in plan.steps:
        if isinstance(step, ChoiceStep):
            chosen, chosen_before = _choice(setup.taken(step.key)), _choice(last.taken(step.key))
            if chosen and chosen_before and chosen != chosen_before:
                return f"{step.label}: {chosen}, last time {chosen_before}"
    for step in plan.readings:
        reading = setup.reading(step.key)
        if not step.dialled or reading is None:
            continue
        reading_before, note = reading_of(step, last, plan, before.plan)
        if note:
            return f"{step.label}: scale or landmark changed since last time"
        if outside_tolerance(step, reading_before, reading):
            assert reading_before is not None
            return (
                f"{step.label}: {reading_text(step, reading)}, last time {reading_text(step, reading_before)}"
            )
    return ""


def range_of(trial: Trial) -> tuple[float, float] | None:
    """Lowest and highest angle that all counted repetitions of a trial went through, in degrees."""
    movements = counted_movements(trial.result)
    # Nobody knows the range of what was typed from a display.
    if not movements or any(movement["start_deg"] is None for movement in movements):
        return None
    low = max(min(movement["start_deg"], movement["end_deg"]) for movement in movements)
    high = min(max(movement["start_deg"], movement["end_deg"]) for movement in movements)
    return (low, high) if low < high else None


def ranges_agree(now: Trial, before: Trial) -> bool:
    """Whether both trials went through the same range, within 2° at either end."""
    one, other = range_of(now), range_of(before)
    if one is None or other is None:
        return False
    return all(abs(a - b) <= RANGE_TOLERANCE_DEG for a, b in zip(one, other, strict=True))


def set_differences(one: EffortSet, other: EffortSet) -> Iterator[str]:
    """Yield how two sets differ in what was done with their recordings: weight and recipe."""
    yield from _weight_reasons(weight_way(one), weight_way(other))
    recipe, recipe_before = one.measures["recipe"], other.measures["recipe"]
    for key, name in _RECIPE.items():
        if recipe.get(key) != recipe_before.get(key):
            yield f"another recipe ({name})"


def _reasons(now: Trial, before: Trial, measure: Measure) -> Iterator[str]:
    """Every reason that stands against comparing two trials, the weightiest first."""
    if now.line != before.line:
        yield "another side, mode, speed or direction"
    yield from _reasons_between((now, "today"), (before, "last time"), measure)
    difference = setup_difference(now, before)
    if difference:
        yield difference


def _reasons_between(one: tuple[Trial, str], other: tuple[Trial, str], measure: Measure) -> Iterator[str]:
    for trial, where in (one, other):
        cover = trial.result.cover
        if not cover.usable:
            yield f"rig {cover.shown} {where}"
        if cover.beyond_checked_range:
            yield f"beyond the checked range {where}"
        if quality_word(trial.record.measures) == "stop":
            yield f"poor data {where}"
    yield from set_differences(one[0].record, other[0].record)
    at_deg, other_deg = (hold_angle_deg(trial.result.figures) for trial, _ in (one, other))
    if at_deg is not None and other_deg is not None and abs(at_deg - other_deg) > ANGLE_TOLERANCE_DEG:
        yield f"held at {at_deg:.0f}° against {other_deg:.0f}°"
    few, many = sorted((one[0].repetitions, other[0].repetitions))
    if measure.best and many >= MORE_TRIALS * few:
        yield f"best of {one[0].repetitions} repetitions against best of {other[0].repetitions}"


def _weight_reasons(now: WeightWay, before: WeightWay) -> Iterator[str]:
    if now != before and "unknown" in (now, before):
        yield "not known whether the weight was taken out both times"
    elif (now == "none") != (before == "none"):
        yield "weight corrected only once"


def _other_figure(one: Measure, other: Measure) -> str:
    if one.family == other.family:
        return f"{one.name} stands against {other.name}"
    return f"{one.name} is no {other.name}"


def _choice(step: object) -> str | None:
    return getattr(step, "choice", None)


def _hour_of_day(trial: Trial) -> float:
    at = trial.record.at
    return at.hour + at.minute / 60.0
