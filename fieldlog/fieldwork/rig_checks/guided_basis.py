"""What the points of a guided check are judged on while it is still being typed."""

from __future__ import annotations

import datetime as dt

from fieldlog.errors import NotFoundError
from fieldlog.fieldwork.books import of_team, site_of
from fieldlog.fieldwork.rig_checks.check_basis import RECENT_CHECKS, Basis
from fieldlog.fieldwork.rig_checks.check_judge import check_basis
from fieldlog.fieldwork.rig_checks.check_plan import Ask, CheckPlan
from fieldlog.fieldwork.rig_checks.check_point import PointJudgement, judge_point
from fieldlog.fieldwork.rig_checks.checks import checks_of_rig
from fieldlog.fieldwork.rig_checks.guided_check import GuidedCheck
from fieldlog.fieldwork.rig_checks.tolerance_book import team_tolerance_sets
from fieldlog.fieldwork.rig_life.rigs import rig_named
from fieldlog.records.check_entry import CheckEntry, Place, TorquePoint, Zero
from fieldlog.records.rig import Rig
from fieldlog.records.standard import ReferenceStandard
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["guided_basis", "judge_ask", "reference_of", "slip_words"]

_FAR = 0.2


def guided_basis(workspace: Workspace, store: Store, plan: CheckPlan, *, at: dt.datetime, by: str) -> Basis:
    """Return the basis of a check that has no reading yet, which lacks only the check's own repeats."""
    site = site_of(store)
    rig = _rig(workspace, plan.rig)
    points = tuple(
        TorquePoint(
            mass_kg=mass_kg,
            arm_m=plan.arm_m,
            arm_angle_deg=plan.arm_angle_deg,
            direction="up",
            run="loading",
            reading_nm=0.0,
        )
        for mass_kg in plan.masses_kg
    )
    planned = CheckEntry(
        rig=plan.rig,
        stage=plan.stage,
        at=at,
        by=by,
        torque=points,
        hanger_kg=plan.hanger_kg,
        zero=Zero(before_nm=0.0, after_nm=0.0),
        tolerance=plan.tolerance,
        standards=plan.standards,
    )
    earlier = [check.entry for check in checks_of_rig(workspace, rig.id)] if rig else []
    return check_basis(
        planned,
        place=Place(latitude_deg=site.latitude_deg, height_m=site.height_m),
        earlier=earlier[-RECENT_CHECKS:],
        standards=[kept.record for kept in of_team(workspace, ReferenceStandard).all()],
        rig=rig,
        tolerance_sets=team_tolerance_sets(workspace),
    )


def judge_ask(basis: Basis, check: GuidedCheck, ask: Ask, reading_nm: float) -> PointJudgement:
    """Judge a reading of the check under way; before the tare of its direction was read it counts as zero."""
    return judge_point(basis, check.point_of(ask, reading_nm), check.tare_nm(ask.direction) or 0.0)


def reference_of(basis: Basis, check: GuidedCheck, ask: Ask) -> float:
    """The torque in N·m that the display should show above the tare."""
    return judge_ask(basis, check, ask, 0.0).reference_nm


def slip_words(basis: Basis, check: GuidedCheck, ask: Ask, reading_nm: float) -> str:
    """Return what looks like a slip of the keyboard in a reading, or an empty text; nothing is corrected.

    A reading near minus the reference has the wrong sign. One further than ``_FAR`` of the reference from it,
    and beyond three tolerances, is no error of a rig but of a digit, a mass or a lever.
    """
    if check.tare_nm(ask.direction) is None:
        return ""
    judged = judge_ask(basis, check, ask, reading_nm)
    reference, error = judged.reference_nm, judged.error_nm
    if abs(error) <= max(_FAR * reference, 3.0 * judged.tolerance_nm):
        return ""
    if abs(error + 2.0 * reference) <= _FAR * reference:
        return "this reads with the opposite sign; go up and correct it, or look whether the lever was turned"
    return (
        f"{reading_nm - error:.1f} N·m would be right, {reading_nm:.1f} was typed: look at the display, the mass and "
        "the lever; go up to correct it"
    )


def _rig(workspace: Workspace, name: str) -> Rig | None:
    try:
        return rig_named(workspace, name).record
    except NotFoundError:
        return None
