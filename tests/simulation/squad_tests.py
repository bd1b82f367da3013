"""An invented team's tests without recordings: peaks are given, everything around them goes through the real verbs."""

from __future__ import annotations

import datetime as dt
import hashlib
from itertools import count
from pathlib import Path

from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.athletes import add_athlete
from fieldlog.fieldwork.books import at_site, of_team
from fieldlog.fieldwork.rig_checks.checks import save_check
from fieldlog.fieldwork.visit.visits import ensure_visit
from fieldlog.records.athlete import Athlete
from fieldlog.records.base import derived_id
from fieldlog.records.check_entry import CheckEntry
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.rig import rig_id
from fieldlog.records.setup import Setup, StepTaken, setup_id
from fieldlog.records.setup_plan import ChoiceStep, ReadingStep
from fieldlog.records.site import Site
from fieldlog.records.visit import Visit
from fieldlog.store.workspace import Workspace
from tests.simulation.rig import Place, SimulatedRig, check_entry

TRUNK, KNEE = "trunk_standing_60_120", "knee_60_180"
RIG = "rig A"
STEADY = SimulatedRig(noise_nm=0.02)
SHARES = (0.95, 1.0, 0.97, 0.98, 0.96, 0.94, 0.99, 0.93)  # of the best peak, repetition by repetition


class InventedTeam:
    """A workspace with one place. Days are opened and closed by passed checks unless told otherwise."""

    def __init__(self, folder: Path) -> None:
        self.workspace = Workspace.create(folder)
        site = Site(id="site01", name="Boathouse", latitude_deg=60.2, height_m=4.0)
        self.store = self.workspace.add_site(site, by="tester 1")
        self._numbers = count(1)

    def athlete(self, code: str, **fields: object) -> Athlete:
        return add_athlete(self.workspace, code, by="tester 1", **fields).record

    def day(
        self,
        date: str,
        *,
        rig: SimulatedRig = STEADY,
        rig_name: str = RIG,
        masses_kg: tuple[float, ...] = (5.0, 20.0, 40.0),
        closing: bool = True,
    ) -> Visit:
        visit = ensure_visit(self.store, dt.date.fromisoformat(date), "tester 1").record
        for stage, clock in (("opening", "08:00"), ("closing", "19:00"))[: 2 if closing else 1]:
            entry = check_entry(
                rig,
                Place(60.2, 4.0),
                name=rig_name,
                stage=stage,
                at=f"{date}T{clock}:00+02:00",
                by="tester 1",
                masses_kg=masses_kg,
                arm_m=0.75,
                seed=int(date.replace("-", "")),
            )
            save_check(
                self.workspace,
                self.store,
                CheckEntry.model_validate(entry),
                today=dt.date.fromisoformat(date),
                by="tester 1",
            )
        return visit

    def test(
        self,
        visit: Visit,
        athlete: Athlete,
        up_nm: float,
        down_nm: float | None = None,
        *,
        protocol: str = TRUNK,
        side: str = "both",
        speed_deg_s: float = 60.0,
        repetitions: int = 5,
        by: str = "tester 1",
        clock: str = "10:00",
        rig_name: str = RIG,
        gravity: str = "none",
        recipe: dict[str, object] | None = None,
        quality: tuple[dict[str, str], ...] = (),
        range_deg: tuple[float, float] = (0.0, 60.0),
        column_map: dict[str, object] | None = None,
        setup: dict[str, float | str] | None = None,
        standing: str = "counted",
        body_mass_kg: float | None = 80.0,
    ) -> EffortSet:
        number = next(self._numbers)
        at = dt.datetime.fromisoformat(f"{visit.date}T{clock}:00+02:00")
        kept_setup = self.setup(visit, athlete, protocol, side, at, by, setup) if setup is not None else None
        body = measures(
            {"up": up_nm, "down": 1.4 * up_nm if down_nm is None else down_nm},
            repetitions=repetitions,
            range_deg=range_deg,
            gravity=gravity,
            recipe=recipe or {},
            quality=quality,
            body_mass_kg=body_mass_kg,
        )
        effort = EffortSet(
            id=derived_id("set", str(number)),
            visit_id=visit.id,
            batch_id="batch",
            athlete_id=athlete.id,
            protocol_id=protocol,
            rig_id=rig_id(rig_name),
            setup_id=kept_setup.id if kept_setup else None,
            number=number,
            side=side,
            mode="concentric",
            speed_deg_s=speed_deg_s,
            at=at,
            by=by,
            body_mass_kg=body_mass_kg,
            trace=hashlib.sha256(str(number).encode()).hexdigest(),
            trace_name="invented.csv",
            column_map=column_map,
            options={},
            measures=body,
            standing=standing,
        )
        return at_site(self.store, EffortSet).save(effort, by=by).record

    def setup(
        self,
        visit: Visit,
        athlete: Athlete,
        protocol_id: str,
        side: str,
        at: dt.datetime,
        by: str,
        changed: dict[str, float | str],
    ) -> Setup:
        """A setup in the middle of every scale, with the first choice everywhere, but for what is ``changed``."""
        plan = catalogue.plan(self.workspace, catalogue.protocol(self.workspace, protocol_id).plan_id)
        steps = []
        for step in plan.steps:
            if isinstance(step, ReadingStep):
                middle = step.low + step.step * round((step.high - step.low) / 2 / step.step)
                steps.append(StepTaken(key=step.key, reading=changed.get(step.key, middle)))
            elif isinstance(step, ChoiceStep):
                steps.append(StepTaken(key=step.key, choice=changed.get(step.key, step.options[0])))
        return (
            at_site(self.store, Setup)
            .save(
                Setup(
                    id=setup_id(visit.id, athlete.id, side, plan.id, plan.version),
                    visit_id=visit.id,
                    athlete_id=athlete.id,
                    side=side,
                    plan_id=plan.id,
                    plan_version=plan.version,
                    at=at,
                    by=by,
                    steps=tuple(steps),
                ),
                by=by,
            )
            .record
        )

    def keep(self, record):
        """Keep a record of the team."""
        return of_team(self.workspace, type(record)).save(record, by="tester 1").record


def measures(best_nm, *, repetitions, range_deg, gravity, recipe, quality, body_mass_kg):
    """What the analysis gives for peaks at fixed shares of the best."""
    movements, figures = [], {}
    for direction, best in best_nm.items():
        peaks = [best * SHARES[turn % len(SHARES)] for turn in range(repetitions)]
        peaks[min(1, repetitions - 1)] = best
        low, high = range_deg
        for turn, peak in enumerate(peaks):
            movements.append(
                {
                    "index": len(movements) + 1,
                    "direction": direction,
                    "mode": "concentric",
                    "start_s": 2.0 * turn,
                    "end_s": 2.0 * turn + 1.5,
                    "start_deg": low if direction == "up" else high,
                    "end_deg": high if direction == "up" else low,
                    "range_deg": high - low,
                    "load_range_deg": 0.8 * (high - low),
                    "load_range_share_pct": 80.0,
                    "mean_speed_deg_s": 60.0,
                    "peak_torque_nm": peak,
                    "peak_torque_angle_deg": 40.0,
                    "time_to_peak_s": 0.6,
                    "work_j": peak * 0.8,
                    "load_range_work_j": peak * 0.7,
                    "mean_power_w": peak * 0.5,
                    "peak_power_w": peak,
                    "impulse_nms": peak,
                    "torque_at_nm": {"30": peak * 0.7},
                    "flags": [],
                }
            )
        three = sorted(peaks)[-3:]
        figures[direction] = {
            "movements": repetitions,
            "best_peak_torque_nm": best,
            "best_peak_torque_nm_kg": best / body_mass_kg if body_mass_kg else None,
            "mean_peak_torque_nm": sum(peaks) / len(peaks),
            "mean_best_three_nm": sum(three) / 3 if len(three) == 3 else None,
            "peak_torque_cv_pct": 2.0,
            "total_work_j": sum(peaks) * 0.8,
            "work_thirds_drop_pct": None,
            "decline_pct": None,
            "work_slope_j": None,
        }
    usual = {"version": 1, "cutoff_hz": 15.0, "band_pct": 5.0, "gravity": gravity}
    return {
        "file": "invented.csv",
        "samples": 900,
        "rate_hz": 100.0,
        "duration_s": 9.0,
        "mode": "concentric",
        "set_speed_deg_s": 60.0,
        "set_speed_source": "given",
        "weight_torque": None,
        "recipe": usual | recipe,
        "movements": movements,
        "set": {**figures, "down_up_peak_ratio_pct": 100.0 * best_nm["down"] / best_nm["up"]},
        "isometric": None,
        "quality": list(quality),
    }
