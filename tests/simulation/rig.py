"""The rig on its check masses: what its display shows, as a check entry ready to be judged.

The torque of a mass is (mass + hanger) · g · (1 − 1.2/8000) · arm · cos(arm angle), with g the GRS 80
normal gravity of the place (Moritz 2000, J Geod 74:128, closed formula of Somigliana) less 3.086e-6 a
metre of height (free air). The display adds the rig's own flaws and rounds to its step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin, sqrt
from random import Random
from typing import Any

AIR_BUOYANCY = 1 - 1.2 / 8000


def local_gravity_m_s2(latitude_deg: float, height_m: float = 0.0) -> float:
    """GRS 80 normal gravity on the ellipsoid with the first-order free-air term, in m/s²."""
    sine_squared = sin(radians(latitude_deg)) ** 2
    on_ellipsoid = (
        9.7803267715 * (1 + 0.001931851353 * sine_squared) / sqrt(1 - 0.0066943800229 * sine_squared)
    )
    return on_ellipsoid - 3.086e-6 * height_m


def mass_torque_nm(mass_kg: float, arm_m: float, gravity_m_s2: float, arm_angle_deg: float = 0.0) -> float:
    """Torque of a mass on a lever ``arm_angle_deg`` from the horizontal, with air buoyancy, in N·m."""
    return mass_kg * gravity_m_s2 * AIR_BUOYANCY * arm_m * cos(radians(arm_angle_deg))


@dataclass(frozen=True)
class Place:
    """Where a check is made."""

    latitude_deg: float
    height_m: float

    @property
    def gravity_m_s2(self) -> float:
        return local_gravity_m_s2(self.latitude_deg, self.height_m)


@dataclass(frozen=True)
class SimulatedRig:
    """A rig's true behaviour.

    ``slope_up``/``slope_down``: displayed torque per true torque; ``tare_up_nm``/``tare_down_nm``: what
    lever and empty hanger show in each direction; ``hysteresis_pct``: by how much an unloading reading
    lies above the loading one, in per cent of the largest load of the run, as a half wave over the load;
    ``drift_nm``: how far the zero wanders during one check; ``noise_nm``: SD of a display reading.
    """

    slope_up: float = 1.0
    slope_down: float = 1.0
    tare_up_nm: float = 7.3
    tare_down_nm: float = -7.2
    hysteresis_pct: float = 0.1
    drift_nm: float = 0.0
    noise_nm: float = 0.05
    display_step_nm: float = 0.1
    angle_offset_deg: float = 0.1
    speed_slope: float = 1.0

    def slope(self, direction: str) -> float:
        return self.slope_up if direction == "up" else self.slope_down

    def tare_nm(self, direction: str) -> float:
        return self.tare_up_nm if direction == "up" else self.tare_down_nm


PERFECT_RIG = SimulatedRig(
    tare_up_nm=0.0,
    tare_down_nm=0.0,
    hysteresis_pct=0.0,
    noise_nm=0.0,
    display_step_nm=0.0,
    angle_offset_deg=0.0,
)


def check_entry(
    rig: SimulatedRig,
    place: Place,
    *,
    name: str,
    stage: str,
    at: str,
    by: str,
    masses_kg: Sequence[float] = (5.0, 10.0, 20.0),
    arm_m: float = 0.5,
    state: str = "as-found",
    tolerance: str = "field",
    temperature_c: float | None = None,
    powered_on_at: str | None = None,
    directions: Sequence[str] = ("up", "down"),
    angles_deg: Sequence[float] = (0.0, 30.0, 60.0, 90.0),
    speeds_deg_s: Sequence[float] = (60.0, 120.0, 180.0),
    seed: int = 0,
) -> dict[str, Any]:
    """One rig check as typed in at the rig: per direction the masses up and down again, tares before and after."""
    display = _Display(rig, Random(seed), readings=2 * len(directions) * len(masses_kg) + 4)
    tare = {f"{direction}_before_nm": display.show(rig.tare_nm(direction)) for direction in ("up", "down")}
    points = []
    for direction in directions:
        largest_nm = mass_torque_nm(max(masses_kg), arm_m, place.gravity_m_s2)
        for run, masses in (("loading", sorted(masses_kg)), ("unloading", sorted(masses_kg, reverse=True))):
            for mass_kg in masses:
                true_nm = mass_torque_nm(mass_kg, arm_m, place.gravity_m_s2)
                lag_nm = rig.hysteresis_pct / 100 * largest_nm * sin(radians(180) * true_nm / largest_nm)
                shown_nm = (
                    rig.tare_nm(direction) + rig.slope(direction) * true_nm + (run == "unloading") * lag_nm
                )
                points.append(
                    {
                        "mass_kg": mass_kg,
                        "arm_m": arm_m,
                        "direction": direction,
                        "run": run,
                        "reading_nm": display.show(shown_nm),
                    }
                )
    tare |= {f"{direction}_after_nm": display.show(rig.tare_nm(direction)) for direction in ("up", "down")}
    entry: dict[str, Any] = {"rig": name, "stage": stage, "state": state, "at": at, "by": by}
    entry["place"] = {"latitude_deg": place.latitude_deg, "height_m": place.height_m}
    conditions = {"temperature_c": temperature_c, "powered_on_at": powered_on_at}
    if conditions := {key: value for key, value in conditions.items() if value is not None}:
        entry["conditions"] = conditions
    return entry | {
        "torque": points,
        "tare": tare,
        "angle": [
            {"reference_deg": angle, "reading_deg": round(angle + rig.angle_offset_deg, 1)}
            for angle in angles_deg
        ],
        "speed": [
            {"reference_deg_s": speed, "reading_deg_s": round(speed * rig.speed_slope, 1)}
            for speed in speeds_deg_s
        ],
        "tolerance": tolerance,
        "uncertainty": {
            "mass_rel": 0.0005,
            "arm_m": 0.0005,
            "arm_angle_deg": 0.5,
            "gravity_rel": 0.00005,
            "resolution_nm": rig.display_step_nm,
            "angle_reference_deg": 0.2,
            "speed_reference_rel": 0.005,
        },
        "decision": "guarded",
    }


class _Display:
    """Shows torques one after another: zero drift, noise, display step."""

    def __init__(self, rig: SimulatedRig, random: Random, readings: int) -> None:
        self._rig, self._random, self._readings, self._shown = rig, random, readings, 0

    def show(self, torque_nm: float) -> float:
        drifted_nm = torque_nm + self._rig.drift_nm * self._shown / (self._readings - 1)
        self._shown += 1
        noisy_nm = drifted_nm + self._rig.noise_nm * self._random.gauss(0.0, 1.0)
        step_nm = self._rig.display_step_nm
        return round(round(noisy_nm / step_nm) * step_nm, 6) if step_nm else noisy_nm
