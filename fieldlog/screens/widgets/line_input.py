"""A line to type in that takes each key at once, so that a burst of keys stays in order."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.widgets import Input

from fieldlog.screens.table import plain

__all__ = ["LineInput"]


class LineInput(Input):
    """An input of one line without a frame. ``answered`` gets the text on enter; tab completes it."""

    DEFAULT_CSS = "LineInput, LineInput:focus { border: none; height: 1; padding: 0 1 0 0; width: 1fr; }"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("tab", "complete", "complete", show=False)]

    def __init__(self, answered: Callable[[str], None], *, placeholder: str = "") -> None:
        super().__init__(compact=True, select_on_focus=False, placeholder=placeholder)
        self._answered = answered
        self.completer: Callable[[str], str | None] | None = None

    def begin(self, text: str, completer: Callable[[str], str | None] | None = None) -> None:
        """Start from ``text``."""
        self.completer = completer
        with self.prevent(Input.Changed):
            self.value = plain(text)
        self.cursor_position = len(self.value)

    def take_key(self, event: events.Key) -> bool:
        """Take a printable key; the application hands it over before anything else may have it."""
        if not event.is_printable or event.character is None:
            return False
        self._put(event.character)
        return True

    def take_paste(self, text: str) -> None:
        """Take pasted text as one line of harmless characters."""
        self._put(plain(" ".join(text.split())))

    def _on_paste(self, event: events.Paste) -> None:
        self.take_paste(event.text)
        event.stop()
        event.prevent_default()

    def _put(self, text: str) -> None:
        if self.selection.is_empty:
            self.insert_text_at_cursor(text)
        else:
            self.replace(text, *self.selection)

    async def action_submit(self) -> None:
        """Hand the text over, at once."""
        self._answered(self.value)

    def action_complete(self) -> None:
        """Take the completion over."""
        completed = self.completer(self.value) if self.completer else self._suggestion
        if completed:
            self.value = completed
            self.cursor_position = len(completed)
