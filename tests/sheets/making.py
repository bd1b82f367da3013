"""A small workspace with invented results, made without recordings so that tests of pages are quick."""

import datetime as dt
import hashlib
import random

from fieldlog.fieldwork.athletes.athletes import add_athlete
from fieldlog.fieldwork.books import at_site, of_team
from fieldlog.fieldwork.rig_checks.checks import save_check
from fieldlog.fieldwork.visit.visits import ensure_visit
from fieldlog.records.base import derived_id
from fieldlog.records.batch import Batch, BatchEntry
from fieldlog.records.check_entry import CheckEntry
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.rig import Rig, rig_id
from fieldlog.records.site import Site
from fieldlog.store.workspace import Workspace

DAY = dt.date(2031, 5, 4)
BEFORE = dt.date(2030, 11, 12)
OFFSET = dt.timezone(dt.timedelta(hours=2))
PROTOCOL = "knee_60_180"
RIG = "rig A"


def at(day, text):
    hour, minute = text.split(":")
    return dt.datetime(day.year, day.month, day.day, int(hour), int(minute), tzinfo=OFFSET)


def measures(chance, body_mass_kg, quality=(), peak=True):
    """What the analysis of a set would give, with three movements a direction."""
    movements, figures = [], {}
    for direction, level in (("up", 120.0), ("down", 210.0)):
        peaks = []
        for turn in range(3):
            torque = round(level * chance.uniform(0.85, 1.15), 2) if peak else None
            peaks.append(torque)
            start, end = (5.0, 95.0) if direction == "up" else (95.0, 5.0)
            movements.append(
                {
                    "index": len(movements) + 1,
                    "direction": direction,
                    "mode": "concentric",
                    "start_s": 2.0 * turn,
                    "end_s": 2.0 * turn + 1.5,
                    "start_deg": start,
                    "end_deg": end,
                    "range_deg": 90.0,
                    "load_range_deg": 80.0,
                    "load_range_share_pct": 89.0,
                    "mean_speed_deg_s": 60.0,
                    "peak_torque_nm": torque,
                    "peak_torque_angle_deg": 60.0 if peak else None,
                    "time_to_peak_s": 0.5 if peak else None,
                    "work_j": torque and torque * 1.2,
                    "load_range_work_j": torque,
                    "mean_power_w": torque and torque * 0.8,
                    "peak_power_w": torque,
                    "impulse_nms": torque,
                    "torque_at_nm": {},
                    "flags": [],
                }
            )
        best = max(peaks) if peak else None
        figures[direction] = {
            "movements": 3,
            "best_peak_torque_nm": best,
            "best_peak_torque_nm_kg": best / body_mass_kg if best and body_mass_kg else None,
            "mean_peak_torque_nm": sum(peaks) / 3 if peak else None,
            "mean_best_three_nm": sum(peaks) / 3 if peak else None,
            "peak_torque_cv_pct": 4.2 if peak else None,
            "total_work_j": 600.0 if peak else None,
            "work_thirds_drop_pct": None,
            "decline_pct": None,
            "work_slope_j": None,
        }
    return {
        "file": "invented.csv",
        "samples": 900,
        "rate_hz": 100.0,
        "duration_s": 9.0,
        "mode": "concentric",
        "set_speed_deg_s": 60.0,
        "set_speed_source": "given",
        "recipe": {"version": 1, "cutoff_hz": 15.0, "band_pct": 5.0, "gravity": "sweep"},
        "weight_torque": None,
        "movements": movements,
        "set": {**figures, "down_up_peak_ratio_pct": None},
        "isometric": None,
        "quality": list(quality),
    }


def check_entry(day, stage, clock, slope=1.0, **more):
    arm, gravity = 0.5, 9.819
    torque = [
        {
            "mass_kg": mass,
            "arm_m": arm,
            "direction": direction,
            "run": run,
            "reading_nm": round(slope * mass * arm * gravity, 1),
        }
        for direction in ("up", "down")
        for run, masses in (("loading", (5.0, 20.0, 60.0)), ("unloading", (20.0, 5.0)))
        for mass in masses
    ]
    return CheckEntry.model_validate(
        {
            "rig": RIG,
            "stage": stage,
            "at": at(day, clock).isoformat(),
            "by": "tester 1",
            "torque": torque,
            "tare": {"up_before_nm": 0.0, "up_after_nm": 0.0, "down_before_nm": 0.0, "down_after_nm": 0.0},
            **more,
        }
    )


def add_check(workspace, store, day, stage, clock, slope=1.0, **more):
    entry = check_entry(day, stage, clock, slope, **more)
    return save_check(workspace, store, entry, today=day, by="tester 1").kept


def add_effort(workspace, store, visit, athlete, side, number, *, seed, mass=70.0, **more):
    chance = random.Random(seed)
    wanted = {key: more.pop(key) for key in ("quality", "peak") if key in more}
    return at_site(store, EffortSet).save(
        EffortSet(
            id=derived_id("set", visit.id, athlete.id, side, str(number)),
            visit_id=visit.id,
            batch_id="batch",
            athlete_id=athlete.id,
            protocol_id=PROTOCOL,
            rig_id=rig_id(RIG),
            number=number,
            side=side,
            mode="concentric",
            speed_deg_s=60.0,
            at=at(visit.date, "10:00") + dt.timedelta(minutes=seed % 240),
            by="tester 1",
            body_mass_kg=mass,
            trace=hashlib.sha256(f"{seed}{side}{visit.id}".encode()).hexdigest(),
            trace_name="invented.csv",
            options={},
            measures=measures(chance, mass, **wanted),
            **more,
        ),
        by="tester 1",
    )


def make_workspace(
    path, codes, *, sides=("left", "right"), visits=(BEFORE, DAY), absent=(), minor=False, mass=70.0
):
    """A workspace of one site; every code is tested at every visit between a good opening and closing check."""
    workspace = Workspace.create(path)
    site = Site(id="site01", name="Boathouse", latitude_deg=60.2, height_m=4.0)
    store = workspace.add_site(site, by="tester 1")
    of_team(workspace, Rig).save(Rig(id=rig_id(RIG), name=RIG, display_step_nm=0.1), by="tester 1")
    people = [
        add_athlete(workspace, code, by="tester 1", squad="Skarvik U21", minor=minor).record
        for code in (*codes, *absent)
    ]
    for day in visits:
        add_check(workspace, store, day, "opening", "08:14")
        visit = ensure_visit(store, day, "tester 1").record
        for number, athlete in enumerate(people[: len(codes)]):
            for turn, side in enumerate(sides, start=1):
                seed = number * 10 + turn + day.month * 1000
                add_effort(workspace, store, visit, athlete, side, turn, seed=seed, mass=mass)
        entries = tuple(BatchEntry(athlete_id=athlete.id, sides=sides, status="done") for athlete in people)
        at_site(store, Batch).save(
            Batch(
                id=derived_id("batch", visit.id),
                visit_id=visit.id,
                protocol_id=PROTOCOL,
                squad="Skarvik U21",
                entries=entries,
            ),
            by="tester 1",
        )
        add_check(workspace, store, day, "closing", "17:40")
    return workspace
