"""One question in one line at the foot of a room: nothing else is blocked, esc gives it up."""

from __future__ import annotations

from collections.abc import Callable

from rich.cells import cell_len
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.geometry import Size
from textual.suggester import Suggester
from textual.widgets import Input

from fieldlog.screens.table import Cell, Span, wrapped
from fieldlog.screens.widgets.line_input import LineInput
from fieldlog.screens.widgets.text_line import TextLines

__all__ = ["AskLine"]


class AskLine(Horizontal):
    """A question and a line to type in, below each other where the question is long; hidden until it asks."""

    DEFAULT_CSS = """
    AskLine { height: auto; display: none; background: $panel; }
    AskLine > TextLines { width: auto; height: auto; }
    AskLine.long { layout: vertical; }
    AskLine.long LineInput, AskLine.long LineInput:focus { padding: 0 1; }
    """

    def __init__(self, *, answered: Callable[[str], None], typed: Callable[[str], None]) -> None:
        super().__init__()
        self._answered = answered
        self._typed = typed

    def compose(self) -> ComposeResult:
        """Question and line."""
        yield _Question("")
        yield LineInput(self._answered)

    @property
    def line(self) -> LineInput:
        """The line that is typed in."""
        return self.query_one(LineInput)

    def ask(
        self,
        question: str,
        text: str = "",
        *,
        completer: Callable[[str], str | None] | None = None,
        suggester: Suggester | None = None,
    ) -> None:
        """Show the question with ``text`` to start from, and take the keys."""
        width = self.screen.size.width
        self.set_class(cell_len(question) > width // 2, "long")
        lines = wrapped(question, width - 1, first=" ", others=" ")
        self.query_one(_Question).show_lines(*(Span(f"{each.text} ") for each in lines))
        self.line.begin(text, completer)
        self.line.suggester = suggester
        self.display = True
        # At once: a deferred focus would let the first keys go elsewhere.
        self.screen.set_focus(self.line)

    def close(self) -> str:
        """Hide the line; what was typed is returned so that it can be kept."""
        self.display = False
        return self.line.value

    @property
    def text(self) -> str:
        """What is typed."""
        return self.line.value

    @property
    def question(self) -> str:
        """What is asked."""
        return " ".join(self.query_one(_Question).text.split())

    def on_input_changed(self, event: Input.Changed) -> None:
        """Tell the room while it is typed."""
        event.stop()
        if self.display:
            self._typed(event.value)


class _Question(TextLines):
    def show_lines(self, *lines: Cell) -> None:
        """Show another question, as wide as it is."""
        super().show_lines(*lines)
        self.refresh(layout=True)

    def get_content_width(self, container: Size, viewport: Size) -> int:  # noqa: ARG002 (Textual's signature)
        """As wide as its longest line."""
        return max(cell_len(line) for line in self.text.split("\n"))
