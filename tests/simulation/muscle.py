"""Muscle torque over angle and speed.

Two families. ``HalfSine`` and ``CosineBell`` have peak, angle of peak and work in closed form and do
not depend on speed; tests use them. ``PublishedMuscle`` is the torque-angle-velocity form of
Anderson, Madigan and Nussbaum (2007), J Biomech 40(14):3105-3113, with the coefficients of their
Table 3 (adults of 18-25 years; read in a public transcription of the table, the article itself was
not seen); the sample recordings use it for the knee.

All torques here are magnitudes in the direction of the effort; who pushes which way is the
business of ``recording.Effort``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

STANDARD_GRAVITY_M_S2 = 9.81  # the value the published scaling mass x gravity x height was fitted with


class Muscle(Protocol):
    """Torque magnitude (N·m) at angles (deg) and speeds along the effort (deg/s, negative = eccentric)."""

    def torque_nm(self, angle_deg: ArrayLike, speed_deg_s: ArrayLike = 0.0) -> NDArray[np.float64]: ...


@dataclass(frozen=True)
class HalfSine:
    """``peak · sin(π (θ − low)/(high − low))``: zero at both ends of the range and outside it.

    Peak at mid-range; work over the whole range = peak · 2/π · range in radians.
    """

    peak_nm: float
    low_deg: float
    high_deg: float

    @property
    def peak_angle_deg(self) -> float:
        return (self.low_deg + self.high_deg) / 2

    def torque_nm(self, angle_deg: ArrayLike, speed_deg_s: ArrayLike = 0.0) -> NDArray[np.float64]:
        del speed_deg_s
        share = (np.asarray(angle_deg, float) - self.low_deg) / (self.high_deg - self.low_deg)
        return self.peak_nm * np.sin(np.pi * np.clip(share, 0.0, 1.0))

    def work_j(self, first_deg: float, second_deg: float) -> float:
        """Closed-form ∫ torque dθ between two angles of the range, in either order, in joule."""
        span = self.high_deg - self.low_deg
        phases = [np.pi * (angle - self.low_deg) / span for angle in sorted((first_deg, second_deg))]
        return float(self.peak_nm * np.radians(span) / np.pi * (np.cos(phases[0]) - np.cos(phases[1])))


@dataclass(frozen=True)
class CosineBell:
    """``peak · cos(c (θ − θ_peak))``, the angle factor of the published form with a free peak angle.

    ``width_deg`` is the distance from the peak to zero torque (c = 90°/width); beyond it torque is zero.
    Work = peak/c · [sin(c (θ − θ_peak))] between two angles inside the bell.
    """

    peak_nm: float
    peak_angle_deg: float
    width_deg: float

    def _phase(self, angle_deg: ArrayLike) -> NDArray[np.float64]:
        phase = (np.asarray(angle_deg, float) - self.peak_angle_deg) * (np.pi / 2 / self.width_deg)
        return np.clip(phase, -np.pi / 2, np.pi / 2)

    def torque_nm(self, angle_deg: ArrayLike, speed_deg_s: ArrayLike = 0.0) -> NDArray[np.float64]:
        del speed_deg_s
        return self.peak_nm * np.cos(self._phase(angle_deg))

    def work_j(self, first_deg: float, second_deg: float) -> float:
        """Closed-form ∫ torque dθ between two angles, in either order, in joule."""
        low, high = self._phase(sorted((first_deg, second_deg)))
        return float(self.peak_nm * np.radians(self.width_deg) * 2 / np.pi * (np.sin(high) - np.sin(low)))


@dataclass(frozen=True)
class Coefficients:
    """C1 to C6 of the published form: strength (share of mass·g·height), angle factor (1/rad, rad), speed factor."""

    c1: float
    c2_per_rad: float
    c3_rad: float
    c4_rad_s: float
    c5_rad_s: float
    c6_s_per_rad: float


#: Table 3 of the article, age 18-25. Knee angle: 0 = full extension, flexion positive.
PUBLISHED: dict[tuple[str, str], Coefficients] = {
    ("knee extension", "male"): Coefficients(0.163, 1.258, 1.133, 1.517, 3.952, 0.095),
    ("knee extension", "female"): Coefficients(0.159, 1.187, 1.274, 1.393, 3.623, 0.173),
    ("knee flexion", "male"): Coefficients(0.087, 0.869, 0.522, 2.008, 5.233, 0.304),
    ("knee flexion", "female"): Coefficients(0.080, 0.873, 0.635, 1.698, 4.412, 0.175),
}


@dataclass(frozen=True)
class PublishedMuscle:
    """The published form for one person; ``strength`` scales it (1 = the table's average young adult)."""

    coefficients: Coefficients
    body_mass_kg: float
    height_m: float
    strength: float = 1.0

    @property
    def peak_angle_deg(self) -> float:
        return float(np.degrees(self.coefficients.c3_rad))

    @property
    def isometric_peak_nm(self) -> float:
        return (
            self.strength * self.coefficients.c1 * self.body_mass_kg * STANDARD_GRAVITY_M_S2 * self.height_m
        )

    def torque_nm(self, angle_deg: ArrayLike, speed_deg_s: ArrayLike = 0.0) -> NDArray[np.float64]:
        c = self.coefficients
        angle_factor = np.cos(c.c2_per_rad * (np.radians(np.asarray(angle_deg, float)) - c.c3_rad))
        return self.isometric_peak_nm * np.maximum(angle_factor, 0.0) * speed_factor(c, speed_deg_s)


def speed_factor(coefficients: Coefficients, speed_deg_s: ArrayLike) -> NDArray[np.float64]:
    """Torque at a speed as a share of the isometric torque; negative speeds are eccentric.

    (2·C4·C5 + v(C5 − 3·C4)) / (2·C4·C5 + v(2·C5 − 4·C4)) · (1 − C6·min(ω, 0)) with v = |ω| in rad/s:
    75 % of the isometric torque at C4, 50 % at C5.
    """
    c = coefficients
    omega = np.radians(np.asarray(speed_deg_s, float))
    v = np.abs(omega)
    base = 2 * c.c4_rad_s * c.c5_rad_s
    concentric = (base + v * (c.c5_rad_s - 3 * c.c4_rad_s)) / (base + v * (2 * c.c5_rad_s - 4 * c.c4_rad_s))
    return concentric * (1 - c.c6_s_per_rad * np.minimum(omega, 0.0))
