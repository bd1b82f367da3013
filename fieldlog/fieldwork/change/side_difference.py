"""Right against left on one day, beside the difference that error alone can make."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldlog.fieldwork.change.comparability import side_refusal
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.change.judged_change import CONFIDENCE
from fieldlog.fieldwork.change.trials import Score, line_of
from fieldlog.fieldwork.results.measure_list import MEASURES, PEAK, value_of
from fieldlog.fieldwork.results.results import DirectionResult

__all__ = ["SideDifference", "side_difference"]


@dataclass(frozen=True)
class SideDifference:
    """100·(right − left)/larger of the best peak torques, with its own detectable difference.

    ``word`` is "right larger, beyond error", "left larger, beyond error", "within error", or
    "no comparison: " with the reason. Bounds and ``detectable_pct`` at 95 %.
    """

    word: str
    difference_pct: float | None = None
    detectable_pct: float | None = None
    low_pct: float | None = None
    high_pct: float | None = None
    error: str = ""

    @property
    def beyond_error(self) -> bool:
        """Whether the difference is larger than error alone makes in 19 of 20 cases."""
        return self.word.endswith("beyond error")


def side_difference(comparer: Comparer, left: DirectionResult, right: DirectionResult) -> SideDifference:
    """Compare the sides of one athlete in one direction on one day.

    Both sides carry the error of a single test, so the detectable difference is t·√(2·TE² + rig²) on the
    logarithms; of the rig only its repeatability counts, as the rest is the same for both sides.
    """
    from fieldlog.analysis.change import judge_change
    from fieldlog.analysis.ratios import bilateral_difference_pct

    measure = MEASURES[PEAK]
    values = value_of(measure, left), value_of(measure, right)
    if values[0] is None or values[1] is None:
        return SideDifference("no comparison: no value")
    scores = [
        Score(measure, line_of(result), value, (comparer.trials.trial(result),))
        for result, value in ((left, values[0]), (right, values[1]))
    ]
    reason = side_refusal(*scores)
    if reason:
        return SideDifference(f"no comparison: {reason}")
    errors = [error for error in map(comparer.bank.in_use, scores) if error is not None]
    if len(errors) < 2:
        return SideDifference("no comparison: no typical error is known for this measure")
    # Each side has its own error; the larger speaks for both, with the fewer degrees of freedom.
    error = max(errors, key=lambda each: each.value)
    share = comparer.rigs.between(scores[1].trial, scores[0].trial)
    verdict = judge_change(
        math.log(values[1] / values[0]),
        error.value,
        None,
        te_dof=min(each.dof for each in errors),
        u_rig_first=share.u_first,
        u_rig_second=share.u_second,
        confidence=CONFIDENCE,
    )
    difference_pct = bilateral_difference_pct(values[0], values[1])
    larger = "right" if difference_pct > 0 else "left"
    return SideDifference(
        word=f"{larger} larger, beyond error" if verdict.real else "within error",
        difference_pct=difference_pct,
        detectable_pct=abs(_of_larger_pct(verdict.mdc)),
        low_pct=_of_larger_pct(verdict.low),
        high_pct=_of_larger_pct(verdict.high),
        error=error.words,
    )


def _of_larger_pct(log_ratio: float) -> float:
    """Side difference in percent of the larger side, from the logarithm of right over left."""
    return math.copysign(-100.0 * math.expm1(-abs(log_ratio)), log_ratio)
