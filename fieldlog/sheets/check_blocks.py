"""One rig check on paper: points, lines, angle, speed, the uncertainty at its largest reference, the rules."""

from __future__ import annotations

from typing import Any

from fieldlog.date_words import day_text
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.rig_checks.check_basis import RECENT_CHECKS
from fieldlog.fieldwork.rig_checks.check_judge import budget
from fieldlog.fieldwork.rig_checks.checks import checks_of_rig
from fieldlog.fieldwork.rig_checks.tolerance_book import team_tolerance_sets
from fieldlog.records.check_entry import DIRECTIONS, CheckEntry, Place
from fieldlog.records.rig import Rig
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.site import Site
from fieldlog.records.standard import ReferenceStandard
from fieldlog.sheets.content import Block, Cell, Column, Figure, Row, Table, Words
from fieldlog.sheets.wording import clock_text, sentence
from fieldlog.store.workspace import Workspace

__all__ = ["check_blocks", "standards_table"]

RULES = {
    "guarded": "guarded acceptance with the guard band U (ILAC-G8:09/2019): pass where |error| ≤ tolerance − U, "
    "conditional pass up to the tolerance, conditional fail up to tolerance + U, fail beyond",
    "simple": "simple acceptance (ILAC-G8:09/2019): pass where |error| ≤ tolerance, fail beyond; the uncertainty "
    "is not taken off, so at the limit up to half of such verdicts may be wrong",
}


def check_blocks(workspace: Workspace, check: RigCheck, rig: Rig, site: Site) -> list[Block]:
    """Everything that is printed of one check."""
    entry, judged = check.entry, check.judged
    heading = f"{check.stage.capitalize()} check, {clock_text(check.at)}, {check.state}: {check.verdict}"
    blocks: list[Block] = [_points_table(heading, check)]
    blocks.append(_lines_table(judged["torque"]["lines"]))
    if judged["angle"]["points"]:
        blocks.append(_side_table("Angle", "deg", "°", judged["angle"]["points"]))
    if judged["speed"]["points"]:
        blocks.append(_side_table("Speed", "deg_s", "°/s", judged["speed"]["points"]))
    blocks.append(_budget(workspace, check, rig, site))
    words = [
        f"Taken by {check.by}. {_tare_words(entry)}{_hanger_words(entry)}",
        (
            f"Zero: {Figure(judged['zero']['change_nm'], 2, signed=True).text} N·m between before and after. "
            f"Hysteresis: {Figure(judged['torque']['hysteresis_pct'], 2).text} % of the largest reference."
        ),
        f"Tolerance: {_tolerance_words(judged, entry.tolerance)}. Decision rule: {RULES[entry.decision]}.",
    ]
    words += [sentence(remark) for remark in judged["remarks"]]
    if entry.note:
        words.append(sentence(f"Note: {entry.note}"))
    blocks.append(Words(tuple(words), small=True))
    return blocks


def _tare_words(entry: CheckEntry) -> str:
    if entry.tare is None:
        zero = entry.zero
        return (
            f"Zero before {zero.before_nm:g} and after {zero.after_nm:g} N·m, for both directions."
            if zero
            else ""
        )
    said = [
        f"{direction} {before:+g} before, {after:+g} after"
        for direction in DIRECTIONS
        for before, after in [entry.tare.of(direction)]
        if before is not None and after is not None
    ]
    return f"Tare in N·m: {'; '.join(said)}.".replace("-", "−")


def _hanger_words(entry: CheckEntry) -> str:
    return f" Hanger {entry.hanger_kg:g} kg." if entry.hanger_kg else ""


def _points_table(heading: str, check: RigCheck) -> Table:
    columns = (
        Column("direction", "direction", width_pt=40),
        Column("run", "run", width_pt=46, share=1),
        Column("mass_kg", "mass", "kg", "number", 40),
        Column("arm_m", "lever", "m", "number", 40),
        Column("reference_nm", "reference", "N·m", "number", 46),
        Column("reading_nm", "reading", "N·m", "number", 46),
        Column("error_nm", "error", "N·m", "number", 42),
        Column("error_pct", "error", "%", "number", 38),
        Column("tolerance_nm", "tolerance", "N·m", "number", 42),
        Column("u_expanded_nm", "U", "N·m", "number", 38),
        Column("coverage_factor", "k", "", "number", 30),
        Column("verdict", "verdict", width_pt=74),
    )
    rows = []
    for point, judged in zip(check.entry.torque, check.judged["torque"]["points"], strict=False):
        word = judged["verdict"] + (", cannot be decided" if judged["undecidable"] else "")
        cells: tuple[Cell, ...] = (
            judged["direction"],
            judged["run"],
            Figure(judged["mass_kg"], 3),
            Figure(point.arm_m, 4),
            Figure(judged["reference_nm"], 2),
            Figure(judged["reading_nm"], 2),
            Figure(judged["error_nm"], 2, signed=True),
            Figure(judged["error_pct"], 2, signed=True),
            Figure(judged["tolerance_nm"], 2),
            Figure(judged["u_expanded_nm"], 2),
            Figure(judged["coverage_factor"], 2),
            word,
        )
        rows.append(Row(cells))
    return Table(
        heading,
        columns,
        tuple(rows),
        remark="Up: the mass pulls towards larger angles. Error = reading − tare of that direction − reference. U is the expanded uncertainty of the error, "
        "95 %, U = k·u. Reference = (mass + hanger)·local gravity·(1 − 1.2/8000)·lever·cos(lever angle).",
    )


def _lines_table(lines: dict[str, Any]) -> Table:
    columns = (
        Column("direction", "line of tared reading on reference", width_pt=120, share=1),
        Column("slope", "slope", "", "number", 52),
        Column("u_slope", "u (slope)", "", "number", 52),
        Column("intercept_nm", "intercept", "N·m", "number", 52),
        Column("u_intercept_nm", "u (intercept)", "N·m", "number", 56),
        Column("residual_sd_nm", "residual SD", "N·m", "number", 52),
        Column("points", "points", "", "number", 40),
    )
    rows = [
        Row(
            (
                direction,
                Figure(line["slope"], 5),
                Figure(line["u_slope"], 5),
                Figure(line["intercept_nm"], 3, signed=True),
                Figure(line["u_intercept_nm"], 3),
                Figure(line["residual_sd_nm"], 3),
                Figure(line["points"], 0),
            )
        )
        for direction, line in lines.items()
        if line
    ]
    return Table("", columns, tuple(rows), empty="no line: too few different masses")


def _side_table(heading: str, ending: str, unit: str, points: list[dict[str, Any]]) -> Table:
    columns = (
        Column("point", "point", width_pt=60, share=1),
        *(
            Column(f"{name}_{ending}", name, unit, "number", 60)
            for name in ("reference", "reading", "error", "tolerance")
        ),
        Column(f"u_expanded_{ending}", "U", unit, "number", 50),
        Column("verdict", "verdict", width_pt=90),
    )
    rows = [
        Row(
            (
                str(number),
                Figure(point[f"reference_{ending}"], 2),
                Figure(point[f"reading_{ending}"], 2),
                Figure(point[f"error_{ending}"], 2, signed=True),
                Figure(point[f"tolerance_{ending}"], 2),
                Figure(point[f"u_expanded_{ending}"], 2),
                point["verdict"],
            )
        )
        for number, point in enumerate(points, start=1)
    ]
    return Table(heading, columns, tuple(rows))


def _budget(workspace: Workspace, check: RigCheck, rig: Rig, site: Site) -> Block:
    points = check.judged["torque"]["points"]
    index = max(range(len(points)), key=lambda number: points[number]["reference_nm"])
    earlier = [known.entry for known in checks_of_rig(workspace, rig.id) if known.at < check.at]
    found = budget(
        check.entry,
        index,
        place=Place(latitude_deg=site.latitude_deg, height_m=site.height_m),
        earlier=earlier[-RECENT_CHECKS:],
        standards=[kept.record for kept in of_team(workspace, ReferenceStandard).all()],
        rig=rig,
        tolerance_sets=team_tolerance_sets(workspace),
    )
    # Worked out anew, it must give what the check was judged by; where records came in later it may not.
    if abs(found.u_expanded_nm - points[index]["u_expanded_nm"]) > 5e-4:
        return Words(
            (
                (
                    "Uncertainty, source by source: not printed, because checks or standards entered since would give "
                    "another value than the one this check was judged by."
                ),
            ),
            small=True,
        )
    columns = (
        Column("source", "source of uncertainty", width_pt=110, share=1),
        Column("stated", "as stated", width_pt=90, share=1),
        Column("origin", "from", width_pt=90, share=1),
        Column("u_nm", "u", "N·m", "number", 46),
        Column("share_pct", "share", "%", "number", 40),
    )
    rows = [
        Row((line.source, line.stated, line.origin, Figure(line.u_nm, 4), Figure(line.share_pct, 0)))
        for line in found.lines
    ]
    about = f"{points[index]['reference_nm']:.2f} N·m {points[index]['direction']}"
    total = (
        f"u = {found.u_nm:.4f} N·m, k = {found.coverage_factor:.2f}, U = {found.u_expanded_nm:.3f} N·m (95 %)"
    )
    return Table(f"Uncertainty at the largest reference, {about}", columns, tuple(rows), remark=total)


def _tolerance_words(judged: dict[str, Any], chosen: object) -> str:
    limits = judged.get("tolerance")
    if not isinstance(limits, dict):
        return f"set {chosen}" if isinstance(chosen, str) else "as given in the check"
    return (
        f"{limits['name']}, version {limits['version']} ({limits['source']}): torque {limits['torque_pct']:g} % or "
        f"{limits['torque_floor_nm']:g} N·m, zero {limits['zero_nm']:g} N·m, hysteresis "
        f"{limits['hysteresis_pct']:g} %, angle {limits['angle_deg']:g}°, speed {limits['speed_pct']:g} % or "
        f"{limits['speed_floor_deg_s']:g}°/s"
    )


def standards_table(standards: list[ReferenceStandard]) -> Table:
    """The reference standards with certificate, traceability and due date."""
    columns = (
        Column("name", "reference standard", width_pt=90, share=1),
        Column("kind", "kind", width_pt=50),
        Column("nominal", "nominal", "", "number", 46),
        Column("value", "value", "", "number", 52),
        Column("u", "u", "", "number", 46),
        Column("unit", "unit", width_pt=26),
        Column("certificate", "certificate", width_pt=80, share=1),
        Column("traceable_to", "traceable to", width_pt=70, share=1),
        Column("due_on", "due", width_pt=54),
    )
    rows = []
    for standard in standards:
        certificate = standard.certificate
        due = certificate.due_on if certificate else None
        rows.append(
            Row(
                (
                    standard.name,
                    standard.kind
                    if standard.mass_class is None
                    else f"{standard.kind}, {standard.mass_class}",
                    Figure(standard.nominal, 3),
                    Figure(standard.value, 5),
                    Figure(standard.standard_uncertainty, 6),
                    standard.unit,
                    certificate.number if certificate else "none",
                    (certificate.traceable_to or "not stated") if certificate else "not stated",
                    day_text(due) if due else "not stated",
                )
            )
        )
    return Table(
        "Reference standards",
        columns,
        tuple(rows),
        "–: not stated on the certificate; a mass then counts by the limit of its class."
        if any(standard.value is None or standard.standard_uncertainty is None for standard in standards)
        else "",
        empty="none named: traceability cannot be claimed from this page",
    )
