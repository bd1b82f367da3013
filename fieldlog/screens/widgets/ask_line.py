"""One question in one line at the foot of a room: nothing else is blocked, esc gives it up."""

from __future__ import annotations

from typing import ClassVar

from rich.cells import cell_len
from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.geometry import Size
from textual.message import Message
from textual.suggester import Suggester
from textual.widgets import Input

from fieldlog.screens.table import Cell, plain
from fieldlog.screens.widgets.text_line import TextLines

__all__ = ["AskLine"]


class _Line(Input):
    """An input of one line without a frame; pasted text comes in as one line of harmless characters."""

    DEFAULT_CSS = "_Line, _Line:focus { border: none; height: 1; padding: 0; width: 1fr; }"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("tab", "complete", "complete", show=False)]

    def action_complete(self) -> None:
        """Take the completion over."""
        if self._suggestion:
            self.value = self._suggestion
            self.cursor_position = len(self.value)

    def _on_paste(self, event: events.Paste) -> None:
        self.insert_text_at_cursor(plain(" ".join(event.text.split())))
        event.stop()
        event.prevent_default()


class AskLine(Horizontal):
    """A label and a line to type in; hidden until it asks."""

    DEFAULT_CSS = """
    AskLine { height: 1; display: none; background: $panel; }
    AskLine > TextLines { width: auto; max-width: 60%; height: 1; }
    """

    class Typed(Message):
        """The text was changed."""

        def __init__(self, text: str) -> None:
            super().__init__()
            self.text = text

    class Answered(Message):
        """The text was entered."""

        def __init__(self, text: str) -> None:
            super().__init__()
            self.text = text

    def compose(self) -> ComposeResult:
        """Label and line."""
        yield _Label("")
        yield _Line(compact=True, select_on_focus=False)

    def ask(self, label: str, text: str = "", *, suggester: Suggester | None = None) -> None:
        """Show the question with ``text`` to start from, and take the keys."""
        line = self.query_one(_Line)
        self.query_one(_Label).show_lines(f" {label} ")
        line.suggester = suggester
        with line.prevent(Input.Changed):
            line.value = plain(text)
        line.cursor_position = len(line.value)
        self.display = True
        line.focus()

    def close(self) -> str:
        """Hide the line; what was typed is returned so that it can be kept."""
        self.display = False
        return self.query_one(_Line).value

    @property
    def text(self) -> str:
        """What is typed."""
        return self.query_one(_Line).value

    def on_input_changed(self, event: Input.Changed) -> None:
        """Tell the room while it is typed."""
        event.stop()
        if self.display:
            self.post_message(self.Typed(event.value))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Tell the room."""
        event.stop()
        self.post_message(self.Answered(event.value))


class _Label(TextLines):
    def show_lines(self, *lines: Cell) -> None:
        """Show another question, as wide as it is."""
        super().show_lines(*lines)
        self.refresh(layout=True)

    def get_content_width(self, container: Size, viewport: Size) -> int:  # noqa: ARG002 (Textual's signature)
        """As wide as its text."""
        return cell_len(self.text)
