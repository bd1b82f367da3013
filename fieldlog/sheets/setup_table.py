"""The setups of a visit as they were dialled in."""

from __future__ import annotations

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.results.results import ResultBook
from fieldlog.fieldwork.setup.dial_in import reading_text
from fieldlog.records.setup import Setup
from fieldlog.records.setup_plan import ReadingStep, SetupPlan
from fieldlog.sheets.content import Column, Row, Table
from fieldlog.store.workspace import Workspace

__all__ = ["setups_table"]


def setups_table(workspace: Workspace, book: ResultBook, setups: list[Setup]) -> Table:
    """A row a setup: athlete, side, plan and readings, in order of time."""
    columns = (
        Column("athlete", "athlete", width_pt=50),
        Column("side", "side", width_pt=26),
        Column("plan", "setup plan", width_pt=80, share=0.4),
        Column("readings", "as dialled in", width_pt=200, share=1),
    )
    in_order = sorted(setups, key=lambda setup: (setup.at, setup.side))
    rows = [
        Row(
            (
                book.code(setup.athlete_id),
                setup.side,
                f"{_plan_name(plan, setup)}, version {setup.plan_version}",
                _dialled(plan, setup),
            )
        )
        for setup, plan in ((setup, _plan(workspace, setup)) for setup in in_order)
    ]
    return Table("Setups", columns, tuple(rows), empty="none kept")


def _plan(workspace: Workspace, setup: Setup) -> SetupPlan | None:
    try:
        return catalogue.plan(workspace, setup.plan_id, setup.plan_version)
    except FieldlogError:
        return None


def _plan_name(plan: SetupPlan | None, setup: Setup) -> str:
    return plan.name if plan else setup.plan_id


def _dialled(plan: SetupPlan | None, setup: Setup) -> str:
    said = []
    for step in setup.steps:
        known = plan.step(step.key) if plan else None
        label = known.label if known else step.key.replace("_", " ")
        if step.reading is not None:
            shown = (
                reading_text(known, step.reading) if isinstance(known, ReadingStep) else f"{step.reading:g}"
            )
            said.append(f"{label} {shown}")
        elif step.choice is not None:
            said.append(f"{label} {step.choice}")
    return "; ".join(said) or "confirmations only"
