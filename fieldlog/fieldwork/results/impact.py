"""What a failed closing check does to the results before it: how far each is moved, and what may be done."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from fieldlog.analysis.calibration import coverage_factor, effective_dof
from fieldlog.fieldwork.results.cover import REACH_OVER_LARGEST, interpolated_nm
from fieldlog.fieldwork.rig_checks.check_basis import Repeatability

__all__ = [
    "CHOICES",
    "ErrorChange",
    "Impact",
    "error_change",
    "impact_of",
    "proportional_change",
    "unknown_impact",
]

ImpactWord = Literal["small", "matters", "large", "unknown"]
CHOICES = ("release", "correct", "withhold", "retest")
_ALL_AT_ONCE = 1.5
_SAME_LOAD = 0.01  # a lever that sags a little further is the same load
_NOT_REPEATED = Repeatability()


@dataclass(frozen=True)
class ErrorChange:
    """Change D of the rig's error between two checks at one torque, with its expanded uncertainty U_D."""

    torque_nm: float
    change_nm: float
    u_expanded_nm: float
    beyond_checked_range: bool


@dataclass(frozen=True)
class Impact:
    """What a change of error means for one result, and what the lead may choose.

    ``release`` is open where the impact is small; ``correct`` always needs a documented, linear cause.
    ``change`` is None where it cannot be told.
    """

    word: ImpactWord
    change: ErrorChange | None
    text: str
    choices: tuple[str, ...]


def error_change(
    opening: Mapping[str, Any],
    closing: Mapping[str, Any],
    *,
    direction: str,
    torque_nm: float,
    resolution_nm: float,
    repeatability: Repeatability = _NOT_REPEATED,
) -> ErrorChange | None:
    """Return how the rig's error changed from one check to the other at a torque, in one direction.

    ``opening`` and ``closing`` are verdicts of ``check_judge.judge``. D is the difference of the mean errors
    at loads both checks share, interpolated linearly over torque; below the smallest as there, above the
    largest in proportion. The same masses and lever cancel, so U_D (95 %) rests on repeatability and the
    display steps of reading and tare only. None where the checks share no load in that direction.
    """
    known = [
        (
            before.reference_nm,
            after.error_nm - before.error_nm,
            _u_of_difference(before.readings, after.readings, resolution_nm, repeatability),
        )
        for before in _errors(opening, direction)
        for after in _errors(closing, direction)
        if before.mass_kg == after.mass_kg
        and abs(after.reference_nm - before.reference_nm) <= _SAME_LOAD * before.reference_nm
    ]
    if not known:
        return None
    known.sort()
    torque = abs(torque_nm)
    smallest, largest = known[0][0], known[-1][0]
    return ErrorChange(
        torque_nm=torque,
        change_nm=interpolated_nm(torque, [(reference, change) for reference, change, _ in known]),
        u_expanded_nm=interpolated_nm(torque, [(reference, u) for reference, _, u in known]),
        beyond_checked_range=torque < smallest or torque > REACH_OVER_LARGEST * largest,
    )


def impact_of(
    change: ErrorChange, *, typical_error_nm: float | None, detectable_change_nm: float | None
) -> Impact:
    """Return the word for a change of the rig's error beside an athlete's own error.

    Small: |D| + U_D up to half the typical error; matters: up to half the detectable change; else large.
    Unknown, and not to be released, without those two or beyond the checked range.
    """
    size = abs(change.change_nm) + change.u_expanded_nm
    said = (
        f"changed by {change.change_nm:+.2f} ± {change.u_expanded_nm:.2f} N·m at {change.torque_nm:.0f} N·m"
    )
    word: ImpactWord
    if change.beyond_checked_range:
        word, why = "unknown", "beyond the checked range"
    elif typical_error_nm is None or detectable_change_nm is None:
        word, why = "unknown", "no typical error is known for this measure"
    elif size <= typical_error_nm / 2.0:
        word, why = "small", f"half its error is {typical_error_nm / 2.0:.1f}"
    elif size <= detectable_change_nm / 2.0:
        word, why = "matters", f"half its error is {typical_error_nm / 2.0:.1f}"
    else:
        word, why = "large", f"half its detectable change is {detectable_change_nm / 2.0:.1f}"
    choices = CHOICES if word == "small" else CHOICES[1:]
    return Impact(word, change, f"{said}; {word}: {why}", choices)


def unknown_impact(why: str) -> Impact:
    """Return the impact where the change of the rig cannot be told: nothing can be released or corrected."""
    return Impact("unknown", None, f"unknown: {why}", ("withhold", "retest"))


def proportional_change(changes: Sequence[ErrorChange]) -> float | None:
    """Return the one share of the torque by which the rig's error changed at every load, or None.

    ``changes`` are those at the loads two checks share. The share is the least-squares line through zero,
    each load weighted by 1/U_D²; it holds where every change lies within 1.5·U_D of that line (about three
    standard uncertainties, as several loads are looked at at once), as a gain that moved (lever, clamp, slope
    of the torque) leaves it. One load alone cannot tell a gain from a shift.
    """
    weighted = [(change, 1.0 / max(change.u_expanded_nm, 1e-9) ** 2) for change in changes]
    if len({round(change.torque_nm, 6) for change in changes}) < 2:
        return None
    share = math.fsum(w * c.torque_nm * c.change_nm for c, w in weighted) / math.fsum(
        w * c.torque_nm**2 for c, w in weighted
    )
    fits = all(abs(c.change_nm - share * c.torque_nm) <= _ALL_AT_ONCE * c.u_expanded_nm for c in changes)
    return share if fits else None


@dataclass(frozen=True)
class _LoadError:
    mass_kg: float
    reference_nm: float
    error_nm: float
    readings: int


def _errors(judged: Mapping[str, Any], direction: str) -> list[_LoadError]:
    """Mean error of each load: a mass at one reference."""
    found: dict[tuple[float, float], list[Mapping[str, Any]]] = {}
    for point in judged["torque"]["points"]:
        if point["direction"] == direction:
            found.setdefault((point["mass_kg"], point["reference_nm"]), []).append(point)
    return [
        _LoadError(
            mass_kg=mass_kg,
            reference_nm=reference_nm,
            error_nm=math.fsum(point["error_nm"] for point in points) / len(points),
            readings=len(points),
        )
        for (mass_kg, reference_nm), points in found.items()
    ]


def _u_of_difference(
    readings_before: int, readings_after: int, resolution_nm: float, repeatability: Repeatability
) -> float:
    steps = 2.0 * resolution_nm / math.sqrt(12.0)  # reading and tare, in both checks
    scatter = repeatability.sd_nm * math.sqrt(1.0 / readings_before + 1.0 / readings_after)
    combined = math.hypot(steps, scatter)
    dof = effective_dof(combined, (steps, scatter), (math.inf, repeatability.dof or math.inf))
    return max(2.0, coverage_factor(dof)) * combined
