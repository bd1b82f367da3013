"""A conflict in a few words: which record, and who wrote which head when and why."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fieldlog.store.lines import Revision
from fieldlog.store.shown import Conflict

__all__ = ["conflict_summary", "head_summary"]


def conflict_summary(
    conflict: Conflict, site: str, laptop_name: Callable[[str], str] = str
) -> dict[str, Any]:
    """Return a conflict for people and JSON; the first head is the one shown."""
    return {
        "site": site,
        "table": conflict.table,
        "id": conflict.document,
        "heads": [head_summary(head, laptop_name) for head in conflict.heads],
    }


def head_summary(head: Revision, laptop_name: Callable[[str], str] = str) -> dict[str, Any]:
    return {
        "revision": head.id,
        "by": head.by,
        "at": head.at.isoformat(timespec="seconds"),
        "why": head.why,
        "laptop": laptop_name(head.device),
        "deleted": head.deleted,
    }
