"""A list whose columns are as wide as its rows need, where the terminal is narrow."""

from __future__ import annotations

from collections.abc import Sequence

from fieldlog.screens.table import Column, Row, fitted
from fieldlog.screens.widgets.listing import Listing

__all__ = ["FittedListing"]


class FittedListing(Listing):
    """Rows whose fixed columns give way to a long name."""

    _fitted: tuple[int, tuple[Column, ...]] | None = None

    def show_rows(self, rows: Sequence[Row], *, columns: Sequence[Column] | None = None) -> None:
        """Show ``rows``, each cell as wide as it needs."""
        self._fitted = None
        super().show_rows(rows, columns=columns)

    def columns_at(self, width: int) -> Sequence[Column]:
        """Return the columns that fit all rows."""
        if self._fitted is None or self._fitted[0] != width:
            self._fitted = width, fitted(self.columns, self._all, width)
        return self._fitted[1]
