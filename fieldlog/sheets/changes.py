"""A judged change as a cell: a short word beside its bar, the reason of a refused comparison apart."""

from __future__ import annotations

import re

from fieldlog.fieldwork.change.judged_change import Change
from fieldlog.sheets.content import ChangeBar

__all__ = ["change_bar", "explanation", "refusal"]

# Beside a bar, which shows the error itself, one word is enough.
_SHORT = {"higher, beyond error": "higher", "lower, beyond error": "lower", "within error": "within"}


def change_bar(change: Change) -> ChangeBar:
    """The cell of a change; a refused comparison is named, its reason stands under the table.

    Only the protocol's main measures are marked: with many figures on a page chance alone would mark some.
    """
    if change.change_pct is None:
        return ChangeBar(change.word.partition(": ")[0])
    return ChangeBar(
        _SHORT.get(change.word, change.word), change.change_pct, change.detectable_pct, change.marked
    )


def refusal(change: Change) -> str:
    """Why a comparison was refused, empty where it was not or where there was nothing to compare with."""
    word, _, reason = change.word.partition(": ")
    return f"{word}, {reason}" if reason and change.change_pct is None else ""


def explanation(mark: str) -> str:
    """What else may explain a change, without its numbers, so that lines with the same remark stand together."""
    return re.split(r"[(\d]", mark, maxsplit=1)[0].strip(" ,")
