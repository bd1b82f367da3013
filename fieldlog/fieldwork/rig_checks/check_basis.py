"""What a rig check is judged on: gravity, the uncertainty of the references, repeatability and limits.

Fixed before the first mass is hung, so that the guided check and the finished file are judged alike.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from fieldlog.analysis.calibration import pooled_sd, reference_torque
from fieldlog.analysis.gravity import STANDARD_GRAVITY_M_S2, local_gravity
from fieldlog.analysis.reference_masses import mass_standard_uncertainty_rel
from fieldlog.records.check_entry import CheckEntry, Decision, Place, Uncertainties
from fieldlog.records.rig import Rig
from fieldlog.records.standard import ReferenceStandard
from fieldlog.records.tolerance import Tolerances

__all__ = [
    "DEFAULT_UNCERTAINTIES",
    "RECENT_CHECKS",
    "Basis",
    "Repeatability",
    "basis_of",
    "pool_repeats",
    "repeat_groups",
    "resolve_uncertainties",
]

RECENT_CHECKS = 20
"""How many of a rig's latest checks lend their repeated points to the repeatability of the next."""

DEFAULT_UNCERTAINTIES: dict[str, float] = {
    "mass_rel": 5e-4 / math.sqrt(3.0),  # a mass weighed to 0.05 %, rectangular
    "arm_m": 0.0005,  # a lever measured to the millimetre
    "arm_angle_deg": 0.3,  # a lever levelled by eye and spirit level
    "gravity_rel": 5e-5,  # local anomalies of gravity
    "resolution_nm": 0.1,  # display step
    "angle_reference_deg": 0.1,  # digital inclinometer
    "speed_reference_rel": 0.003,  # timing over an arc
}
"""Standard uncertainties where a check states none (common practice); the display step as a whole step."""

# Normal gravity at sea level lies within 0.27 % of the standard value everywhere; rectangular.
_UNKNOWN_PLACE_GRAVITY_REL = 0.0027 / math.sqrt(3.0)

_UNIT_OF = {
    "mass_rel": "",
    "arm_m": " m",
    "arm_angle_deg": "°",
    "gravity_rel": "",
    "resolution_nm": " N·m",
    "angle_reference_deg": "°",
    "speed_reference_rel": "",
}


@dataclass(frozen=True)
class Repeatability:
    """Pooled standard deviation of repeated points in N·m, with its degrees of freedom (0: none repeated)."""

    sd_nm: float = 0.0
    dof: int = 0


@dataclass(frozen=True)
class Basis:
    """Everything a point is judged on besides its own mass, lever and reading."""

    gravity_m_s2: float
    mass_rel: float
    arm_m: float
    arm_angle_deg: float
    gravity_rel: float
    resolution_nm: float
    angle_reference_deg: float
    speed_reference_rel: float
    limits: Tolerances
    decision: Decision = "guarded"
    hanger_kg: float = 0.0
    repeatability: Repeatability = Repeatability()
    origins: Mapping[str, str] = field(default_factory=dict)
    """Where each uncertainty comes from: ``file``, ``standard``, ``rig`` or ``default``."""

    @property
    def defaults_used(self) -> tuple[str, ...]:
        """The uncertainties nobody stated, each with the value taken."""
        return tuple(
            f"{name} {getattr(self, name):.2g}{_UNIT_OF[name]}"
            for name, origin in self.origins.items()
            if origin == "default"
        )


def basis_of(
    *,
    place: Place | None,
    uncertainty: Uncertainties,
    limits: Tolerances,
    decision: Decision = "guarded",
    hanger_kg: float = 0.0,
    repeatability: Repeatability = Repeatability(),
    standards: Sequence[ReferenceStandard] = (),
    rig: Rig | None = None,
    arms_m: Iterable[float] = (),
) -> Basis:
    """Return the basis of a check at ``place`` (standard gravity, with a wider uncertainty, where unknown).

    What the check states itself goes first, then certificates and classes of the ``standards`` used, then
    what is known of the ``rig``, then common practice.
    """
    values, origins = resolve_uncertainties(
        uncertainty, place_known=place is not None, standards=standards, rig=rig, arms_m=tuple(arms_m)
    )
    return Basis(
        gravity_m_s2=local_gravity(place.latitude_deg, place.height_m) if place else STANDARD_GRAVITY_M_S2,
        limits=limits,
        decision=decision,
        hanger_kg=hanger_kg,
        repeatability=repeatability,
        origins=origins,
        **values,
    )


def resolve_uncertainties(
    stated: Uncertainties,
    *,
    place_known: bool,
    standards: Sequence[ReferenceStandard] = (),
    rig: Rig | None = None,
    arms_m: Sequence[float] = (),
) -> tuple[dict[str, float], dict[str, str]]:
    """Return each uncertainty's value and where it comes from, both by field name."""
    known: dict[str, tuple[float | None, str]] = {
        "mass_rel": (_of_masses(standards), "standard"),
        "arm_m": (_of_levers(standards, rig, arms_m), "standard"),
        "resolution_nm": (rig.display_step_nm if rig else None, "rig"),
        "angle_reference_deg": (_certified(standards, "inclinometer", relative=False), "standard"),
        "speed_reference_rel": (_certified(standards, "timer", relative=True), "standard"),
    }
    values: dict[str, float] = {}
    origins: dict[str, str] = {}
    for name, default in DEFAULT_UNCERTAINTIES.items():
        own = getattr(stated, name)
        value, origin = (own, "file") if own is not None else known.get(name, (None, ""))
        values[name], origins[name] = (default, "default") if value is None else (value, origin)
    if not place_known and values["gravity_rel"] < _UNKNOWN_PLACE_GRAVITY_REL:
        values["gravity_rel"], origins["gravity_rel"] = _UNKNOWN_PLACE_GRAVITY_REL, "unknown place"
    return values, origins


def repeat_groups(entry: CheckEntry) -> tuple[tuple[float, ...], ...]:
    """Return the errors, in N·m, of every point read more than once (same mass, arm, direction, run).

    Errors, not readings, so that a lever that sags a little further between two readings is no scatter.
    Standard gravity serves here: a group differs from the local one by a constant only.
    """
    groups: dict[tuple[float, float, str, str], list[float]] = {}
    for point in entry.torque:
        reference = reference_torque(point.mass_kg + entry.hanger_kg, point.arm_m, point.arm_angle_deg)
        key = (point.mass_kg, point.arm_m, point.direction, point.run)
        groups.setdefault(key, []).append(point.reading_nm - reference)
    return tuple(tuple(errors) for errors in groups.values() if len(errors) > 1)


def pool_repeats(groups: Iterable[Sequence[float]]) -> Repeatability:
    """Return the repeatability pooled over groups of repeated points, of this check and of earlier ones."""
    return Repeatability(*pooled_sd(groups))


def _of_masses(standards: Sequence[ReferenceStandard]) -> float | None:
    """The widest relative uncertainty among the masses used: the set is as good as its worst piece."""
    relative: list[float] = []
    for standard in standards:
        if standard.kind != "mass":
            continue
        if standard.standard_uncertainty is not None:
            relative.append(standard.standard_uncertainty / standard.nominal)
        elif standard.mass_class in (None, "unweighed") or not 0.1 <= standard.nominal <= 50.0:
            relative.append(mass_standard_uncertainty_rel(None, standard.nominal))
        else:
            relative.append(mass_standard_uncertainty_rel(standard.mass_class, standard.nominal))
    return max(relative, default=None)


def _of_levers(
    standards: Sequence[ReferenceStandard], rig: Rig | None, arms_m: Sequence[float]
) -> float | None:
    certified = _certified(standards, "lever", relative=False)
    if certified is not None or rig is None:
        return certified
    known = [
        lever.standard_uncertainty_m
        for lever in rig.levers
        if lever.standard_uncertainty_m is not None
        and any(abs(lever.arm_m - arm_m) < 1e-6 for arm_m in arms_m)
    ]
    return max(known, default=None)


def _certified(standards: Sequence[ReferenceStandard], kind: str, *, relative: bool) -> float | None:
    values = [
        standard.standard_uncertainty / (standard.nominal if relative else 1.0)
        for standard in standards
        if standard.kind == kind and standard.standard_uncertainty is not None
    ]
    return max(values, default=None)
