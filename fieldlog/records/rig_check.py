"""A rig check as it is kept: what was read, and how it was judged that day."""

from __future__ import annotations

from typing import ClassVar, Literal

from fieldlog.records.base import Home, Instant, Record
from fieldlog.records.check_entry import CheckEntry, Stage, State
from fieldlog.records.kept_body import JudgedBody

__all__ = ["GOOD_VERDICTS", "RigCheck", "Verdict"]

Verdict = Literal["pass", "conditional pass", "conditional fail", "fail"]
"""The conformity words of ILAC-G8:09/2019, the best first."""
GOOD_VERDICTS: frozenset[Verdict] = frozenset({"pass", "conditional pass"})
"""The verdicts that let work go on."""


class RigCheck(Record):
    """A check with its verdict. The id follows from what was read, so a check saved twice is one record."""

    table: ClassVar[str] = "rig_checks"
    home: ClassVar[Home] = "site"

    visit_id: str
    site_id: str
    rig_id: str
    stage: Stage
    state: State
    at: Instant
    by: str
    entry: CheckEntry
    verdict: Verdict
    judged: JudgedBody
