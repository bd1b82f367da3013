"""Reference torque, calibration line, uncertainty and conformity: the arithmetic of a rig check.

Pure ``math``: a check is judged before anything heavy is imported.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fieldlog.analysis.gravity import STANDARD_GRAVITY_M_S2
from fieldlog.analysis.t_distribution import t_distribution, t_quantile

__all__ = [
    "VERDICTS",
    "Line",
    "conformity_probability",
    "coverage_factor",
    "decide",
    "effective_dof",
    "fit_line",
    "normalised_error",
    "pooled_sd",
    "reference_torque",
]

VERDICTS = ("pass", "conditional pass", "conditional fail", "fail")  # best to worst, ILAC-G8:09/2019

_AIR_BUOYANCY = 1.0 - 1.2 / 8000.0  # conventional air and mass density, OIML D 28:2004
# Readings are decimal numbers: the binary rest of a difference must not decide about a limit.
_LIMIT_SLACK = 1e-9


def reference_torque(
    mass_kg: float, arm_m: float, arm_angle_deg: float = 0.0, *, gravity_m_s2: float = STANDARD_GRAVITY_M_S2
) -> float:
    """Torque in N·m of a mass hung from a lever, with air buoyancy.

    T = m·g·(1 − 1.2/8000)·L·cos φ; ``arm_angle_deg`` is measured from the horizontal, under load.

    >>> round(reference_torque(20.0, 0.5), 4)
    98.0518
    """
    return mass_kg * gravity_m_s2 * _AIR_BUOYANCY * arm_m * math.cos(math.radians(arm_angle_deg))


@dataclass(frozen=True)
class Line:
    """y = intercept + slope·(x − origin), with the standard uncertainties of both and their correlation.

    With two points only (``dof`` 0) the uncertainties and ``residual_sd`` are NaN: nothing is left over
    to estimate them from.
    """

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    correlation: float
    residual_sd: float
    dof: int
    origin: float = 0.0

    def predict(self, x: float) -> tuple[float, float]:
        """The line at ``x`` and its standard uncertainty there (GUM H.3.4, equation H.15)."""
        distance = x - self.origin
        variance = (
            self.u_intercept**2
            + (distance * self.u_slope) ** 2
            + 2.0 * distance * self.correlation * self.u_intercept * self.u_slope
        )
        # Rounding may leave a variance of minus nothing where the line is best known.
        return self.intercept + self.slope * distance, abs(variance) ** 0.5


def fit_line(x: Sequence[float], y: Sequence[float], *, origin: float = 0.0) -> Line:
    """Least-squares line of y on x (JCGM 100:2008 H.3, equations H.13a–g).

    The intercept is the line's value at ``origin``, in the unit of x.
    Raises ValueError for unequal lengths, fewer than two points, x all equal, or values not finite.
    """
    xs, ys = _finite(x, "x"), _finite(y, "y")
    if len(xs) != len(ys):
        raise ValueError(f"a line needs as many y as x, not {len(ys)} and {len(xs)}")
    n = len(xs)
    if n < 2:
        raise ValueError("a line needs at least two points")
    x_mean, y_mean = math.fsum(xs) / n, math.fsum(ys) / n
    x_spread = math.fsum((value - x_mean) ** 2 for value in xs)
    if x_spread == 0.0:
        raise ValueError("a line needs at least two different x")
    slope = math.fsum((a - x_mean) * (b - y_mean) for a, b in zip(xs, ys, strict=True)) / x_spread
    mean_distance = x_mean - origin
    intercept = y_mean - slope * mean_distance
    squares = math.fsum((b - y_mean - slope * (a - x_mean)) ** 2 for a, b in zip(xs, ys, strict=True))
    dof = n - 2
    residual_sd = math.sqrt(squares / dof) if dof else math.nan
    mean_square_distance = x_spread / n + mean_distance**2
    return Line(
        intercept=intercept,
        slope=slope,
        u_intercept=residual_sd * math.sqrt(mean_square_distance / x_spread),
        u_slope=residual_sd / math.sqrt(x_spread),
        correlation=-mean_distance / math.sqrt(mean_square_distance),
        residual_sd=residual_sd,
        dof=dof,
        origin=origin,
    )


def pooled_sd(groups: Iterable[Sequence[float]]) -> tuple[float, int]:
    """Pooled standard deviation of repeated readings and its degrees of freedom, (0.0, 0) without repeats.

    √(Σ(y − group mean)² / Σ(n − 1)); groups of one reading add nothing (one-way analysis of variance,
    the mean square within).
    """
    squares: list[float] = []
    dof = 0
    for group in groups:
        values = _finite(group, "a reading")
        if len(values) < 2:
            continue
        mean = math.fsum(values) / len(values)
        # A second pass takes out what rounding left in the mean, so large values lose no digits.
        mean += math.fsum(value - mean for value in values) / len(values)
        squares.extend((value - mean) ** 2 for value in values)
        dof += len(values) - 1
    return (math.sqrt(math.fsum(squares) / dof), dof) if dof else (0.0, 0)


def effective_dof(u_combined: float, contributions: Sequence[float], dofs: Sequence[float]) -> float:
    """Effective degrees of freedom after Welch and Satterthwaite (JCGM 100:2008 G.4.1, equation G.2b).

    ``contributions`` are standard uncertainties in the unit of the result, ``dofs`` their degrees of
    freedom (``math.inf`` where a value is taken as known). Infinite where nothing limits it.
    Raises ValueError for unequal lengths, negative uncertainties or degrees of freedom not above zero.
    """
    if len(contributions) != len(dofs):
        raise ValueError("every contribution needs its degrees of freedom")
    if not (math.isfinite(u_combined) and u_combined >= 0.0):
        raise ValueError(f"the combined uncertainty must be zero or above, not {u_combined}")
    total = 0.0
    for contribution, dof in zip(contributions, dofs, strict=True):
        if not (math.isfinite(contribution) and contribution >= 0.0):
            raise ValueError(f"an uncertainty must be zero or above, not {contribution}")
        if not dof > 0.0:
            raise ValueError(f"degrees of freedom must be above zero, not {dof}")
        if contribution > 0.0 and u_combined > 0.0:
            total += (contribution / u_combined) ** 4 / dof
    return 1.0 / total if total > 0.0 else math.inf


def coverage_factor(dof: float, probability: float = 0.95) -> float:
    """Two-sided coverage factor from Student's t (JCGM 100:2008 table G.2); normal for infinite ``dof``.

    Degrees of freedom are not truncated to a whole number.

    >>> round(coverage_factor(19), 2)
    2.09

    Raises ValueError for ``dof`` not above zero or a probability outside 0 to 1.
    """
    if not 0.0 < probability < 1.0:
        raise ValueError(f"a probability lies between 0 and 1, not {probability}")
    if not dof > 0.0:
        raise ValueError(f"degrees of freedom must be above zero, not {dof}")
    return t_quantile(0.5 + probability / 2.0, dof)


def decide(error: float, u_expanded: float, tolerance: float, rule: str = "guarded") -> str:
    """Word of conformity for one error, after ILAC-G8:09/2019; all three in one unit.

    ``simple``: pass where |error| ≤ tolerance, else fail. ``guarded``: pass where |error| ≤ tolerance − U,
    conditional pass where ≤ tolerance, conditional fail where ≤ tolerance + U, else fail.
    Raises ValueError for values not finite, a negative U or tolerance, or an unknown rule.
    """
    if not all(math.isfinite(value) for value in (error, u_expanded, tolerance)):
        raise ValueError("a decision needs finite numbers")
    if u_expanded < 0.0 or tolerance < 0.0:
        raise ValueError("uncertainty and tolerance must be zero or above")
    size, slack = abs(error), _LIMIT_SLACK * tolerance
    if rule == "simple":
        return "pass" if size <= tolerance + slack else "fail"
    if rule != "guarded":
        raise ValueError(f"the decision rule is 'simple' or 'guarded', not {rule!r}")
    limits = (tolerance - u_expanded, tolerance, tolerance + u_expanded)
    for word, limit in zip(VERDICTS, limits, strict=False):
        if size <= limit + slack:
            return word
    return "fail"


def conformity_probability(
    value: float,
    u: float,
    *,
    lower: float | None = None,
    upper: float | None = None,
    dof: float | None = None,
) -> float:
    """Probability that the true value lies inside the limits (JCGM 106:2012 clauses 7.3 and 7.4).

    ``u`` is the standard uncertainty of ``value``; the distribution is normal, or Student's t where
    ``dof`` is given. With u = 0 it is 1 or 0.
    Raises ValueError without any limit, with limits crossed, a negative u or values not finite.
    """
    if lower is None and upper is None:
        raise ValueError("a conformity needs a lower or an upper limit")
    if not (math.isfinite(value) and math.isfinite(u) and u >= 0.0):
        raise ValueError("value and standard uncertainty must be finite, the uncertainty zero or above")
    low = -math.inf if lower is None else lower
    high = math.inf if upper is None else upper
    if not low <= high:
        raise ValueError("the lower limit lies above the upper one")
    if dof is not None and not dof > 0.0:
        raise ValueError(f"degrees of freedom must be above zero, not {dof}")
    if u == 0.0:
        return 1.0 if low <= value <= high else 0.0
    z_low, z_high = (low - value) / u, (high - value) / u
    if z_low > 0.0:  # both limits above: the mirror image keeps the digits of a small tail
        z_low, z_high = -z_high, -z_low
    return max(0.0, _below(z_high, dof) - _below(z_low, dof))


def normalised_error(first: float, second: float, u_expanded_first: float, u_expanded_second: float) -> float:
    """E_n = (second − first)/√(U₁² + U₂²); beyond ±1 two results disagree (ISO/IEC 17043, from memory).

    Raises ValueError where both uncertainties are zero.
    """
    combined = math.hypot(u_expanded_first, u_expanded_second)
    if not combined > 0.0:
        raise ValueError("a normalised error needs an uncertainty above zero")
    return (second - first) / combined


def _below(z: float, dof: float | None) -> float:
    return t_distribution(z, math.inf if dof is None else dof)


def _finite(values: Iterable[float], name: str) -> list[float]:
    numbers = [float(value) for value in values]
    if not all(math.isfinite(number) for number in numbers):
        raise ValueError(f"{name} must be finite numbers")
    return numbers
