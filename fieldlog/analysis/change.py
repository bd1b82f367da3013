"""Is one athlete's change real? Typical error and rig together, judged by t where the error is an estimate.

Pure ``math``: a page of changes must not wait for a numerical library.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldlog.analysis.calibration import conformity_probability, coverage_factor, effective_dof

__all__ = ["ChangeVerdict", "judge_change", "worthwhile_of_variance"]


@dataclass(frozen=True)
class ChangeVerdict:
    """A change against its error. Chances are probabilities from 0 to 1 and add up to 1.

    ``low`` and ``high`` bound the true change at the stated confidence; ``beyond_swc`` says that the whole
    interval lies beyond the smallest worthwhile change on one side.
    """

    real: bool
    chance_higher: float
    chance_trivial: float
    chance_lower: float
    mdc: float
    low: float
    high: float
    dof: float
    beyond_swc: bool


def judge_change(
    change: float,
    typical_error: float,
    swc: float | None,
    *,
    te_dof: float | None = None,
    u_rig_first: float = 0.0,
    u_rig_second: float = 0.0,
    confidence: float = 0.95,
) -> ChangeVerdict:
    """Judge a change between two visits; all values in one unit, rig terms as standard uncertainties.

    u² = 2·TE² + u₁² + u₂²; mdc = quantile·u; real where |change| > mdc. The quantile is Student's t at the
    Welch–Satterthwaite degrees of freedom where ``te_dof`` is given, else normal. Chances are those of the
    true change lying above +swc, within, or below −swc (Hopkins 2004); ``swc`` None counts as 0.
    Raises ValueError for values not finite, negative errors, or a confidence outside 0 to 1.
    """
    worthwhile = 0.0 if swc is None else swc
    numbers = (change, typical_error, worthwhile, u_rig_first, u_rig_second)
    if not all(math.isfinite(number) for number in numbers):
        raise ValueError("a change is judged on finite numbers")
    if min(typical_error, worthwhile, u_rig_first, u_rig_second) < 0.0:
        raise ValueError("errors and the smallest worthwhile change must be zero or above")
    u_athlete = math.sqrt(2.0) * typical_error
    u = math.hypot(u_athlete, u_rig_first, u_rig_second)
    dof = math.inf
    if te_dof is not None:
        dof = effective_dof(u, (u_athlete, u_rig_first, u_rig_second), (te_dof, math.inf, math.inf))
    mdc = coverage_factor(dof, confidence) * u
    higher = conformity_probability(change, u, lower=worthwhile, dof=dof) if change or u else 0.0
    lower = conformity_probability(change, u, upper=-worthwhile, dof=dof) if change or u else 0.0
    low, high = change - mdc, change + mdc
    return ChangeVerdict(
        real=abs(change) > mdc,
        chance_higher=higher,
        chance_trivial=max(0.0, 1.0 - higher - lower),
        chance_lower=lower,
        mdc=mdc,
        low=low,
        high=high,
        dof=dof,
        beyond_swc=low > worthwhile or high < -worthwhile,
    )


def worthwhile_of_variance(
    variance: float, factor: float = 0.2, typical_error: float | None = None
) -> float | None:
    """Smallest worthwhile change from the variance between athletes (Hopkins 2004, after Cohen).

    ``factor`` × √variance or, with a ``typical_error``, × the pure spread √(variance − TE²); None where that is
    not positive. Raises ValueError for a variance that is negative or not finite.
    """
    if not (math.isfinite(variance) and variance >= 0.0):
        raise ValueError("the variance between athletes must be finite and zero or above")
    if typical_error is None:
        return factor * math.sqrt(variance)
    pure = variance - typical_error**2
    # Equal spreads differ in their last digits; that rest is no spread.
    return factor * math.sqrt(pure) if pure > 1e-12 * variance else None
