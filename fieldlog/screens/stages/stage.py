"""What a stage of the day shows and does."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import TYPE_CHECKING, ClassVar

from fieldlog.screens.table import Cell, Column, Row

if TYPE_CHECKING:
    from fieldlog.screens.day import DayRoom

__all__ = ["Stage"]


class Stage(ABC):
    """One of the five stages. Rows are read anew each time they are shown."""

    columns: ClassVar[tuple[Column, ...]] = (Column(""),)
    word: ClassVar[str] = "open"

    def __init__(self, day: DayRoom) -> None:
        self.day = day

    @abstractmethod
    def rows(self) -> list[Row]:
        """The rows of the stage."""

    def note(self) -> str:
        """A word at the right of the stage's title."""
        return ""

    def hint(self, row_key: str | None) -> list[Cell]:
        """Lines about the row under the cursor."""
        del row_key
        return []

    @abstractmethod
    def open(self, row_key: str) -> None:
        """What enter does on a row."""
