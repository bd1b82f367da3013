"""A list whose columns are as wide as its rows need, where the terminal is narrow."""

from __future__ import annotations

from collections.abc import Sequence

from fieldlog.screens.table import Column, Row, Span, compose_row, fitted
from fieldlog.screens.widgets.listing import Listing

__all__ = ["FittedListing"]


class FittedListing(Listing):
    """Rows whose fixed columns give way to a long name."""

    def show_rows(self, rows: Sequence[Row], *, columns: Sequence[Column] | None = None) -> None:
        """Show ``rows``, each cell as wide as it needs."""
        self._fitted: tuple[int, tuple[Column, ...]] | None = None
        super().show_rows(rows, columns=columns)

    def line_spans(self, row: Row, width: int, *, at_cursor: bool) -> list[Span]:  # noqa: ARG002 (for entries)
        """Return one row in the columns that fit all rows."""
        if self._fitted is None or self._fitted[0] != width:
            self._fitted = width, fitted(self.columns, self._all, width)
        return compose_row(self._fitted[1], row.cells, width, row.role)
