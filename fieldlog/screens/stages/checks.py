"""Stages 2 and 4: the opening and the closing check, and quick ones between."""

from __future__ import annotations

from typing import ClassVar, Literal

from fieldlog.errors import InputError
from fieldlog.fieldwork.drafts import Drafts
from fieldlog.fieldwork.entry import parse_quantity
from fieldlog.fieldwork.rig_checks.check_plan import CheckPlan, plan_from, read_lever, read_plan
from fieldlog.fieldwork.rig_checks.guided_check import GuidedCheck
from fieldlog.fieldwork.rig_checks.hall import readiness_words
from fieldlog.fieldwork.rig_life.rigs import rig_named, set_display_step
from fieldlog.fieldwork.visit.arrival import arrival_items
from fieldlog.fieldwork.visit.arrival_entry import with_answer
from fieldlog.fieldwork.visit.day import check_state, checks_of_visit, last_check_of_rig
from fieldlog.fieldwork.visit.visits import save_arrival
from fieldlog.records.check_entry import Stage as CheckStageName
from fieldlog.records.visit import Visit
from fieldlog.screens.check_entry import CheckRoom, draft_name
from fieldlog.screens.check_shown import CheckShown, verdict_lines
from fieldlog.screens.stages.stage import Stage
from fieldlog.screens.table import Cell, Column, Row, Span, wrapped
from fieldlog.screens.words import number, verdict_span

__all__ = ["CheckStage"]

BEGIN, INTERIM, HALL = "begin", "interim", "hall"


class CheckStage(Stage):
    """The checks of the day, and beginning the next one."""

    columns: ClassVar = (Column("", 26), Column("", 10), Column(""))
    word = "begin or show"
    stage: Literal["opening", "closing"] = "opening"

    def rows(self) -> list[Row]:
        """What can be begun or gone on with, then the checks of the day, the latest first."""
        rows = [
            self._begin_row(BEGIN, self.stage, f"{self.stage} check"),
            self._begin_row(INTERIM, "interim", "quick check"),
            self._hall_row(),
        ]
        checks = checks_of_visit(self.day.store, self.day.visit)
        rows += [
            Row(
                check.id,
                (
                    f"{check.stage} check {check.at:%H:%M}",
                    Span(check.state, "quiet"),
                    [
                        verdict_span(check.verdict),
                        Span(f"  {len(check.judged['torque']['points'])} points", "quiet"),
                    ],
                ),
            )
            for check in reversed(checks)
        ]
        return rows

    def _begin_row(self, row_key: str, stage: str, label: str) -> Row:
        check = self._draft(stage)
        if check is None:
            what = "tare and two masses" if row_key == INTERIM else "every mass, both directions"
            return Row(row_key, (label, "", Span(f"begin: {what}", "quiet")))
        done, total = check.points_done
        return Row(row_key, (label, "", Span(f"go on: {done} of {total} points are read", "warn")))

    def _hall_row(self) -> Row:
        arrival = self.day.visit.arrival
        temperature = arrival.hall_temperature_c if arrival else None
        shown = Span("not measured", "quiet") if temperature is None else number(temperature, 1, "°C")
        return Row(HALL, ("hall temperature", "", shown))

    def _draft(self, stage: str) -> GuidedCheck | None:
        body = Drafts(self.day.workspace.path).load(draft_name(self.day.store, self.day.visit, stage))
        if body is None:
            return None
        try:
            return GuidedCheck.from_draft(body)
        except InputError:
            return None

    def hint(self, row_key: str | None) -> list[Cell]:
        """The verdict of a check, or what to know before one begins."""
        for check in checks_of_visit(self.day.store, self.day.visit):
            if check.id == row_key:
                return verdict_lines(check.judged, max(self.day.size.width - 4, 40))[:6]
        rig = self.day.rig
        if rig is None:
            return [Span("  Which rig? Enter asks for it.", "warn")]
        warnings = readiness_words(
            self.day.visit.arrival,
            rig.warm_up_minutes,
            checks_of_visit(self.day.store, self.day.visit),
            self.day.now,
        )
        last = last_check_of_rig(self.day.workspace, rig, full=True)
        plan = self.day.planned or (plan_from(last.entry, rig=rig.name, stage=self.stage) if last else None)
        lines: list[Cell] = []
        if plan:
            masses = ", ".join(f"{mass:g}" for mass in plan.masses_kg)
            angle = f" at {plan.arm_angle_deg:g}°" if plan.arm_angle_deg else ""
            lines.append(
                f"  lever {plan.arm_m:.3f} m{angle} · masses {masses} kg · enter begins · h changes them"
            )
        else:
            lines.append("  no check of this rig yet; enter asks for lever and masses")
        for warning in warnings:
            lines += wrapped(warning, self.day.size.width, "warn")
        return lines

    def open(self, row_key: str) -> None:
        """Begin, go on, or show."""
        for check in checks_of_visit(self.day.store, self.day.visit):
            if check.id == row_key:
                self.day.app.push_screen(CheckShown(check, site_name=self.day.site.name))
                return
        if row_key == HALL:
            arrival = self.day.visit.arrival
            known = arrival.hall_temperature_c if arrival else None
            self.day.ask(
                "hall temperature now, °C:", self._keep_hall, "" if known is None else number(known, 1)
            )
            return
        stage: CheckStageName = "interim" if row_key == INTERIM else self.stage
        self.begin(stage)

    def _keep_hall(self, text: str) -> None:
        day = self.day
        item = next(item for item in arrival_items() if item.field == "hall_temperature_c")
        arrival = with_answer(day.visit.arrival, item, text, day.now, day.visit.date)
        kept = save_arrival(day.store, day.ensure_visit(), arrival, day.fieldlog.by)
        day.saved("hall temperature", Visit.table, kept.record.id)

    def begin(self, stage: CheckStageName) -> None:
        """Go on with the check under way, or begin one; what is not known yet is asked first."""
        day = self.day
        draft = self._draft(stage)
        if draft is not None:
            self._push(draft)
            return
        if day.rig is None:
            day.ask("rig:", lambda name: self._choose_rig(name, stage))
            return
        if day.rig.display_step_nm is None:
            day.ask(
                f"smallest step the display of {day.rig.name} shows, in N·m (such as 0.1):",
                lambda step: self._keep_step(step, stage),
            )
            return
        last = last_check_of_rig(day.workspace, day.rig, full=True)
        state = check_state(day.workspace, day.rig)
        plan = day.planned or (plan_from(last.entry, rig=day.rig.name, stage=stage) if last else None)
        if plan is None:
            self.ask_masses(stage)
            return
        self._start(plan.for_stage(stage, state=state, rig=day.rig.name))

    def _choose_rig(self, name: str, stage: CheckStageName) -> None:
        from fieldlog.fieldwork.visit.day import choose_rig

        day = self.day
        choose_rig(day.workspace, day.store, day.ensure_visit(), name, day.fieldlog.by)
        day.refresh_room()
        self.begin(stage)

    def _keep_step(self, text: str, stage: CheckStageName) -> None:
        day = self.day
        assert day.rig is not None
        rig = rig_named(day.workspace, day.rig.id)
        set_display_step(day.workspace, rig, parse_quantity(text, "nm", "display step"), by=day.fieldlog.by)
        day.refresh_room()
        self.begin(stage)

    def ask_masses(self, stage: CheckStageName | None = None) -> None:
        """Ask for the lever and the masses of this and the next checks of the day."""
        self.day.ask(
            "lever from the axis to the masses, in m; where it is not level, its angle too (0.5 3°):",
            lambda arm: self._ask_masses(arm, stage),
            "0.5",
        )

    def _ask_masses(self, arm: str, stage: CheckStageName | None) -> None:
        lever = read_lever(arm)
        self.day.ask(
            "masses in kg, blanks between them; angles and speeds to check with their unit, as 30° 60°/s:",
            lambda masses: self._planned(lever, masses, stage),
        )

    def _planned(self, lever: tuple[float, float], masses: str, stage: CheckStageName | None) -> None:
        arm_m, angle_deg = lever
        rig = self.day.rig
        name = rig.name if rig else "rig"
        self.day.planned = read_plan(
            rig=name, stage=stage or self.stage, arm_m=arm_m, arm_angle_deg=angle_deg, masses=masses
        )
        self.day.refresh_room()
        if stage is not None:
            self.begin(stage)

    def _start(self, plan: CheckPlan) -> None:
        self._push(GuidedCheck(plan=plan, started_at=self.day.now, readings={}, signs={}))

    def _push(self, check: GuidedCheck) -> None:
        day = self.day
        day.ensure_visit()
        day.app.push_screen(CheckRoom(day.store, day.visit, check, site_name=day.site.name))


class ClosingStage(CheckStage):
    """The closing check."""

    stage = "closing"
