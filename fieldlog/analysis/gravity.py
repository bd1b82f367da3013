"""Local gravity: what a hung mass really pulls with, at this latitude and height."""

from __future__ import annotations

import math

__all__ = ["STANDARD_GRAVITY_M_S2", "local_gravity"]

STANDARD_GRAVITY_M_S2 = 9.80665  # 3rd CGPM 1901, by definition

# GRS 80, Moritz, Geodetic Reference System 1980: gravity at the equator, Somigliana's k, first eccentricity².
_EQUATOR_M_S2 = 9.7803267715
_SOMIGLIANA_K = 0.001931851353
_ECCENTRICITY_SQUARED = 0.0066943800229
_FREE_AIR_PER_S2 = 3.086e-6  # conventional free-air gradient, 0.3086 mGal a metre


def local_gravity(latitude_deg: float, height_m: float = 0.0) -> float:
    """Normal gravity of GRS 80 at a latitude, with the free-air term for the height.

    ``latitude_deg`` geodetic, −90 to 90; ``height_m`` above sea level in metres. Returns m/s².
    Somigliana's closed formula g = gₑ·(1 + k·sin²φ)/√(1 − e²·sin²φ), minus 3.086e-6 a metre.
    The true value differs by local anomalies, seldom more than 0.005 %.

    >>> round(local_gravity(45.0), 9)
    9.806199203

    Raises ValueError for a latitude past the poles or anything not finite.
    """
    if not (math.isfinite(latitude_deg) and abs(latitude_deg) <= 90.0):
        raise ValueError(f"latitude must lie between -90 and 90 degrees, not {latitude_deg}")
    if not math.isfinite(height_m):
        raise ValueError(f"height must be a finite number of metres, not {height_m}")
    sine_squared = math.sin(math.radians(latitude_deg)) ** 2
    at_sea_level = (
        _EQUATOR_M_S2
        * (1.0 + _SOMIGLIANA_K * sine_squared)
        / math.sqrt(1.0 - _ECCENTRICITY_SQUARED * sine_squared)
    )
    return at_sea_level - _FREE_AIR_PER_S2 * height_m
