"""What every room does with its lists, and how it says something in its message line."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from textual.screen import Screen

from fieldlog.errors import FieldlogError
from fieldlog.screens.keys import MEANINGS, PANES, key_words
from fieldlog.screens.table import Cell, Span, wrapped
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines

__all__ = ["RoomLists"]


class RoomLists(Screen[None]):
    """Saying one line, going from list to list, copying out of them."""

    def __init__(self) -> None:
        super().__init__()
        self._said_role = ""
        self._copied: tuple[tuple[Listing, str], int] | None = None

    def say(self, text: Cell, role: str = "") -> None:
        """Say one line, or two where one is too short for it; it stays until the next."""
        self._said_role = role
        message = self.query_one("#message", TextLines)
        if not isinstance(text, str):
            message.show_lines(text)
            return
        first, *others = wrapped(text, self.app.size.width, role, first=" ") or [Span("")]
        # What is too long for two lines is cut at the edge of the second.
        rest = [Span(" " + " ".join(line.text.strip() for line in others), role)] if others else []
        message.show_lines(first, *rest)

    def unsay_fault(self) -> None:
        """A fault that was said does not stand beside the next question or answer."""
        if self._said_role == "bad":
            self.say("")

    @property
    def said(self) -> str:
        """What the message line says."""
        return " ".join(self.query_one("#message", TextLines).text.split())

    @contextmanager
    def telling(self) -> Iterator[None]:
        """Say an error of fieldlog in one line instead of failing; what was typed stays."""
        from pydantic import ValidationError

        from fieldlog.records.base import first_fault

        try:
            yield
        except FieldlogError as error:
            self.say(str(error), "bad")
        except ValidationError as error:
            self.say(f"{first_fault(error)}; nothing was saved", "bad")
        except OSError as error:
            self.say(f"{error.filename or 'the disk'}: {error.strerror or error}; nothing was saved", "bad")

    # the lists

    def _list_in_focus(self) -> Listing | None:
        if isinstance(self.focused, Listing):
            return self.focused
        return next((listing for listing in self.query(Listing) if listing.display), None)

    def _panes(self) -> list[tuple[PaneTitle | None, Listing]]:
        """Return the lists that are shown, each with the title above it."""
        found: list[tuple[PaneTitle | None, Listing]] = []
        title: PaneTitle | None = None
        for widget in self.query("*").results():
            if isinstance(widget, PaneTitle):
                title = widget
            elif isinstance(widget, Listing) and widget.display:
                found.append((title, widget))
                title = None
        return found

    def _name_panes(self) -> None:
        panes = self._panes()
        for number, (title, _) in enumerate(panes[:PANES], start=1):
            if title is not None:
                title.jump = key_words(MEANINGS[f"pane_{number}"].key) if len(panes) > 1 else ""

    def action_pane(self, number: int) -> None:
        """Go to a list by its number."""
        panes = self._panes()
        if number <= len(panes):
            self.set_focus(panes[number - 1][1])

    def action_copy_line(self) -> None:
        """Copy the row under the cursor; once more, its cells one after the other."""
        listing = self._list_in_focus()
        if listing is None or listing.row_key is None:
            self.say("nothing to copy here", "quiet")
            return
        cells = [text for text in listing.row_cells if text]
        now = (listing, listing.row_key)
        place = self._copied[1] + 1 if self._copied is not None and self._copied[0] == now else -1
        place = place if place < len(cells) else -1
        self._copied = (now, place)
        self.app.copy_to_clipboard(listing.row_text if place < 0 else cells[place])
        self.say("copied this line" if place < 0 else f"copied: {cells[place]}", "quiet")

    def action_copy_table(self) -> None:
        """Copy the rows of the list."""
        listing = self._list_in_focus()
        if listing is None:
            self.say("nothing to copy here", "quiet")
            return
        self.app.copy_to_clipboard(listing.table_text)
        self.say(f"copied {listing.count_words} rows", "quiet")
