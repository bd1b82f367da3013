"""Handing a page out: entered in the ledger, then written where it was asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from fieldlog.fieldwork.pages.sheet_ledger import enter
from fieldlog.sheets.exports import write_whole
from fieldlog.sheets.making import Made

__all__ = ["HandedOut", "hand_out"]


@dataclass(frozen=True)
class HandedOut:
    """The files that were written, and why the ledger does not know of the page, where it does not."""

    files: tuple[Path, ...]
    why_not: str = ""

    @property
    def remark(self) -> str:
        """What has to be said beside the path, or nothing."""
        return f"not entered in the ledger: {self.why_not}" if self.why_not else ""

    @property
    def words(self) -> str:
        """The first file, and the remark where there is one."""
        return "; ".join(filter(None, (str(self.files[0]), self.remark)))


def hand_out(made: Made, files: Mapping[Path, bytes], *, by: str) -> HandedOut:
    """Enter a page in the ledger and write its files, all or none.

    Entered before it is written: a page that is out must be known; an entry without a page does no harm. A
    disk that takes no entry stops no page; the reason is handed back to be said. Raises as ``write_whole`` does.
    """
    why_not = enter(made.subject, made.issue, by=by)
    return HandedOut(tuple(write_whole(files)), why_not)
