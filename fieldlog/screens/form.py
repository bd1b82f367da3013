"""A small form: one line a field, enter asks for it, the last line saves. What is typed is kept as a draft."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.fieldwork.drafts import Drafts
from fieldlog.screens.abstract_room import AbstractRoom
from fieldlog.screens.keys import key
from fieldlog.screens.table import Cell, Column, Row, Span, wrapped
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine

__all__ = ["FormRoom"]

SAVE = "save"


class FormRoom(AbstractRoom):
    """Fields with their answers. A room says which fields, and what saving does."""

    about = "Enter asks for the field under the cursor; the last line saves. Esc goes back, what was typed is kept."
    CSS = "FormRoom #fields { height: 1fr; } #field_hint { height: auto; max-height: 4; }"
    BINDINGS: ClassVar[list[BindingType]] = [key("accept", word="change, save")]

    def __init__(
        self, title: str, fields: Mapping[str, str], typed: Mapping[str, str], *, draft: str
    ) -> None:
        super().__init__()
        self.heading, self.fields, self.draft = title, dict(fields), draft
        self.saved_form = dict(typed)
        self.typed = dict(typed)

    def body(self) -> ComposeResult:
        """Fields and a hint."""
        yield PaneTitle("", id="fields_title")
        yield Listing(Column("", 44), Column(""), id="fields", heading=False)
        yield TextLines("", id="field_hint")

    def prepare(self) -> None:
        """Take up what was typed before."""
        kept = Drafts(self.fieldlog.workspace.path).load(self.draft) or {}
        self.typed |= {
            name: text for name, text in kept.items() if name in self.fields and isinstance(text, str)
        }

    def begin(self) -> None:
        """Begin on the first field."""
        self.set_focus(self.query_one("#fields", Listing))

    def refresh_room(self) -> None:
        """Show the fields."""
        self.query_one("#title", TitleLine).show(self.heading, "")
        changed = [name for name in self.fields if self.typed[name] != self.saved_form.get(name, "")]
        rows = [
            Row(name, (label, Span(self.typed[name] or "–", "entry" if name in changed else "")))
            for name, label in self.fields.items()
        ]
        rows.append(Row(SAVE, (Span("save", "key"), Span("nothing changed" if not changed else "", "quiet"))))
        self.query_one("#fields", Listing).show_rows(rows)
        count = len(changed)
        self.query_one("#fields_title", PaneTitle).show(
            "fields", f"{count} changed, not saved yet" if count else "as saved"
        )
        self._show_hint()

    def hint(self) -> list[Cell]:
        """What there is to know of the form; a room overrides this."""
        return []

    @abstractmethod
    def save(self) -> str:
        """Save what is typed and return what to say. Errors of fieldlog are told."""

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the field under the cursor."""
        event.stop()
        self._show_hint()

    def _show_hint(self) -> None:
        self.query_one("#field_hint", TextLines).show_lines(*self.hint()[:4])

    def action_accept(self) -> None:
        """Ask for the field under the cursor, or save."""
        name = self.query_one("#fields", Listing).row_key
        if name == SAVE:
            with self.telling():
                draft = self.draft
                said = self.save()
                Drafts(self.fieldlog.workspace.path).drop(draft)
                self.saved_form = dict(self.typed)
                self.refresh_room()
                self.say(said, "accent")
        elif name is not None:
            self.ask(f"{self.fields[name]}:", lambda text: self._take(name, text), self.typed[name])

    def _take(self, name: str, text: str) -> None:
        self.typed[name] = text.strip()
        Drafts(self.fieldlog.workspace.path).save(self.draft, dict(self.typed))
        self.refresh_room()
        self.query_one("#fields", Listing).action_move(1)
        self.say("")


def paragraph(text: str, width: int, role: str = "") -> list[Cell]:
    """A text wrapped to the width of a room."""
    return list(wrapped(text, width, role))
