"""Checks whose every error is chosen: the exact reading of a mass plus what the test adds to it."""

from __future__ import annotations

import copy
import datetime as dt
import math

from fieldlog.records.check_entry import CheckEntry
from fieldlog.records.standard import Certificate, ReferenceStandard

GRAVITY = 9.819322843272966  # 60.2° N, 4 m: GRS 80 with the free-air term
BUOYANCY = 1 - 1.2 / 8000
STATED = {
    "mass_rel": 0.0005,
    "arm_m": 0.0005,
    "arm_angle_deg": 0.5,
    "gravity_rel": 0.00005,
    "resolution_nm": 0.1,
    "angle_reference_deg": 0.1,
    "speed_reference_rel": 0.003,
}


def reference(mass_kg, arm_m=0.5, arm_angle_deg=0.0):
    return mass_kg * GRAVITY * BUOYANCY * arm_m * math.cos(math.radians(arm_angle_deg))


def point(mass_kg, error_nm=0.0, direction="up", run="loading", **more):
    more = {"arm_m": 0.5, **more}
    exact = reference(mass_kg, more["arm_m"], more.get("arm_angle_deg", 0.0))
    tare = 7.3 if direction == "up" else -7.2
    return {
        "mass_kg": mass_kg,
        "direction": direction,
        "run": run,
        "reading_nm": tare + exact + error_nm,
        **more,
    }


def entry(*points, **more):
    body = {
        "rig": "rig A",
        "stage": "opening",
        "at": "2031-05-04T08:14:00+02:00",
        "by": "tester 1",
        "place": {"latitude_deg": 60.2, "height_m": 4.0},
        "torque": list(points) or [point(m, direction=d) for d in ("up", "down") for m in (5, 10, 20)],
        "tare": {"up_before_nm": 7.3, "up_after_nm": 7.3, "down_before_nm": -7.2, "down_after_nm": -7.2},
        "uncertainty": STATED,
    }
    return CheckEntry.model_validate(copy.deepcopy(body | more))


def remarks(verdict):
    return " | ".join(verdict["remarks"])


def mass(name="20 kg", **more):
    return ReferenceStandard(id=name.replace(" ", ""), name=name, kind="mass", nominal=20, unit="kg", **more)


CERTIFIED = Certificate(number="C-1", due_on=dt.date(2032, 1, 1))
