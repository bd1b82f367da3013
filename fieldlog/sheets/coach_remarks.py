"""What stands under the coach's table: last visits, errors of the test, and remarks with the lines they concern."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

from fieldlog.date_words import day_text
from fieldlog.fieldwork.pages.coach_page import CoachGroup, CoachLine
from fieldlog.sheets.changes import explanation, refusal
from fieldlog.sheets.wording import sentence

__all__ = ["concerned", "table_remark"]

MOST_NAMED = 12


def table_remark(group: CoachGroup, called: Callable[[str], str]) -> str:
    """The remark under a group's table; ``called`` gives the name or code of an athlete."""
    said: dict[str, dict[str, None]] = {}
    for line in group.lines:
        who = called(line.code) if line.side == "both" else f"{called(line.code)} {line.side}"
        for remark in _remarks_of(line):
            said.setdefault(remark, {})[who] = None
    remarks = [
        sentence(f"{remark} ({concerned(list(who), len(group.lines))})") for remark, who in said.items()
    ]
    return " ".join(
        [*_last_visits(group), _errors(group), *_sides(group), *_mass(group), *remarks, *group.rig_changes]
    )


def _remarks_of(line: CoachLine) -> Iterator[str]:
    yield from line.cover_remarks
    for change in line.change.values():
        if reason := refusal(change):
            yield reason
        elif change.marks:
            yield from (explanation(mark) for mark in change.marks)
    for difference in line.sides.values():
        if difference.difference_pct is None and ": " in difference.word:
            yield f"sides not compared, {difference.word.partition(': ')[2]}"


def concerned(who: list[str], of: int) -> str:
    """The lines a remark is about: all, or the first dozen by name."""
    if len(who) == of and of > 1:
        return "all lines"
    named = ", ".join(who[:MOST_NAMED])
    return named if len(who) <= MOST_NAMED else f"{named} and {len(who) - MOST_NAMED} more lines"


def _last_visits(group: CoachGroup) -> Iterator[str]:
    dates = sorted({change.since for line in group.lines for change in line.change.values() if change.since})
    if dates:
        first, last = (day_text(dt.date.fromisoformat(date)) for date in (dates[0], dates[-1]))
        yield f"Last visit: {first}." if first == last else f"Last visits: {first} to {last}."


def _errors(group: CoachGroup) -> str:
    if len(group.typical_errors) < 2:
        return sentence(f"Typical error {group.typical_error_pct:g} % ({group.typical_error_source})")
    return sentence(
        f"Typical errors, the largest {group.typical_error_pct:g} % ({' | '.join(group.typical_errors)})"
    )


def _sides(group: CoachGroup) -> Iterator[str]:
    sizes = [
        difference.detectable_pct
        for line in group.lines
        for difference in line.sides.values()
        if difference.detectable_pct is not None
    ]
    if sizes:
        low, high = f"{min(sizes):.0f}", f"{max(sizes):.0f}"
        size = low if low == high else f"{low} to {high}"
        yield f"Right−left is bold where it is beyond its own detectable difference ({size} %)."


def _mass(group: CoachGroup) -> Iterator[str]:
    if any(
        line.body_mass_kg is None and any(peak is not None for peak in line.peak_torque_nm.values())
        for line in group.lines
    ):
        yield "Where no body mass was taken, the torque itself stands in N·m."
