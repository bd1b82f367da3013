"""The rig's page of a visit: each check with its points, uncertainty, decision rule and verdict.

Its parts follow what ISO/IEC 17025:2017 asks of a report on a calibration with a statement of conformity
(7.8.2, 7.8.4, 7.8.6; item wording from memory); what does not apply is named as such.
"""

from __future__ import annotations

from fieldlog.date_words import day_text
from fieldlog.fieldwork.books import at_site, of_team, site_of
from fieldlog.fieldwork.pages.sheet_sources import SheetSubject
from fieldlog.fieldwork.rig_checks.check_remarks import standards_used
from fieldlog.fieldwork.visit.day import checks_of_visit
from fieldlog.records.review import Review
from fieldlog.records.rig import Rig, RigEvent
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.site import Site
from fieldlog.records.standard import ReferenceStandard
from fieldlog.sheets.check_blocks import check_blocks, standards_table
from fieldlog.sheets.content import (
    Block,
    Facts,
    Sheet,
    Signatures,
    Words,
)
from fieldlog.sheets.day_tables import check_summary, check_words, events_table, reviews_table
from fieldlog.sheets.rig_items import items_table
from fieldlog.sheets.wording import clock_text, place_text
from fieldlog.store.workspace import Workspace

__all__ = ["CAUTIONS", "rig_sheet"]

CAUTIONS = (
    "A field verification by the team at the place of use: not a certificate of an accredited laboratory.",
    "Static torque says nothing of moving torque; the figures hold for this rig, this place and this day.",
)


def rig_sheet(workspace: Workspace, subject: SheetSubject) -> Sheet:
    """Return what the rig's page says of one rig at one visit."""
    store, visit = subject.store, subject.visit
    kept = of_team(workspace, Rig).get(subject.rig_id or "")
    rig = kept.record if kept else Rig(id=subject.rig_id or "unknown", name="a rig not entered here")
    site = site_of(store)
    checks = [check for check in checks_of_visit(store, visit) if check.rig_id == rig.id]
    standards = _standards(workspace, checks)
    blocks: list[Block] = [_about(rig, site, checks), check_summary("Checks of the day", checks)]
    for check in checks:
        blocks += check_blocks(workspace, check, rig, site)
    blocks.append(standards_table(standards))
    events = [
        event
        for event in at_site(store, RigEvent).find(rig_id=rig.id)
        if event.record.at.date() == visit.date
    ]
    blocks.append(events_table(events))
    reviews = [
        review.record
        for check in checks
        for review in at_site(store, Review).find(subject_id=check.id, subject_table="rig_checks")
    ]
    if reviews:
        blocks.append(reviews_table(reviews, {check.id: check_words(check) for check in checks}))
    blocks.append(items_table(rig, checks, standards))
    blocks.append(Words(CAUTIONS, caution=True))
    blocks.append(Signatures(("taken by: name, date, signature", "signed off by: name, date, signature")))
    return Sheet(
        kind="rig",
        title="Verification of a strength-testing rig",
        subject=f"{rig.name}, {site.name}, {day_text(visit.date)}",
        blocks=tuple(blocks),
    )


def _about(rig: Rig, site: Site, checks: list[RigCheck]) -> Facts:
    first = checks[0] if checks else None
    conditions = [(check.at, check.entry.conditions) for check in checks if check.entry.conditions]
    halls = [
        f"{said.temperature_c:g} °C at {clock_text(at)}"
        for at, said in conditions
        if said.temperature_c is not None
    ]
    powered = [clock_text(said.powered_on_at) for _, said in conditions if said.powered_on_at is not None]
    gravity = f"{first.judged['local_gravity_m_s2']:.5f} m/s²" if first else "no check"
    step = "not stated" if rig.display_step_nm is None else f"{rig.display_step_nm:g} N·m"
    return Facts(
        (
            ("rig", rig.name),
            ("serial number", rig.serial or "not stated"),
            ("software of the rig", rig.firmware or "not stated"),
            ("units", ", ".join(_unit(unit.name, unit.serial) for unit in rig.units) or "not stated"),
            ("display step", step),
            ("note on the rig", rig.note or "none"),
            ("place", place_text(site)),
            ("local gravity", gravity),
            ("hall", ", ".join(halls) or "not measured"),
            ("powered on at", ", ".join(dict.fromkeys(powered)) or "not noted"),
            ("checked on", day_text(first.at.date()) if first else "not checked"),
            ("checks", str(len(checks))),
        )
    )


def _unit(name: str, serial: str) -> str:
    return f"{name} ({serial})" if serial else name


def _standards(workspace: Workspace, checks: list[RigCheck]) -> list[ReferenceStandard]:
    known = [kept.record for kept in of_team(workspace, ReferenceStandard).all()]
    used = {standard.id: standard for check in checks for standard in standards_used(check.entry, known)}
    return sorted(used.values(), key=lambda standard: (standard.kind, standard.nominal, standard.name))
