"""Help in place: what this screen is for and every key that works on it, without leaving it."""

from __future__ import annotations

from collections.abc import Sequence

from textual.geometry import Size
from textual.screen import Screen

from fieldlog.screens.keys import EVERYWHERE, explained, key_words
from fieldlog.screens.table import Cell, Span
from fieldlog.screens.widgets.text_line import TextLines

__all__ = ["HelpPane"]


class HelpPane(TextLines):
    """Lines over the lower part of the room; the room keeps the focus and its keys."""

    DEFAULT_CSS = """
    HelpPane {
        layer: above; dock: bottom; height: auto; max-height: 70%; display: none;
        background: $panel; padding: 0 1; margin-bottom: 1; border-top: solid $primary;
    }
    """
    _pages: Sequence[Sequence[Cell]] = ()

    def explain(self, screen: Screen[object], about: str, size: Size) -> None:
        """Show the purpose of ``screen`` and its keys; those of every room in short."""
        from textwrap import wrap

        width = max(size.width - 4, 20)
        own, everywhere = [], []
        for key, active in explained(screen.active_bindings):
            if active.binding.id in EVERYWHERE:
                everywhere.append(f"{key_words(key)} {active.binding.description}")
            else:
                own.append([Span(f" {key_words(key):>7}  ", "key"), Span(active.binding.tooltip)])
        lines: list[Cell] = [
            *wrap(about, width),
            "",
            *own,
            *(Span(line, "quiet") for line in wrap(f"in every room: {', '.join(everywhere)}", width)),
        ]
        # Without the rule above, the line below and the one that says how it goes on.
        most = max(size.height * 7 // 10 - 3, 4)
        self._pages = [lines[first : first + most] for first in range(0, len(lines), most)]
        self.turn()
        self.display = True

    def turn(self) -> bool:
        """Show the next page; tell whether there was one."""
        if not self._pages:
            return False
        page, self._pages = self._pages[0], self._pages[1:]
        more = "?  shows the rest, " if self._pages else ""
        self.show_lines(*page, Span(f"   {more}esc  closes this help", "quiet"))
        return True
