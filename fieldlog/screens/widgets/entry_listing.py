"""A list with an entry in the row under the cursor: digits type, letters stay keys until a unit can follow."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.message import Message

from fieldlog.screens.table import Column, Row, Span, compose_row, plain
from fieldlog.screens.widgets.listing import Listing

__all__ = ["EntryListing"]

LONGEST = 24
_SIGNS = "+-−"
_UNIT_MARKS = "\"'°·/.*"


class EntryListing(Listing):
    """Rows of which the one under the cursor takes what is typed.

    A number may have a comma or a point as decimal sign and a unit after it (``12,5``, ``1.4in``). Before
    the first digit letters are keys of the room, so ``n`` is a note and not a letter.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("backspace", "rub_out", "rub out", show=False),
        Binding("delete", "clear_entry", "clear", show=False),
    ]

    class Pasted(Message):
        """Several values were pasted at once."""

        def __init__(self, values: list[str]) -> None:
            super().__init__()
            self.values = values

    def __init__(
        self,
        *columns: Column,
        entry_column: int,
        units: bool = True,
        id: str | None = None,  # noqa: A002 (Textual's own name)
    ) -> None:
        super().__init__(*columns, id=id)
        self.entry_column = entry_column
        self.units = units
        self.prefix = ""
        self._typed = ""
        self._takes: frozenset[str] = frozenset()

    @property
    def typed(self) -> str:
        """What is typed, with the sign that stood there from the start."""
        return self.prefix + self._typed if self._typed else ""

    def type_over(self, text: str) -> None:
        """Put ``text`` where typing goes on."""
        self._typed = plain(text)[:LONGEST]
        self.refresh()

    def take(self) -> str:
        """Return what is typed and begin anew."""
        typed, self._typed = self.typed, ""
        self.refresh()
        return typed

    def takes_entries(self, keys: Sequence[str]) -> None:
        """Say in which rows something can be typed."""
        self._takes = frozenset(keys)

    @property
    def can_type(self) -> bool:
        """Whether the row under the cursor takes an entry."""
        return self.row_key in self._takes

    def take_key(self, event: events.Key) -> bool:
        """Take digits, a sign at the start, a decimal sign and a unit; leave all else to the room."""
        character = event.character
        if not self.can_type or character is None or not self._fits(character):
            return False
        if len(self.typed) < LONGEST:
            if character in _SIGNS and not self._typed:
                self.prefix = ""
            self._typed += character
            self.refresh()
        return True

    def on_key(self, event: events.Key) -> None:
        """Take a key where no application hands it over."""
        if self.take_key(event):
            event.stop()
            event.prevent_default()

    def _fits(self, character: str) -> bool:
        if character in "0123456789":
            return True
        if character in _SIGNS:
            return not self._typed
        if character in ",.":
            return True
        if not self.units or not any(digit in "0123456789" for digit in self._typed):
            return False
        return character.isalpha() or character in _UNIT_MARKS

    def on_paste(self, event: events.Paste) -> None:
        """One value goes into the entry, a column of them to the room."""
        if not self.can_type:
            return
        event.stop()
        values = event.text.replace(";", " ").split()
        if len(values) > 1:
            self.post_message(self.Pasted([plain(value)[:LONGEST] for value in values]))
        elif values:
            self.type_over(values[0])

    def action_rub_out(self) -> None:
        """Take the last character back."""
        self._typed = self._typed[:-1]
        self.refresh()

    def action_clear_entry(self) -> None:
        """Take everything back."""
        self._typed = ""
        self.refresh()

    def watch_cursor(self, old: int, new: int) -> None:
        """What was begun in one row is not typed into another."""
        if old != new:
            self._typed = ""
        super().watch_cursor(old, new)

    def line_spans(self, row: Row, width: int, *, at_cursor: bool) -> list[Span]:
        """Draw the entry in its column."""
        if not at_cursor or row.key not in self._takes:
            return super().line_spans(row, width, at_cursor=at_cursor)
        cells = list(row.cells)
        room = max((self.columns[self.entry_column].width or 12) - 2, 3)
        shown = self.typed or self.prefix
        shown = shown[-(room - 1) :] + "▏"
        cells[self.entry_column] = Span(f"[{shown:<{room}}]", "entry")
        return compose_row(self.columns, cells, width, row.role)
