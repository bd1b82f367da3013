"""Coach's pages made by hand, of any size and with any code, without a workspace."""

import datetime as dt
import random

from fieldlog.fieldwork.catalogue import shipped_protocols
from fieldlog.fieldwork.change.judged_change import Change
from fieldlog.fieldwork.pages.coach_page import CAUTIONS, CoachGroup, CoachLine, CoachPage
from fieldlog.sheets.content import Stamp

STAMP = Stamp("C-20310504-3f9a2c", 1, dt.date(2031, 5, 4), "ab" * 32)
FIRST = Change("first visit, no comparison")


def change_of(change_pct, detectable_pct=20.8):
    if abs(change_pct) <= detectable_pct:
        word = "within error"
    else:
        word = "higher, beyond error" if change_pct > 0 else "lower, beyond error"
    return Change(word, change_pct, detectable_pct, "2030-11-12")


def line(code, side="right", *, chance=None, mass=70.0, peaks=(120.0, 210.0), **more):
    peak = dict(zip(("up", "down"), peaks, strict=True))
    chance = chance or random.Random(code)
    values = {
        "code": code,
        "side": side,
        "body_mass_kg": mass,
        "peak_torque_nm": peak,
        "peak_torque_nm_kg": {
            name: value / mass if value is not None and mass else None for name, value in peak.items()
        },
        "ratio_pct": 100 * peak["up"] / peak["down"] if None not in peak.values() else None,
        "side_difference_pct": {name: chance.gauss(0, 8) if side == "right" else None for name in peak},
        "change": {name: change_of(chance.gauss(2, 12)) for name in peak},
        "quality": "good",
        "covers": dict.fromkeys(peak, "confirmed"),
        "cover_remarks": (),
        "repetitions": "5",
        "next_step": "nothing to add",
    }
    return CoachLine(**{**values, **more})


def squad(count, sides=("left", "right"), *, code="R{:02d}", seed=1, **more):
    chance = random.Random(seed)
    return tuple(
        line(
            code.format(number),
            side,
            chance=chance,
            peaks=(chance.gauss(120, 18), chance.gauss(210, 30)),
            **more,
        )
        for number in range(1, count + 1)
        for side in sides
    )


def page(lines, *, protocol="knee_60_180", mean_change=None, **more):
    group = CoachGroup(
        protocol=shipped_protocols()[protocol],
        speed_deg_s=60.0,
        lines=tuple(lines),
        typical_error_pct=7.5,
        typical_error_source="invented for this test",
        mean_change_pct=mean_change or {"up": None, "down": None},
    )
    values = {
        "site_name": "Skarvik boathouse",
        "date": dt.date(2031, 5, 4),
        "squads": ("Skarvik U21",),
        "groups": (group,) if lines else (),
        "not_tested": (),
        "waiting_for_rig": 0,
        "shows_strip": False,
        "cautions": CAUTIONS,
        "results": (),
    }
    return CoachPage(**{**values, **more})
