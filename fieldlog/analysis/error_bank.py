"""The team's own error: pooled over its retests, and leaning on a published value until there are enough."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = [
    "ALONE_FROM_DOF",
    "PUBLISHED_WEIGHT_DOF",
    "ErrorEstimate",
    "expected_chance_marks",
    "pool_errors",
    "shrink_error",
]

PUBLISHED_WEIGHT_DOF = 10.0
"""A published value alone counts as much as eleven retested athletes of one's own (common practice)."""
ALONE_FROM_DOF = 30.0
"""From so many degrees of freedom on the team's own data stand alone (common practice)."""


@dataclass(frozen=True)
class ErrorEstimate:
    """A typical error with its degrees of freedom, and how much of it is the team's own, in percent."""

    value: float
    dof: float
    own_pct: float


def pool_errors(errors: Sequence[float], dofs: Sequence[float]) -> tuple[float, float]:
    """Pool typical errors of several retests: √(Σ ν·TE² / Σ ν) with Σ ν degrees of freedom.

    Raises ValueError for unequal lengths, no degrees of freedom at all, or negative values.
    """
    if len(errors) != len(dofs):
        raise ValueError("every typical error needs its degrees of freedom")
    if any(not (math.isfinite(value) and value >= 0.0) for value in (*errors, *dofs)):
        raise ValueError("errors and degrees of freedom must be finite and zero or above")
    total = math.fsum(dofs)
    if total <= 0.0:
        raise ValueError("no retest to pool")
    squares = math.fsum(dof * error**2 for error, dof in zip(errors, dofs, strict=True))
    return math.sqrt(squares / total), total


def shrink_error(
    own: float,
    own_dof: float,
    published: float,
    *,
    published_dof: float = PUBLISHED_WEIGHT_DOF,
    alone_from_dof: float = ALONE_FROM_DOF,
) -> ErrorEstimate:
    """Shrink the team's own typical error towards a published one.

    TE² = (ν·own² + w·published²)/(ν + w), with ν + w degrees of freedom: the conjugate rule for a variance.
    The weight w of the published value fades as own data grow, w = ν₀·(1 − ν/30), and is 0 from 30 own
    degrees on, so that another team's error cannot stay in one's own for good. Without own retests
    (``own_dof`` 0) it is the published value with ν₀ degrees.
    """
    weight = published_dof * max(0.0, 1.0 - own_dof / alone_from_dof)
    value, dof = pool_errors((own, published), (own_dof, weight))
    return ErrorEstimate(value, dof, 100.0 * own_dof / dof)


def expected_chance_marks(marks_judged: int, confidence: float = 0.95) -> float:
    """How many changes would be called real by chance alone if nothing had changed."""
    return marks_judged * (1.0 - confidence)
