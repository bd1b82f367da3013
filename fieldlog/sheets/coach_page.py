"""The coach's page: one line an athlete and side, the squad as dots, and what to do next."""

from __future__ import annotations

from collections.abc import Mapping

from fieldlog.count_words import counted
from fieldlog.date_words import day_text
from fieldlog.fieldwork.pages.coach_page import FEWEST_FOR_STRIP, CoachGroup, CoachLine, CoachPage
from fieldlog.records.protocol import Direction
from fieldlog.sheets.callings import Callings
from fieldlog.sheets.changes import change_bar
from fieldlog.sheets.coach_remarks import table_remark
from fieldlog.sheets.content import (
    Block,
    Cell,
    Column,
    DotStrip,
    Facts,
    Figure,
    Legend,
    Mark,
    Marks,
    Row,
    Sheet,
    StripRow,
    Table,
    Words,
)
from fieldlog.sheets.marks import MEANINGS
from fieldlog.sheets.wording import clock_text, sentence, speed_text

__all__ = ["coach_sheet"]

COVERS_BY_CONCERN = ("suspect", "unverified", "provisional", "confirmed")


def coach_sheet(page: CoachPage, names: Mapping[str, str] | None = None) -> Sheet:
    """Return what the coach's page says; ``names`` (by code) replace codes where names were chosen."""
    called = Callings(names or {})
    blocks: list[Block] = [_facts(page, called)]
    for group in page.groups:
        heading = _group_heading(group) if len(page.groups) > 1 else ""
        blocks.append(_table(group, called, heading))
        strip = _strip(group) if page.shows_strip else None
        if strip is not None:
            blocks.append(strip)
        elif words := _mean_changes(group):
            blocks.append(Words(words))
    if not page.groups:
        blocks.append(Words(("No result of this visit counts yet.",)))
    if said := [sentence(text) for text in (page.chance, _checks(page)) if text]:
        blocks.append(Words(tuple(said), small=True))
    if page.waiting_for_rig:
        blocks.append(Words((_waiting(page.waiting_for_rig),)))
    blocks.append(_legend(page))
    blocks.append(Words(tuple(page.cautions), caution=True))
    return Sheet(
        kind="coach",
        title="Strength test: the coach's page",
        subject=", ".join((*page.squads, page.site_name, day_text(page.date))),
        blocks=tuple(blocks),
    )


def _facts(page: CoachPage, called: Callings) -> Facts:
    tested = len({line.code for group in page.groups for line in group.lines})
    pairs = [(_word_of_protocol(page), _protocols(page))]
    pairs.append(("tested", counted(tested, "athlete")))
    absent = ", ".join(called(code) for code in page.not_tested)
    pairs.append(("not tested today", absent or "nobody"))
    return Facts(tuple(pairs))


def _checks(page: CoachPage) -> str:
    """The rig of each covering check and how it ended."""
    by_rig: dict[str, list[str]] = {}
    for check in page.checks:
        day = "" if check.at.date() == page.date else f"{day_text(check.at.date())} "
        words = f"{check.stage} check {day}{clock_text(check.at)} {check.verdict}"
        by_rig.setdefault(check.entry.rig, []).append(words)
    return "; ".join(f"{rig}: {', '.join(checks)}" for rig, checks in by_rig.items())


def _protocols(page: CoachPage) -> str:
    if len(page.groups) == 1:
        return _group_heading(page.groups[0])
    return "; ".join(group.protocol.name for group in page.groups) or "none"


def _word_of_protocol(page: CoachPage) -> str:
    return "protocol" if len(page.groups) < 2 else "protocols"


def _group_heading(group: CoachGroup) -> str:
    if group.hold_angles_deg:
        angles = ", ".join(f"{angle:.0f}°" for angle in group.hold_angles_deg).replace("-", "−")
        return f"{group.protocol.name}; held at {angles}"
    return f"{group.protocol.name}; figures at {speed_text(group.speed_deg_s)}"


def _table(group: CoachGroup, called: Callings, heading: str) -> Table:
    protocol = group.protocol
    directions = protocol.efforts
    sided = any(line.side != "both" for line in group.lines)
    compared = any(_has_side_difference(line) for line in group.lines)
    # Room for codes of usual length, and some more where names were chosen; longer ones are wrapped.
    longest = min(max([32.0, *(3.6 * len(called(line.code)) + 6.0 for line in group.lines)]), 76.0)
    columns = [Column("athlete", "athlete", width_pt=longest, share=0.3)]
    if sided:
        columns.append(Column("side", "side", width_pt=22))
    columns += [
        Column(f"{direction}_peak_torque_nm_kg", protocol.direction_name(direction), "N·m/kg", "number", 34)
        for direction in directions
    ]
    if protocol.ratio_name is not None:
        columns.append(Column("ratio_pct", protocol.ratio_name.replace("/", " / "), "%", "number", 34))
    if compared:
        columns += [
            Column(
                f"{direction}_side_difference_pct",
                f"right−left, {protocol.direction_name(direction)}",
                "%",
                "number",
                34,
            )
            for direction in directions
        ]
    columns += [
        Column(
            f"{direction}_change",
            f"change, {protocol.direction_name(direction)}",
            "% since last visit",
            "change",
            92,
            share=1.5,
        )
        for direction in directions
    ]
    columns += [
        Column("marks", "data, rig", kind="marks", width_pt=22),
        Column("next_step", "next", width_pt=75, share=0.2),
    ]
    rows = []
    before = None
    for line in group.lines:
        rows.append(
            Row(
                _cells(group, line, called, sided=sided, compared=compared),
                line.code != before,
            )
        )
        before = line.code
    return Table(heading, tuple(columns), tuple(rows), table_remark(group, called))


def _cells(
    group: CoachGroup, line: CoachLine, called: Callings, *, sided: bool, compared: bool
) -> tuple[Cell, ...]:
    directions = group.protocol.efforts
    cells: list[Cell] = [called(line.code)]
    if sided:
        cells.append(line.side if line.side != "both" else "both")
    cells += [_peak(line, direction) for direction in directions]
    if group.protocol.ratio_name is not None:
        cells.append(Figure(line.ratio_pct, 0))
    if compared:
        cells += [
            Figure(
                line.side_difference_pct.get(direction),
                0,
                signed=True,
                instead="",
                strong=direction in line.sides and line.sides[direction].beyond_error,
            )
            for direction in directions
        ]
    changes = [line.change.get(direction) for direction in directions]
    cells += ["–" if change is None else change_bar(change) for change in changes]
    cells.append(Marks(_marks(line)))
    cells.append(line.next_step)
    return tuple(cells)


def _peak(line: CoachLine, direction: Direction) -> Figure:
    per_kg = line.peak_torque_nm_kg.get(direction)
    peak = line.peak_torque_nm.get(direction)
    if per_kg is None and peak is not None:
        # Without a body mass the torque itself is printed, with its own unit.
        return Figure(None, instead=f"{Figure(peak, 0).text} N·m")
    return Figure(per_kg, 2)


def _marks(line: CoachLine) -> tuple[Mark, ...]:
    worst = next((word for word in COVERS_BY_CONCERN if word in line.covers.values()), "unverified")
    return Mark("quality", line.quality), Mark("cover", worst)


def _has_side_difference(line: CoachLine) -> bool:
    return any(value is not None for value in line.side_difference_pct.values())


def _strip(group: CoachGroup) -> DotStrip | None:
    people = {
        line.code for line in group.lines if any(v is not None for v in line.peak_torque_nm_kg.values())
    }
    if len(people) < FEWEST_FOR_STRIP:
        return None
    sided = any(line.side != "both" for line in group.lines)
    rows = []
    for direction in group.protocol.efforts:
        values = [
            (line.side, value)
            for line in group.lines
            if (value := line.peak_torque_nm_kg.get(direction)) is not None
        ]
        if values:
            rows.append(
                StripRow(
                    label=group.protocol.direction_name(direction),
                    open_values=tuple(value for side, value in values if side == "left"),
                    filled_values=tuple(value for side, value in values if side != "left"),
                    words=_mean_change(group, direction),
                )
            )
    return DotStrip(
        heading="The squad, without names",
        unit="N·m/kg",
        rows=tuple(rows),
        open_name="left" if sided else "",
        filled_name="right" if sided else "each athlete",
    )


def _mean_change(group: CoachGroup, direction: Direction) -> str:
    change = group.mean_change_pct.get(direction)
    if change is None:
        return ""
    mean, low, high, count = change
    shown = [Figure(value, 1, signed=True).text for value in (mean, low, high)]
    return f"mean change {shown[0]} % (95 %: {shown[1]} to {shown[2]}; {count} results)"


def _mean_changes(group: CoachGroup) -> tuple[str, ...]:
    words = {direction: _mean_change(group, direction) for direction in group.protocol.efforts}
    return tuple(
        f"Squad, {group.protocol.direction_name(direction)}: {text}."
        for direction, text in words.items()
        if text
    )


def _waiting(count: int) -> str:
    results = counted(count, "result waits", "results wait")
    return f"{results} for the rig: not to be used before a new sheet says so."


def _legend(page: CoachPage) -> Legend:
    lines = [line for group in page.groups for line in group.lines]
    used = {mark for line in lines for mark in _marks(line)}
    bars = any(change.change_pct is not None for line in lines for change in line.change.values())
    return Legend(
        tuple((Mark(*known), text) for known, text in MEANINGS.items() if Mark(*known) in used),
        detectable=bars,
    )
