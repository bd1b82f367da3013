"""A change, judged: what it may be called, its interval, and how many marks chance alone would make."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from fieldlog.fieldwork.change.own_errors import ErrorInUse
from fieldlog.fieldwork.change.rig_share import RigShare
from fieldlog.fieldwork.change.trials import Score

__all__ = ["CONFIDENCE", "FIRST_VISIT", "UNCLEAR", "WITHIN_ERROR", "Change", "chance_words", "judge"]

CONFIDENCE = 0.95
FIRST_VISIT = "first visit, no comparison"
UNCLEAR = "unclear"
WITHIN_ERROR = "within error"


@dataclass(frozen=True)
class Change:
    """A change since an earlier visit, beside the change that error alone can make.

    ``word`` is "higher, beyond error", "lower, beyond error", "within error", "unclear" (beyond the error of
    one tester, but the tester changed and nothing is known of that), "first visit, no comparison", or
    "no comparison: " with the reason. ``change_pct`` and its bounds are in ``unit``: percent of the earlier
    value for torque, work and power, the measure's own unit for ratios, side differences and angles.
    ``detectable_pct`` is what error alone makes in 19 of 20 cases, in the direction of the change.
    ``beyond_worthwhile`` says that the whole interval lies beyond the smallest worthwhile change on one side;
    None where that change is not known. ``marks`` says what else may explain the change.
    """

    word: str
    change_pct: float | None = None
    detectable_pct: float | None = None
    since: str = ""
    unit: str = "%"
    low_pct: float | None = None
    high_pct: float | None = None
    worthwhile_pct: float | None = None
    beyond_worthwhile: bool | None = None
    worthwhile_remark: str = ""
    chance_higher: float | None = None
    chance_trivial: float | None = None
    chance_lower: float | None = None
    error: str = ""
    rig: str = ""
    rig_explains_pct: float | None = None
    marks: tuple[str, ...] = ()
    main: bool = True

    @property
    def real(self) -> bool:
        """Whether the change is larger than what error alone makes in 19 of 20 cases."""
        return self.word.endswith("beyond error")

    @property
    def judged(self) -> bool:
        """Whether there was anything to compare."""
        return self.change_pct is not None

    @property
    def marked(self) -> bool:
        """Whether a page marks it: a real change of one of the protocol's two main measures."""
        return self.real and self.main


def judge(
    now: Score, before: Score, error: ErrorInUse, share: RigShare, worthwhile: float | None
) -> dict[str, Any]:
    """Judge a change by its error: word, size, interval and chances, as ``Change`` has them.

    ``worthwhile`` is on the scale the measure is judged on, None where it is not known.
    """
    from fieldlog.analysis.change import judge_change

    logarithmic = now.measure.scale == "log"
    # Relative uncertainties of the rig are those of a logarithm; a ratio needs them in its own points.
    size = 1.0 if logarithmic else abs(before.value)
    change = now.measure.judged(now.value) - before.measure.judged(before.value)
    verdict = judge_change(
        change,
        error.value,
        worthwhile,
        te_dof=error.dof,
        u_rig_first=share.u_first * size,
        u_rig_second=share.u_second * size,
        confidence=CONFIDENCE,
    )
    shown = _percent if logarithmic else float
    word = f"{'higher' if change > 0 else 'lower'}, beyond error" if verdict.real else WITHIN_ERROR
    known = worthwhile is not None
    return {
        "word": word,
        "change_pct": shown(change),
        "detectable_pct": abs(shown(math.copysign(verdict.mdc, change))),
        "low_pct": shown(verdict.low),
        "high_pct": shown(verdict.high),
        "worthwhile_pct": shown(worthwhile) if worthwhile is not None else None,
        "beyond_worthwhile": verdict.beyond_swc if known else None,
        "chance_higher": verdict.chance_higher if known else None,
        "chance_trivial": verdict.chance_trivial if known else None,
        "chance_lower": verdict.chance_lower if known else None,
    }


def chance_words(changes: Iterable[Change]) -> str:
    """How many marks chance alone would make among these changes, in a sentence; empty where none was judged."""
    from fieldlog.analysis.error_bank import expected_chance_marks

    main = [change for change in changes if change.main and change.judged]
    if not main:
        return ""
    marked = sum(change.marked for change in main)
    expected = expected_chance_marks(len(main), CONFIDENCE)
    return (
        f"{len(main)} change{'s' if len(main) > 1 else ''} judged, {marked} marked; if nobody had changed, "
        f"chance alone would mark about {expected:.1f}"
    )


def _percent(logarithm: float) -> float:
    return 100.0 * math.expm1(logarithm)
