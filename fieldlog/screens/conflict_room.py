"""One conflict, versions side by side: take one whole, or field by field."""

from __future__ import annotations

from typing import Any, ClassVar

import orjson
from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.exchange.conflicts import OpenConflict, first_choice, take_chosen
from fieldlog.exchange.notes import WorkspaceNotes
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Cell, Column, Row, Span
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import moment_words

__all__ = ["ConflictRoom"]

LETTERS = "ABCDEFGH"
SHOWN_HEADS = len(LETTERS)


class ConflictRoom(Room):
    """Who wrote which version when and why, and every field they differ in."""

    about = (
        "Each version has a letter. ▸ marks the one whose value is taken, * a value that was changed since the "
        "versions parted. Space takes the field from the next version, W the whole record. Enter keeps the choice "
        "with a reason; all versions stay in the history and the choice travels with the next sync."
    )
    CSS = """
    #heads { height: auto; max-height: 6; }
    ConflictRoom #fields { height: 1fr; min-height: 4; }
    #field_says { height: auto; max-height: 6; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept", word="keep this choice"),
        key("pick", word="take from next", text="Take the field under the cursor from the next version."),
        key("whole"),
        key("filter"),
    ]

    def __init__(self, conflict: OpenConflict) -> None:
        super().__init__()
        self.conflict = conflict
        self.heads = conflict.heads[:SHOWN_HEADS]
        self.base, self.chosen = first_choice(conflict)

    def body(self) -> ComposeResult:
        """Versions and fields."""
        yield TextLines("", id="heads")
        yield PaneTitle("where they differ", id="fields_title")
        yield Listing(Column(""), id="fields", empty="one of the versions is a deletion; W chooses")
        yield TextLines("", id="field_says")

    def begin(self) -> None:
        """Begin on the first field."""
        self.query_one("#fields", Listing).focus()

    def prepare(self) -> None:
        """Know what laptops are called."""
        workspace = self.fieldlog.workspace
        self._laptops = WorkspaceNotes(workspace.path, workspace.disk).laptops

    def refresh_room(self) -> None:
        """Show versions, fields and the choice."""
        conflict = self.conflict
        self.query_one("#title", TitleLine).show(
            f"{conflict.site} · {conflict.conflict.table.replace('_', ' ')} · {self._label()}",
            f"{len(conflict.heads)} versions",
        )
        self.query_one("#heads", TextLines).show_lines(*(self._head_line(i) for i in range(len(self.heads))))
        columns = (Column("field", 22), *(Column(LETTERS[i]) for i in range(len(self.heads))))
        rows = []
        for place, difference in enumerate(conflict.differences):
            taken = self.chosen.get(difference.outermost, self.base)
            cells: list[Cell] = [difference.field]
            for head in self.heads:
                mark = "▸ " if head.id == taken else "  "
                star = "*" if head.id in difference.changed_by else " "
                text = f"{mark}{star} {shown_value(difference.values.get(head.id, '—'))}"
                cells.append(Span(text, "strong" if head.id == taken else "quiet"))
            rows.append(Row(str(place), tuple(cells)))
        self.query_one("#fields", Listing).show_rows(rows, columns=columns)
        count = len(conflict.contested)
        self.query_one("#fields_title", PaneTitle).show(
            "where they differ", f"{count} changed in both" if count else "no field changed in both"
        )
        self._tell_field()

    def _label(self) -> str:
        """What a person calls the record: its code, name or day, else the beginning of its id."""
        bodies = [head.body for head in self.heads if head.body]
        named = [body[field] for body in bodies for field in ("code", "name", "date") if body.get(field)]
        return shown_value(named[0]) if named else self.conflict.conflict.document[:12]

    def _head_line(self, place: int) -> Cell:
        head = self.heads[place]
        laptop = self._laptops.get(head.device) or head.device[:8]
        done = "deleted by" if head.deleted else "by"
        why = f": {head.why}" if head.why else ""
        mark = "▸" if head.id == self.base else " "
        shown = " (shown now)" if place == 0 else ""
        return [
            Span(f"{mark} {LETTERS[place]} ", "key"),
            Span(f" {done} {head.by} on {laptop}, {moment_words(head.at)}{shown}{why}"),
        ]

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the field under the cursor."""
        event.stop()
        self._tell_field()

    def _tell_field(self) -> None:
        difference = self._difference()
        lines: list[Cell] = []
        if difference is not None:
            for letter, head in zip(LETTERS, self.heads, strict=False):
                lines.append(f"  {letter}  {shown_value(difference.values.get(head.id, '—'))}")
        self.query_one("#field_says", TextLines).show_lines(*lines)

    def _difference(self) -> Any:
        chosen = self.query_one("#fields", Listing).row_key
        return self.conflict.differences[int(chosen)] if chosen is not None else None

    def _next(self, head: str) -> str:
        known = [each.id for each in self.heads]
        return known[(known.index(head) + 1) % len(known)]

    def action_pick(self) -> None:
        """Take the field under the cursor from the next version."""
        difference = self._difference()
        if difference is None:
            self.say("W chooses a whole version")
            return
        taken = self.chosen.get(difference.outermost, self.base)
        self.chosen = {**self.chosen, difference.outermost: self._next(taken)}
        self.refresh_room()

    def action_whole(self) -> None:
        """Take everything from the next version."""
        mixed = any(head != self.base for head in self.chosen.values())
        self.base, self.chosen = self.base if mixed else self._next(self.base), {}
        self.refresh_room()
        self.say(f"everything from {LETTERS[[head.id for head in self.heads].index(self.base)]}", "quiet")

    def action_accept(self) -> None:
        """Ask why, and keep the choice."""
        self.ask("why this choice, or empty; esc leaves it open:", self._keep)

    def _keep(self, why: str) -> None:
        app = self.fieldlog
        take_chosen(app.workspace, self.base, self.chosen, by=app.by, why=why.strip())
        self.leave()
        if isinstance(app.screen, Room):
            app.screen.say("settled; every version stays in the history", "accent")


def shown_value(value: Any) -> str:
    """Return a field's value as one line."""
    return value if isinstance(value, str) else orjson.dumps(value).decode()
