"""Help in place: what this screen is for and every key that works on it, without leaving it."""

from __future__ import annotations

from textual.screen import Screen

from fieldlog.screens.keys import key_words
from fieldlog.screens.table import Span
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

    def explain(self, screen: Screen[object], about: str, width: int) -> None:
        """Show the purpose of ``screen`` and its keys."""
        from textwrap import wrap

        seen: set[str] = set()
        keys: list[list[Span]] = []
        for key, active in screen.active_bindings.items():
            binding = active.binding
            if not binding.tooltip or binding.id in seen or not binding.id or binding.id == "help_f1":
                continue
            seen.add(binding.id)
            keys.append([Span(f" {key_words(key):>7}  ", "key"), Span(binding.tooltip)])
        text = [[Span(line)] for line in wrap(about, max(width - 4, 20))]
        self.show_lines(*text, "", *keys, [Span("   esc  closes this help", "quiet")])
        self.display = True
