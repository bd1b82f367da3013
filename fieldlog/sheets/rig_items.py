"""What ISO/IEC 17025:2017 asks of such a report, item by item: where it stands on the page, or why not.

Item letters after 7.8.2.1, 7.8.4.1 and 7.8.6 of the standard, from memory.
"""

from __future__ import annotations

from collections.abc import Sequence

from fieldlog.records.rig import Rig
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.standard import ReferenceStandard
from fieldlog.sheets.content import Column, Row, Table

__all__ = ["items_table"]


def items_table(rig: Rig, checks: Sequence[RigCheck], standards: Sequence[ReferenceStandard]) -> Table:
    """Each item with where it stands, or "not applicable" and why."""
    left = [check for check in checks if check.state == "as-left"]
    adjusted = (
        "as-found and as-left checks above"
        if left
        else "not applicable: nothing was adjusted, all checks are as-found"
    )
    trace = "table of reference standards" if standards else "not present: no standard was named"
    conditions = any(check.entry.conditions for check in checks)
    items = (
        ("title", "head of the page"),
        ("name and address of the laboratory", "not applicable: a team's own field verification"),
        ("place of the work", "facts above"),
        ("unique number, every page numbered, clear end", "foot of every page; last item below"),
        ("customer", "not applicable: the team verifies its own rig"),
        ("method", "masses on a lever; reference formula and decision rule with each check"),
        ("description and identity of the item", _identity(rig)),
        ("date of receipt", "not applicable: the rig is verified where it is used"),
        ("date of the work", "facts and checks above"),
        ("date of issue", "foot of every page"),
        ("sampling", "not applicable"),
        ("statement that results belong to this item only", "cautions below"),
        ("results with units", "tables above" if checks else "not present: no check on this day"),
        ("additions to, deviations from the method", "remarks with each check, or none"),
        ("person who authorises the report", "lines to sign below"),
        ("results from others", "not applicable"),
        ("uncertainty in the unit of the measurand", "U and k of each point"),
        ("conditions that influence the result", "facts above" if conditions else "not present: not noted"),
        ("metrological traceability", trace),
        ("results before and after adjustment", adjusted),
        ("conformity with a specification, decision rule", "verdict and rule with each check"),
        ("recommended interval", "not given on this page; see the rig's history"),
        ("opinions and interpretations", "not applicable: none are given"),
    )
    columns = (
        Column("item", "asked of a report by ISO/IEC 17025:2017", width_pt=200, share=1),
        Column("where", "on this page", width_pt=220, share=1),
    )
    return Table("What a report must hold", columns, tuple(Row(item) for item in items))


def _identity(rig: Rig) -> str:
    return "facts above" if rig.serial else "facts above; serial number not stated"
