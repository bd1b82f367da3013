"""The forms of what is made of parts: its words, and one part."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from fieldlog.screens.form import FormRoom
from fieldlog.screens.table import Cell, wrapped
from fieldlog.screens.widgets.listing import Listing

__all__ = ["PartForm", "WordsForm"]


class WordsForm(FormRoom):
    """Name, source and caution of what is edited."""

    def __init__(
        self,
        title: str,
        fields: Mapping[str, str],
        words: Mapping[str, str],
        *,
        draft: str,
        take: Callable[[Mapping[str, str]], str],
    ) -> None:
        super().__init__(title, fields, words, draft=draft)
        self._take_words = take

    def save(self) -> str:
        """Put the words into the draft."""
        return self._take_words(self.typed)


class PartForm(FormRoom):
    """One part; the last line puts it into the draft."""

    CSS = "PartForm #fields { height: 1fr; }"

    def __init__(
        self,
        title: str,
        fields: Mapping[str, str],
        typed: Mapping[str, str],
        *,
        draft: str,
        take: Callable[[Mapping[str, str]], str],
        hint_of: Callable[[str], str],
    ) -> None:
        super().__init__(title, fields, typed, draft=draft)
        self._take_part = take
        self._hint_of = hint_of

    def hint(self) -> list[Cell]:
        """What can be typed at the field under the cursor."""
        field = self.query_one("#fields", Listing).row_key or ""
        return list(wrapped(self._hint_of(field), self.size.width, "quiet"))

    def save(self) -> str:
        """Put the part into the draft."""
        return self._take_part(self.typed)
