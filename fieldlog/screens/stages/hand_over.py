"""Stage 5: the pages that are handed over."""

from __future__ import annotations

from collections import Counter
from typing import ClassVar

from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.results.results import ResultBook
from fieldlog.records.issued_sheet import IssuedSheet
from fieldlog.screens.sheets import PageKind
from fieldlog.screens.stages.stage import Stage
from fieldlog.screens.table import Cell, Column, Row, Span
from fieldlog.screens.words import verdict_span

__all__ = ["HandOverStage"]

COACH, RIG = "coach", "rig"
_LABELS: dict[str, str] = {COACH: "coach's page", RIG: "rig page", "visit": "visit page"}
_KINDS: dict[str, PageKind] = {COACH: "coach", RIG: "rig"}


class HandOverStage(Stage):
    """Making the coach's page; sheets made so far stand below."""

    columns: ClassVar = (Column("", 26), Column(""))
    word = "make"

    def rows(self) -> list[Row]:
        """The pages that can be made, then those that were."""
        results = ResultBook(self.day.workspace).of_visit(self.day.store, self.day.visit.id)
        self._covers = Counter(result.cover.shown for result in results)
        rows = [
            Row(COACH, (_LABELS[COACH], Span("PDF: table, one plot, cautions", "quiet"))),
            Row(RIG, (_LABELS[RIG], Span("PDF: checks of the day with uncertainty", "quiet"))),
        ]
        sheets = [
            kept.record for kept in at_site(self.day.store, IssuedSheet).find(visit_id=self.day.visit.id)
        ]
        rows += [
            Row(
                sheet.id,
                (
                    f"{_LABELS.get(sheet.kind, sheet.kind)} {sheet.number}",
                    f"revision {sheet.revision}, {sheet.date}",
                ),
            )
            for sheet in sorted(sheets, key=lambda sheet: (sheet.kind, sheet.revision), reverse=True)
        ]
        return rows

    def hint(self, row_key: str | None) -> list[Cell]:
        """How the results of the day are covered."""
        lines: list[Cell] = []
        state = self.day.stage_states[4]
        if state.waits_for:
            lines.append(Span(f"  waits for {state.waits_for}; a page made now says so", "warn"))
        if not self._covers:
            lines.append("  no results yet")
        else:
            spans = [Span("  results: ")]
            for word, count in sorted(self._covers.items()):
                spans += [Span(f"{count} "), verdict_span(word, mark=False), Span("   ")]
            lines.append(spans)
        if row_key == COACH:
            lines.append("  the page goes to the workspace's out folder")
        return lines

    def open(self, row_key: str) -> None:
        """Make the page under the cursor; the path is said when it is on disk."""
        if row_key in _KINDS:
            self.day.make_sheet(_KINDS[row_key], _LABELS[row_key])
        else:
            self.day.say("a sheet that was made is not changed; make it again for the newest revision")
