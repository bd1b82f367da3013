"""One point of a rig check: reference, error, uncertainty line by line, and its word."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fieldlog.analysis.calibration import coverage_factor, decide, effective_dof, reference_torque
from fieldlog.fieldwork.rig_checks.check_basis import Basis
from fieldlog.records.check_entry import Decision, TorquePoint

__all__ = ["BudgetLine", "PointBudget", "PointJudgement", "is_undecidable", "judge_point", "point_budget"]

SMALLEST_COVERAGE_FACTOR = 2.0
# Student's t for 95 % is below 2 from here on, so the quantile need not be looked up.
_DOF_OF_FACTOR_TWO = 61.0


@dataclass(frozen=True)
class BudgetLine:
    """One source of uncertainty: what it adds to the point in N·m, and how well it is known itself."""

    source: str
    stated: str
    origin: str
    u_nm: float
    dof: float
    share_pct: float = 0.0


@dataclass(frozen=True)
class PointBudget:
    """The uncertainty of one point: its lines, their root sum of squares, and the expanded value."""

    lines: tuple[BudgetLine, ...]
    u_nm: float
    dof: float
    coverage_factor: float
    u_expanded_nm: float


@dataclass(frozen=True)
class PointJudgement:
    """What is said of one reading."""

    reference_nm: float
    reading_nm: float
    error_nm: float
    error_pct: float
    tolerance_nm: float
    u_expanded_nm: float
    coverage_factor: float
    verdict: str
    undecidable: bool


def judge_point(basis: Basis, point: TorquePoint, tare_nm: float) -> PointJudgement:
    """Judge one reading against its reference; ``tare_nm`` is the tare of its direction."""
    reference = _reference_nm(basis, point)
    error = point.reading_nm - tare_nm - reference
    tolerance = basis.limits.torque_nm(reference)
    uncertainty = point_budget(basis, point)
    return PointJudgement(
        reference_nm=reference,
        reading_nm=point.reading_nm,
        error_nm=error,
        error_pct=100.0 * error / reference,
        tolerance_nm=tolerance,
        u_expanded_nm=uncertainty.u_expanded_nm,
        coverage_factor=uncertainty.coverage_factor,
        verdict=decide(error, uncertainty.u_expanded_nm, tolerance, basis.decision),
        undecidable=is_undecidable(uncertainty.u_expanded_nm, tolerance, basis.decision),
    )


def point_budget(basis: Basis, point: TorquePoint) -> PointBudget:
    """Return the uncertainty of one point line by line.

    Root sum of squares of mass, gravity, lever length, lever angle (T·tan φ·u), display step/√12 for tare
    and for reading, and repeatability; U = k·u with k = max(2, t for 95 % at the effective degrees of
    freedom after Welch and Satterthwaite).
    """
    reference = abs(_reference_nm(basis, point))
    step = basis.resolution_nm / math.sqrt(12.0)
    tangent = abs(math.tan(math.radians(point.arm_angle_deg)))
    repeats = basis.repeatability
    sources: list[tuple[str, str, str, float, float]] = [
        ("mass", f"{100 * basis.mass_rel:.3g} %", "mass_rel", reference * basis.mass_rel, math.inf),
        (
            "gravity",
            f"{100 * basis.gravity_rel:.3g} %",
            "gravity_rel",
            reference * basis.gravity_rel,
            math.inf,
        ),
        (
            "lever length",
            f"{1000 * basis.arm_m:.3g} mm",
            "arm_m",
            reference * basis.arm_m / point.arm_m,
            math.inf,
        ),
        (
            "lever angle",
            f"{basis.arm_angle_deg:.3g}°",
            "arm_angle_deg",
            reference * tangent * math.radians(basis.arm_angle_deg),
            math.inf,
        ),
        ("display step, tare", f"{basis.resolution_nm:g} N·m", "resolution_nm", step, math.inf),
        ("display step, reading", f"{basis.resolution_nm:g} N·m", "resolution_nm", step, math.inf),
    ]
    if repeats.dof:
        stated = f"{repeats.sd_nm:.2g} N·m, {repeats.dof} degrees of freedom"
        sources.append(("repeatability", stated, "repeats", repeats.sd_nm, float(repeats.dof)))
    combined = math.hypot(*(u for _, _, _, u, _ in sources))
    dof = effective_dof(combined, [u for _, _, _, u, _ in sources], [dof for *_, dof in sources])
    factor = _factor(dof)
    return PointBudget(
        lines=tuple(
            BudgetLine(
                source,
                stated,
                basis.origins.get(name, name),
                u,
                own_dof,
                100.0 * (u / combined) ** 2 if combined else 0.0,
            )
            for source, stated, name, u, own_dof in sources
        ),
        u_nm=combined,
        dof=dof,
        coverage_factor=factor,
        u_expanded_nm=factor * combined,
    )


def is_undecidable(u_expanded: float, tolerance: float, decision: Decision) -> bool:
    """Say whether the uncertainty leaves nothing to decide with.

    Simple acceptance: U above a third of the tolerance; guarded: U reaches the tolerance, so no reading
    could pass.
    """
    return u_expanded > tolerance / 3.0 if decision == "simple" else u_expanded >= tolerance


def _reference_nm(basis: Basis, point: TorquePoint) -> float:
    return reference_torque(
        point.mass_kg + basis.hanger_kg,
        point.arm_m,
        point.arm_angle_deg,
        gravity_m_s2=basis.gravity_m_s2,
    )


def _factor(dof: float) -> float:
    if dof >= _DOF_OF_FACTOR_TWO:
        return SMALLEST_COVERAGE_FACTOR
    return max(SMALLEST_COVERAGE_FACTOR, coverage_factor(dof))
