"""Stage 5: the pages that are handed over."""

from __future__ import annotations

from collections import Counter
from typing import ClassVar

from fieldlog.fieldwork.pages.sheet_ledger import issued_sheets
from fieldlog.fieldwork.results.results import ResultBook
from fieldlog.records.issued_sheet import IssuedSheet, SheetKind
from fieldlog.screens.sheets import make_stale_again
from fieldlog.screens.stages.stage import Stage
from fieldlog.screens.table import Cell, Column, Row, Span, wrapped
from fieldlog.screens.words import moment_words, verdict_span

__all__ = ["HandOverStage"]

COACH, RIG = "coach", "rig"
_LABELS: dict[str, str] = {COACH: "coach's page", RIG: "rig page", "visit": "visit page"}
_KINDS: dict[str, SheetKind] = {COACH: "coach", RIG: "rig"}


class HandOverStage(Stage):
    """Making the coach's page; sheets made so far stand below, with those that no longer hold."""

    columns: ClassVar = (Column("", 32), Column(""))
    word = "make"

    def rows(self) -> list[Row]:
        """The pages that can be made, then those that were."""
        results = ResultBook(self.day.workspace).of_visit(self.day.store, self.day.visit.id)
        self._covers = Counter(result.cover.shown for result in results)
        rows = [
            Row(COACH, (_LABELS[COACH], Span("PDF: table, one plot, cautions", "quiet"))),
            Row(RIG, (_LABELS[RIG], Span("PDF: checks of the day with uncertainty", "quiet"))),
        ]
        sheets = issued_sheets(self.day.store, self.day.visit.id)
        in_order = sorted(sheets, key=lambda sheet: (sheet.kind, sheet.revision), reverse=True)
        return rows + [self._made(sheet) for sheet in in_order]

    def _made(self, sheet: IssuedSheet) -> Row:
        said: list[Span] = [
            Span(f"revision {sheet.revision}, {moment_words(sheet.date, self.day.fieldlog.today)}")
        ]
        if sheet.id in self.day.stale:
            said.append(Span(" · no longer holds", "warn"))
        return Row(sheet.id, (f"{_LABELS.get(sheet.kind, sheet.kind)} {sheet.number}", said))

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
        stale = self.day.stale.get(row_key or "")
        if stale is not None:
            lines += wrapped(
                f"enter makes it again; changed since {stale.name}: {'; '.join(stale.changes)}",
                self.day.size.width,
                "warn",
            )[:4]
        if row_key == COACH:
            lines.append("  the page goes to the workspace's out folder")
        return lines

    def open(self, row_key: str) -> None:
        """Make the page under the cursor; the path is said when it is on disk."""
        if row_key in _KINDS:
            self.day.make_sheet(_KINDS[row_key], _LABELS[row_key])
        elif row_key in self.day.stale:
            make_stale_again(self.day, self.day.stale[row_key])
        else:
            self.day.say("this sheet holds, or a newer revision took its place; it is not made again")
