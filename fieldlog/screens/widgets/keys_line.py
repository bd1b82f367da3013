"""The last line: at most seven keys, those of what has the focus first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, cast

from rich.cells import cell_len
from textual.widgets import Input

from fieldlog.screens.keys import FOOTER_KEYS, key_words
from fieldlog.screens.table import Span
from fieldlog.screens.widgets.text_line import OneLine

if TYPE_CHECKING:
    from fieldlog.screens.room import Room

__all__ = ["KeysLine"]

_WHILE_TYPING = [("enter", "accept"), ("esc", "back, text kept"), ("F1", "help")]
_PLACE = {"space": 0, "enter": 0, "/": 2}


class KeysLine(OneLine):
    """Keys that work now. The key that explains the screen is always among them."""

    DEFAULT_CSS = "KeysLine { height: 1; background: $panel; dock: bottom; }"

    def on_mount(self) -> None:
        """Follow the focus."""
        self.screen.bindings_updated_signal.subscribe(self, lambda _: self.refresh())

    @property
    def keys(self) -> list[tuple[str, str]]:
        """Key and word, at most seven, ``?`` last; while a line is typed, those of the line."""
        if isinstance(self.screen.focused, Input):
            return _WHILE_TYPING
        room = cast("Room", self.screen)
        shown: dict[str, tuple[str, str]] = {}
        for key, active in self.screen.active_bindings.items():
            binding = active.binding
            if binding.show and active.enabled and binding.action not in shown:
                shown[binding.action] = (key_words(key), room.word_for(binding.action) or binding.description)
        help_key = shown.pop("help", None)
        # What enter and space do comes first, filtering last; the order between is the room's own.
        ordered = sorted(shown.values(), key=lambda entry: _PLACE.get(entry[0], 1))
        kept = ordered[: FOOTER_KEYS - (help_key is not None)]
        return [*kept, help_key] if help_key else kept

    @property
    def text(self) -> str:
        """What stands there."""
        return "  ".join(f"{key} {word}" for key, word in self.keys)

    def spans(self) -> Sequence[Span]:
        """As many keys as fit; the help key keeps its place."""
        width = self.size.width
        keys = self.keys
        while len(keys) > 1 and sum(cell_len(key) + cell_len(word) + 4 for key, word in keys) - 2 > width:
            del keys[-2]
        spans = [Span(" ")]
        for place, (key, word) in enumerate(keys):
            spans += [Span("   " if place else ""), Span(key, "key"), Span(f" {word}")]
        return spans
