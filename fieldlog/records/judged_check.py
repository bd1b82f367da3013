"""A rig check as it is kept: what was read, and how it was judged that day."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from fieldlog.records.base import Instant, Record
from fieldlog.records.rig_check import CheckEntry, Stage, State

__all__ = ["RigCheck", "Verdict"]

Verdict = Literal["pass", "conditional pass", "conditional fail", "fail"]


class RigCheck(Record):
    """A check with its verdict. The id follows from what was read, so a check saved twice is one record."""

    table: ClassVar[str] = "rig_checks"
    home: ClassVar[Literal["team", "site"]] = "site"

    visit_id: str
    site_id: str
    rig_id: str
    stage: Stage
    state: State
    at: Instant
    by: str
    entry: CheckEntry
    verdict: Verdict
    judged: dict[str, Any]
