"""Work of two visits over the angles that both went through."""

from __future__ import annotations

import math

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.change.comparability import range_of, ranges_agree
from fieldlog.fieldwork.change.trials import Trial
from fieldlog.fieldwork.results.measure_list import MEASURES, counted_movements, value_of
from fieldlog.fieldwork.results.sets import reload_recording
from fieldlog.records.effort_set import EffortSet
from fieldlog.store.workspace import Workspace

__all__ = ["COMMON_SHARE", "common_work"]

COMMON_SHARE = 0.75
"""The common range must be at least this part of each visit's own (common practice)."""


def common_work(workspace: Workspace, now: Trial, before: Trial) -> tuple[float, float] | str:
    """Mean work a repetition in J, today and last time, over their common range; or the reason there is none.

    Where the ranges agree within 2° the figures stand as they are; else both recordings are gone through
    again.
    """
    if ranges_agree(now, before):
        works = [value_of(MEASURES["mean_work_j"], trial.result) for trial in (now, before)]
        return (works[0], works[1]) if works[0] and works[1] else "no work at one visit"
    ranges = range_of(now), range_of(before)
    if ranges[0] is None or ranges[1] is None:
        return "no common range of motion"
    low, high = max(ranges[0][0], ranges[1][0]), min(ranges[0][1], ranges[1][1])
    if high - low < COMMON_SHARE * max(top - bottom for bottom, top in (ranges[0], ranges[1])):
        return f"ranges of motion share only {max(high - low, 0.0):.0f}°"
    try:
        found = [_work_between(workspace, trial, low, high) for trial in (now, before)]
    except FieldlogError:
        return "ranges of motion differ, and a recording is not on this laptop"
    return (found[0], found[1]) if min(found) > 0.0 else "no work at one visit"


def _work_between(workspace: Workspace, trial: Trial, low_deg: float, high_deg: float) -> float:
    """Mean over the counted repetitions of ∫ torque d|θ| between two angles, in J."""
    import numpy as np

    from fieldlog.analysis.measures import work_j
    from fieldlog.fieldwork.recording.recording import curves

    record_id = trial.record.id
    store = next(s for s in workspace.sites.values() if s.document(EffortSet.table, record_id))
    import_ = reload_recording(store, trial.record)
    recording, sweep = import_.recordings()
    left_out = [entry.index for entry in trial.record.left_out]
    counted = {movement["index"] for movement in counted_movements(trial.result)}
    works = []
    for curve in curves(recording, import_.options(left_out), sweep=sweep):
        if curve.index in counted and curve.direction == trial.result.direction:
            inside = (curve.angle_deg >= low_deg) & (curve.angle_deg <= high_deg)
            places = np.flatnonzero(inside)
            if places.size > 1:
                span = slice(int(places[0]), int(places[-1]) + 1)
                works.append(work_j(curve.torque_nm[span], curve.angle_deg[span]))
    return trial.result.factor * math.fsum(works) / len(works) if works else 0.0
