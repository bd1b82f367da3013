"""The sample's raw visit: going through it from the first check to the last set.

Only the tour and the builder of the sample use this. It answers clearance questions and confirms
safeguards for invented people; with real people each of these is seen to by a person.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fieldlog.cli.sample_script import RawCheck, RawEvent, RawSet, RawSetup, RawVisit
from fieldlog.errors import NotFoundError, RefusedError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.batch.batches import batches_of, change_entry, entry_of, make_batch
from fieldlog.fieldwork.books import site_of
from fieldlog.fieldwork.clearance.clearance_rules import Answer
from fieldlog.fieldwork.clearance.clearances import clearance_form, take_clearance
from fieldlog.fieldwork.clearance.start_gate import may_start
from fieldlog.fieldwork.recording.column_maps import read_column_map
from fieldlog.fieldwork.results.imports import Import
from fieldlog.fieldwork.results.results import quality_word
from fieldlog.fieldwork.results.sets import add_set, leave_out
from fieldlog.fieldwork.rig_checks.checks import save_check_file
from fieldlog.fieldwork.rig_life.rigs import add_event, rig_named
from fieldlog.fieldwork.setup.setups import save_setup, setup_of
from fieldlog.fieldwork.visit.day import choose_rig
from fieldlog.fieldwork.visit.visits import ensure_visit, save_arrival
from fieldlog.records.batch import Batch
from fieldlog.records.protocol import PlannedSet, Protocol
from fieldlog.records.rig import EVENT_WORDS
from fieldlog.records.setup import Setup, StepTaken, setup_id
from fieldlog.records.setup_plan import ChoiceStep, PlanStep, ReadingStep
from fieldlog.records.visit import Visit
from fieldlog.store.repo import Kept
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["play"]


def play(
    workspace: Workspace,
    folder: Path,
    raw: RawVisit,
    at_time: Callable[[dt.datetime], None] = lambda _at: None,
) -> Iterator[str]:
    """Go through the visit in order of time; give a line for each step once it is on disk."""
    run = _Run(workspace, folder, raw)
    at_time(raw.arrived_at)
    yield run.arrive()
    steps: list[tuple[dt.datetime, Callable[[], str]]] = []
    steps += [(event.at, _bound(run.event, event)) for event in raw.events]
    steps += [(check.at, _bound(run.check, check)) for check in raw.checks]
    steps += [(setup.at, _bound(run.setup, setup)) for setup in raw.setups]
    steps += [(each.at, _bound(run.set, each)) for each in raw.sets]
    for at, step in sorted(steps, key=lambda item: item[0]):
        at_time(at)
        yield step()


def _bound(step: Callable[[Any], str], subject: Any) -> Callable[[], str]:
    return lambda: step(subject)


@dataclass
class _Run:
    workspace: Workspace
    folder: Path
    raw: RawVisit

    def __post_init__(self) -> None:
        self.store: Store = self.workspace.site_named(self.raw.site)
        self.by = self.raw.tester

    def visit(self) -> Visit:
        return ensure_visit(self.store, self.raw.date, self.by).record

    def arrive(self) -> str:
        visit = ensure_visit(self.store, self.raw.date, self.by)
        visit = choose_rig(self.workspace, self.store, visit, self.raw.rig, self.by)
        visit = save_arrival(self.store, visit, self.raw.arrival, self.by)
        for turn in self.raw.turns:
            codes = (*turn.athletes, *turn.absent)
            batch = make_batch(
                self.workspace,
                self.store,
                visit.record,
                protocol_id=turn.protocol_id,
                athlete_ids=[athlete_named(self.workspace, code).record.id for code in codes],
                by=self.by,
                squad=self.raw.squad,
            )
            for code in turn.absent:
                athlete_id = athlete_named(self.workspace, code).record.id
                batch = change_entry(self.store, batch, athlete_id, by=self.by, status="absent")
        site = site_of(self.store)
        return f"arrive         {site.name}, {self.raw.date}: levelled, anchored, both stop switches tried"

    def event(self, event: RawEvent) -> str:
        rig = rig_named(self.workspace, self.raw.rig).record
        add_event(self.store, rig, event.kind, at=event.at, by=self.by, note=event.note)
        return f"rig            {EVENT_WORDS[event.kind]} at {event.at:%H:%M}: {event.note}"

    def check(self, check: RawCheck) -> str:
        saved = save_check_file(self.workspace, self.store, self.folder / check.file, today=self.raw.date)
        judged = saved.judged
        up, down = (judged["torque"]["lines"][direction] for direction in ("up", "down"))
        return (
            f"{judged['stage'] + ' check':<14} {judged['verdict']}: slope up {up['slope']:.4f}, down "
            f"{down['slope']:.4f}, hysteresis {judged['torque']['hysteresis_pct']:.2f} %, "
            f"local g {judged['local_gravity_m_s2']:.4f} m/s²"
        )

    def setup(self, raw: RawSetup) -> str:
        visit = self.visit()
        athlete = athlete_named(self.workspace, raw.athlete).record
        clearance, _ = take_clearance(
            self.workspace,
            self.store,
            visit,
            athlete,
            self._answers(minor=athlete.minor),
            by=self.by,
            at=raw.at,
        )
        protocol = catalogue.protocol(self.workspace, raw.protocol_id)
        plan = catalogue.plan(self.workspace, protocol.plan_id)
        setup = Setup(
            id=setup_id(visit.id, athlete.id, raw.side, plan.id, plan.version),
            visit_id=visit.id,
            athlete_id=athlete.id,
            rig_id=visit.rig_id,
            side=raw.side,
            plan_id=plan.id,
            plan_version=plan.version,
            at=raw.at,
            by=self.by,
            steps=tuple(_taken(step, raw) for step in plan.steps),
        )
        save_setup(self.workspace, self.store, setup, by=self.by)
        side = "" if raw.side == "both" else f" {raw.side}"
        return (
            f"setup          {raw.athlete}{side}: clearance {clearance.record.outcome}, {plan.name}, "
            f"{len(raw.readings)} scale readings"
        )

    def set(self, raw: RawSet) -> str:
        visit = self.visit()
        athlete = athlete_named(self.workspace, raw.athlete).record
        protocol = catalogue.protocol(self.workspace, raw.protocol_id)
        plan = catalogue.plan(self.workspace, protocol.plan_id)
        rig = rig_named(self.workspace, self.raw.rig).record
        gate = may_start(
            self.workspace,
            self.store,
            visit,
            athlete_id=athlete.id,
            protocol=protocol,
            planned=_planned(protocol, raw),
            side=raw.side,
            now=raw.at,
            rig_id=rig.id,
        )
        if not gate.allowed:
            raise RefusedError(f"{raw.file}: the set may not start: {'; '.join(gate.missing)}")
        batch = self._batch(visit, athlete.id, protocol.id)
        setup = setup_of(self.store, visit, athlete.id, plan, raw.side)
        kept = add_set(
            self.workspace,
            self.store,
            self._import(raw, protocol),
            visit_id=visit.id,
            batch_id=batch.record.id,
            athlete_id=athlete.id,
            protocol_id=protocol.id,
            rig_id=rig.id,
            at=raw.at,
            by=self.by,
            setup_id=setup.record.id if setup else None,
        )
        if raw.left_out:
            kept = leave_out(self.store, kept, raw.left_out, by=self.by)
        if raw.at == max(each.at for each in self.raw.sets if _same_turn(each, raw)):
            change_entry(
                self.store, batch, athlete.id, by=self.by, status="done", body_mass_kg=raw.body_mass_kg
            )
        figures = kept.record.measures["set"]
        peaks = ", ".join(
            f"{protocol.direction_name(direction)} {figures[direction]['best_peak_torque_nm']:.1f} N·m"
            for direction in protocol.efforts
        )
        side = "" if raw.side == "both" else f" {raw.side}"
        quality = quality_word(kept.record.measures)
        return f"set            {raw.athlete}{side}, {raw.speed_deg_s:g}°/s: {peaks}; quality {quality}"

    def _import(self, raw: RawSet, protocol: Protocol) -> Import:
        return Import(
            name=raw.file,
            data=(self.folder / raw.file).read_bytes(),
            side=raw.side,
            mode=raw.mode,
            speed_deg_s=raw.speed_deg_s,
            body_mass_kg=raw.body_mass_kg,
            sweep=(self.folder / raw.sweep_file).read_bytes() if raw.sweep_file else None,
            column_map=read_column_map(self.folder / raw.column_map_file) if raw.column_map_file else None,
            angles_deg=protocol.angles_deg,
        )

    def _batch(self, visit: Visit, athlete_id: str, protocol_id: str) -> Kept[Batch]:
        for kept in batches_of(self.store, visit):
            if kept.record.protocol_id == protocol_id and entry_of(kept.record, athlete_id):
                return kept
        raise NotFoundError(f"athlete {athlete_id} has no turn under {protocol_id}")

    def _answers(self, *, minor: bool) -> dict[str, Answer]:
        answers: dict[str, Answer] = {}
        for item in clearance_form(self.workspace).asked_of(minor=minor):
            if item.kind == "yes_no":
                answers[item.key] = item.holds_on == "no"
            elif item.must_answer:
                answers[item.key] = 48.0 if item.unit == "h" else 0.0 if item.kind == "number" else ""
        return answers


def _taken(step: PlanStep, raw: RawSetup) -> StepTaken:
    if isinstance(step, ReadingStep):
        return StepTaken(key=step.key, at=raw.at, reading=raw.readings.get(step.key))
    if isinstance(step, ChoiceStep):
        return StepTaken(key=step.key, at=raw.at, choice=raw.choices.get(step.key))
    return StepTaken(key=step.key, at=raw.at, confirmed=True)


def _planned(protocol: Protocol, raw: RawSet) -> PlannedSet:
    for planned in protocol.sets:
        if planned.purpose == "counted" and (planned.speed_deg_s, planned.mode) == (
            raw.speed_deg_s,
            raw.mode,
        ):
            return planned
    raise RefusedError(f"{raw.file}: the protocol has no counted set of {raw.speed_deg_s:g}°/s")


def _same_turn(one: RawSet, other: RawSet) -> bool:
    return (one.athlete, one.protocol_id) == (other.athlete, other.protocol_id)
