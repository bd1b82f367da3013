"""Typical error from repeated tests of which some are missing."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

__all__ = ["typical_error_of_tests"]


def typical_error_of_tests(
    athletes: Sequence[str], visits: Sequence[str], scores: Sequence[float]
) -> tuple[float, int] | None:
    """Typical error over tests in any arrangement, and its degrees of freedom; None where there are none.

    One athlete, visit and score a test. Athletes and visits are fitted together by least squares; what is
    left over its degrees of freedom is the error variance. For a complete table this is the root of the
    two-way error mean square, with tests missing every remaining test still counts (an unbalanced two-way
    analysis of variance; Searle 1987, Linear Models for Unbalanced Data, chapter 5; from memory).
    Raises ValueError for unequal lengths or scores not finite.
    """
    if not len(athletes) == len(visits) == len(scores):
        raise ValueError("every test needs its athlete, its visit and its score")
    values = np.asarray(scores, dtype=np.float64)
    if not np.isfinite(values).all():
        raise ValueError("scores must be finite")
    if not values.size:
        return None
    rows = {athlete: i for i, athlete in enumerate(dict.fromkeys(athletes))}
    columns = {visit: i for i, visit in enumerate(dict.fromkeys(visits))}
    row = np.array([rows[athlete] for athlete in athletes])
    tests_of_row = np.bincount(row)
    design = np.zeros((values.size, len(columns)))
    design[np.arange(values.size), [columns[visit] for visit in visits]] = 1.0
    # Taking each athlete's mean out of both sides leaves the visits alone to be fitted (Frisch and Waugh 1933).
    centred = values - (np.bincount(row, values) / tests_of_row)[row]
    shares = np.zeros((len(rows), len(columns)))
    np.add.at(shares, row, design)
    design -= (shares / tests_of_row[:, None])[row]
    normal = design.T @ design
    fitted, _, rank, _ = np.linalg.lstsq(normal, design.T @ centred, rcond=None)
    dof = values.size - len(rows) - int(rank)
    if dof < 1:
        return None
    left_over = centred - design @ fitted
    # Residuals this far below the scores are rounding of the fit.
    floor = 1e-12 * float(np.abs(values).max())
    error = math.sqrt(float(np.dot(left_over, left_over)) / dof)
    return (error if error > floor else 0.0), dof
