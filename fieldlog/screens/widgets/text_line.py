"""Lines of plain text on a screen: a title, a pane's title, a message. None of them reads markup."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from textual.geometry import Size
from textual.strip import Strip
from textual.widget import Widget

from fieldlog.screens.palette import role_style
from fieldlog.screens.table import Cell, Span, fit, spans_of, text_of

__all__ = ["OneLine", "PaneTitle", "TextLines", "TitleLine", "strip_of"]


def strip_of(spans: Iterable[Span], width: int, base: Style, theme: str) -> Strip:
    """Return spans as one line of ``width`` cells; neighbours of one role, and blanks, are drawn together."""
    joined: list[tuple[str, str]] = []
    for text, role in spans:
        if not text:
            continue
        if joined and (role == joined[-1][1] or text.isspace()):
            joined[-1] = (joined[-1][0] + text, joined[-1][1])
        else:
            joined.append((text, role))
    segments = [Segment(text, base + role_style(role, theme)) for text, role in joined]
    return Strip(segments or [Segment(" " * width, base)]).adjust_cell_length(width, base)


class TextLines(Widget):
    """Lines of spans, cut at the edge; height follows the lines unless the style says otherwise."""

    DEFAULT_CSS = "TextLines { height: auto; width: 1fr; }"

    def __init__(self, *lines: Cell, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002 (Textual's own name)
        super().__init__(id=id, classes=classes)
        self._lines: list[list[Span]] = [spans_of(line) for line in lines]
        self._base: Style | None = None

    def show_lines(self, *lines: Cell) -> None:
        """Show other lines."""
        before, self._lines = self._lines, [spans_of(line) for line in lines]
        if self._lines != before:
            self.refresh(layout=len(before) != len(lines))

    def notify_style_update(self) -> None:
        """Colours may have changed: look them up anew."""
        self._base = None
        super().notify_style_update()

    @property
    def base_style(self) -> Style:
        """The style of what has no role; looking it up walks the whole tree of widgets, so it is kept."""
        if self._base is None:
            self._base = self.rich_style
        return self._base

    @property
    def text(self) -> str:
        """What stands there."""
        return "\n".join(text_of(line) for line in self._lines)

    def get_content_width(self, container: Size, viewport: Size) -> int:  # noqa: ARG002 (Textual's signature)
        """As wide as there is room."""
        return container.width

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 (Textual's signature)
        """As high as there are lines."""
        return len(self._lines)

    def spans_at(self, y: int) -> Sequence[Span]:
        """Return one line, not yet cut."""
        return self._lines[y] if y < len(self._lines) else ()

    def render_line(self, y: int) -> Strip:
        """Draw one line."""
        width = self.size.width
        return strip_of(fit(list(self.spans_at(y)), width), width, self.base_style, self.app.theme)


class OneLine(TextLines):
    """A line that is put together from what it knows each time it is drawn."""

    DEFAULT_CSS = "OneLine { height: 1; }"

    def spans(self) -> Sequence[Span]:
        """Return the line, not yet cut."""
        return ()

    def spans_at(self, y: int) -> Sequence[Span]:
        """There is one line only."""
        return self.spans() if y == 0 else ()


class TitleLine(OneLine):
    """The first line: where one is, and at the right what to know of it."""

    DEFAULT_CSS = "TitleLine { height: 1; background: $panel; }"

    def __init__(self, left: str = "", right: str = "", *, id: str | None = None) -> None:  # noqa: A002 (Textual's own name)
        super().__init__(id=id)
        self._left, self._right = left, right

    def show(self, left: str, right: Cell = "") -> None:
        """Say it anew."""
        before = self._left, self._right
        self._left = left
        self._right = right if isinstance(right, str) else text_of(spans_of(right))
        if before != (self._left, self._right):
            self.refresh()

    @property
    def text(self) -> str:
        """What stands there."""
        return f"{self._left}  {self._right}".strip()

    def spans(self) -> Sequence[Span]:
        """The left text gives way to the right one."""
        width = self.size.width
        right = fit(self._right, min(cell_len(self._right), max(width - 24, 0)))
        room = width - 2 - sum(cell_len(span.text) for span in right)
        left = fit(Span(self._left, "strong"), max(room - 1, 0))
        return [Span(" "), *left, Span(" "), *right, Span(" ")]


class PaneTitle(OneLine):
    """A pane's title on its rule, with the key that jumps to it and a word at the right."""

    def __init__(self, title: str, note: str = "", *, jump: str = "", id: str | None = None) -> None:  # noqa: A002 (Textual's own name)
        super().__init__(id=id)
        self._title, self._note, self._jump = title, note, jump

    @property
    def jump(self) -> str:
        """The key that goes to the list below."""
        return self._jump

    @jump.setter
    def jump(self, key: str) -> None:
        if key != self._jump:
            self._jump = key
            self.refresh()

    def show(self, title: str | None = None, note: str | None = None) -> None:
        """Say it anew; what is not given stays."""
        before = self._title, self._note
        self._title = self._title if title is None else title
        self._note = self._note if note is None else note
        if before != (self._title, self._note):
            self.refresh()

    @property
    def text(self) -> str:
        """What stands there."""
        return f"{self._title} {self._note}".strip()

    def spans(self) -> Sequence[Span]:
        """Rule, title, rule, note, rule; where there is no room for both, a third is the title's."""
        jump = [Span(" "), Span(self.jump, "key")] if self.jump else []
        title, note = spans_of(Span(self._title, "strong")), spans_of(self._note) if self._note else []
        room = self.size.width - 4 - _length(jump) - (3 if note else 0)
        if _length(title) + _length(note) > room:
            own = max(room - _length(note), min(_length(title), room // 3))
            title, note = fit(title, own), fit(note, max(room - own, 0))
        tail = [Span(" "), *note, Span(" ─", "quiet")] if note else []
        head = [Span("── ", "quiet"), *title, *jump, Span(" ")]
        rule = "─" * max(self.size.width - _length(head) - _length(tail), 0)
        return [*head, Span(rule, "quiet"), *tail]


def _length(spans: Iterable[Span]) -> int:
    return sum(cell_len(span.text) for span in spans)
