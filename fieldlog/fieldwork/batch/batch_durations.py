"""How long turns and changes take: planned at first, learned from the team's own timestamps later."""

from __future__ import annotations

import datetime as dt
import statistics
from collections.abc import Sequence
from itertools import pairwise

from fieldlog.fieldwork.batch.batch_order import Costs
from fieldlog.fieldwork.books import everywhere
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Protocol, Side
from fieldlog.records.setup import Setup
from fieldlog.records.setup_plan import SetupPlan
from fieldlog.store.workspace import Workspace

__all__ = ["LEAST_SPANS", "planned_minutes", "scale_costs", "turn_minutes"]

LEAST_SPANS = 8
"""From so many of the team's own spans on, their median replaces the planned minutes."""

# Common practice: a side takes its dialling in and strapping, the weighing of the limb, then sets and rests.
_SETUP_MINUTES = 4.5
_WEIGHING_MINUTES = 1.0
_REPETITION_S = 3.0
_FULL_TRAVEL_MINUTES = 1.0
_LONGEST_STEP_MINUTES = 5.0
_LEAST_STEPS = 30


def planned_minutes(protocol: Protocol, sides: Sequence[Side]) -> float:
    """Return how long a turn takes by plan: dialling in, weighing, sets and rests of every side."""
    sets_s = sum(each.repetitions * _REPETITION_S + each.rest_s for each in protocol.sets)
    weighing = _WEIGHING_MINUTES if protocol.weight_correction == "sweep" else 0.0
    return len(sides) * (_SETUP_MINUTES + weighing + sets_s / 60.0)


def turn_minutes(workspace: Workspace, protocol: Protocol, sides: Sequence[Side]) -> tuple[float, int]:
    """Return how long a turn takes, and from how many of the team's own turns that is known.

    The median of the spans from an athlete's first setup step to their last set, once there are eight with
    as many sides; before that the planned minutes and 0.
    """
    began: dict[tuple[str, str], dt.datetime] = {}
    for _, kept in everywhere(workspace, Setup, plan_id=protocol.plan_id):
        times = [step.at for step in kept.record.steps if step.at is not None]
        turn = (kept.record.visit_id, kept.record.athlete_id)
        began[turn] = min([*times, began[turn]] if turn in began else times, default=kept.record.at)
    ended: dict[tuple[str, str], dt.datetime] = {}
    seen_sides: dict[tuple[str, str], set[str]] = {}
    for _, kept_set in everywhere(workspace, EffortSet, protocol_id=protocol.id):
        record = kept_set.record
        turn = (record.visit_id, record.athlete_id)
        ended[turn] = max(record.at, ended.get(turn, record.at))
        seen_sides.setdefault(turn, set()).add(record.side)
    planned = planned_minutes(protocol, sides)
    spans = [
        span
        for turn, end in ended.items()
        if turn in began and len(seen_sides[turn]) == len(sides)
        # A span of several turns' length is an athlete who went away and came back.
        if 0.0 < (span := (end - began[turn]).total_seconds() / 60.0) < 3.0 * planned
    ]
    if len(spans) < LEAST_SPANS:
        return planned, 0
    return statistics.median(spans), len(spans)


def scale_costs(workspace: Workspace, plan: SetupPlan) -> Costs:
    """Return what changes cost on this plan: one full travel of a scale a minute, a step as the team takes it.

    The minutes of a step are the median between two steps of the team's own setups, once there are thirty.
    """
    gaps = []
    for _, kept in everywhere(workspace, Setup, plan_id=plan.id):
        times = sorted(step.at for step in kept.record.steps if step.at is not None)
        gaps += [(later - earlier).total_seconds() / 60.0 for earlier, later in pairwise(times)]
    gaps = [gap for gap in gaps if 0.0 < gap <= _LONGEST_STEP_MINUTES]
    travel = {
        step.key: _FULL_TRAVEL_MINUTES / (step.high - step.low) for step in plan.readings if step.dialled
    }
    if len(gaps) < _LEAST_STEPS:
        return Costs(travel=travel)
    return Costs(travel=travel, scale_change=statistics.median(gaps))
