"""Limits of reference masses: what a class promises where no certificate says more."""

from __future__ import annotations

import math

__all__ = [
    "MASS_CLASSES",
    "UNWEIGHED_PLATE_LIMIT_REL",
    "limit_kg",
    "mass_standard_uncertainty_rel",
]

# OIML R 111-1:2004 table 1, maximum permissible errors in mg at 1, 2, 5, 10, 20 and 50 kg.
_NOMINAL_KG = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
_LIMITS_MG: dict[str, tuple[float, ...]] = {
    "E1": (0.5, 1.0, 2.5, 5.0, 10.0, 25.0),
    "E2": (1.6, 3.0, 8.0, 16.0, 30.0, 80.0),
    "F1": (5.0, 10.0, 25.0, 50.0, 100.0, 250.0),
    "F2": (16.0, 30.0, 80.0, 160.0, 300.0, 800.0),
    "M1": (50.0, 100.0, 250.0, 500.0, 1000.0, 2500.0),
    "M2": (160.0, 300.0, 800.0, 1600.0, 3000.0, 8000.0),
    "M3": (500.0, 1000.0, 2500.0, 5000.0, 10000.0, 25000.0),
}
_ONLY_AT_50_KG_MG = {"M1-2": 5000.0, "M2-3": 16000.0}

MASS_CLASSES = (*_LIMITS_MG, *_ONLY_AT_50_KG_MG)

UNWEIGHED_PLATE_LIMIT_REL = 0.03
"""Half-width taken for a plate nobody weighed: 3 % of what is cast on it (common practice)."""


def limit_kg(accuracy_class: str, nominal_kg: float) -> float:
    """Maximum permissible error, ± kg, of a mass of this class (OIML R 111-1:2004 table 1).

    A mass between two rows of the table (25 kg) takes the relative limit of the row below; from 100 g to
    1 kg the relative limit of the 1 kg row holds. Raises ValueError for an unknown class or a mass outside
    0.1 to 50 kg.
    """
    if not (math.isfinite(nominal_kg) and 0.1 <= nominal_kg <= 50.0):
        raise ValueError(f"class limits are kept for masses from 0.1 to 50 kg, not {nominal_kg} kg")
    if accuracy_class in _ONLY_AT_50_KG_MG:
        if nominal_kg != 50.0:
            raise ValueError(f"class {accuracy_class} exists from 50 kg on only")
        return _ONLY_AT_50_KG_MG[accuracy_class] * 1e-6
    if accuracy_class not in _LIMITS_MG:
        raise ValueError(f"mass class is one of {', '.join(MASS_CLASSES)}, not {accuracy_class!r}")
    row = max((i for i, kg in enumerate(_NOMINAL_KG) if kg <= nominal_kg), default=0)
    return _LIMITS_MG[accuracy_class][row] * 1e-6 * nominal_kg / _NOMINAL_KG[row]


def mass_standard_uncertainty_rel(accuracy_class: str | None, nominal_kg: float) -> float:
    """Relative standard uncertainty of a mass without certificate: its limit as a rectangular distribution.

    Without a class the mass is an unweighed plate. Divisor √3, JCGM 100:2008 4.3.7.
    """
    if accuracy_class is None:
        return UNWEIGHED_PLATE_LIMIT_REL / math.sqrt(3.0)
    return limit_kg(accuracy_class, nominal_kg) / nominal_kg / math.sqrt(3.0)
