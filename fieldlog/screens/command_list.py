"""Every command of the room with its key, and every athlete by code: type a few letters, enter does it."""

from __future__ import annotations

from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen
from textual.widgets import Input

from fieldlog.fieldwork.batch.whereabouts import athletes_by_code
from fieldlog.screens.keys import explained, key_words
from fieldlog.screens.room import Room
from fieldlog.screens.table import Column, Row, Span
from fieldlog.screens.widgets.line_input import LineInput
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle

__all__ = ["CommandList"]

ATHLETE = "athlete/"


class CommandList(ModalScreen[None]):
    """A list over the room it was called from."""

    CSS = """
    CommandList { align: center top; background: $background 60%; }
    CommandList > PaneTitle, CommandList > LineInput, CommandList > Listing { width: 90%; max-width: 90; background: $panel; }
    CommandList > PaneTitle { margin-top: 2; }
    CommandList > LineInput { border: none; height: 1; padding: 0 2; }
    CommandList > Listing { height: 12; }
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "give_up", "back", priority=True),
        Binding("down", "step(1)", "down", priority=True, show=False),
        Binding("up", "step(-1)", "up", priority=True, show=False),
    ]

    def __init__(self, room: Room) -> None:
        super().__init__()
        self.room = room
        self._actions: dict[str, tuple[object, str]] = {}
        self._commands: list[Row] = []
        self._people: list[Row] | None = None

    def compose(self) -> ComposeResult:
        """A line to type in and the commands that fit."""
        yield PaneTitle("commands", id="command_title")
        yield LineInput(
            self._do, placeholder="a few letters of a command or an athlete; enter does it, esc closes"
        )
        yield Listing(
            Column("", 8, "right"), Column("", 16), Column(""), heading=False, empty="no such command"
        )

    def on_mount(self) -> None:
        """List what the room can do now."""
        rows = []
        for key, active in explained(self.room.active_bindings):
            binding = active.binding
            if binding.id != "commands":
                self._actions[binding.id or ""] = (active.node, binding.action)
                rows.append(
                    Row(
                        binding.id or "",
                        (Span(key_words(key), "key"), binding.description, Span(binding.tooltip, "quiet")),
                    )
                )
        self._commands = rows
        self.query_one(Listing).show_rows(rows)
        self.set_focus(self.query_one(LineInput))
        self._count()

    def _count(self) -> None:
        self.query_one(PaneTitle).show(note=self.query_one(Listing).count_words)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Show the commands that fit, and the athletes."""
        self._show(event.value)

    def _show(self, typed: str) -> None:
        listing = self.query_one(Listing)
        # Athletes only once something is typed: a season has two thousand.
        listing.show_rows([*self._commands, *self._athletes()] if typed.strip() else self._commands)
        listing.filter(typed)
        self._count()

    def _athletes(self) -> list[Row]:
        if self._people is None:
            app = self.room.fieldlog
            athletes = athletes_by_code(app.workspace) if app.is_open else []
            self._people = [
                Row(ATHLETE + athlete.id, ("", athlete.code, Span(athlete.squad or "no squad", "quiet")))
                for athlete in athletes
            ]
        return self._people

    def _do(self, text: str) -> None:
        self._show(text)
        chosen = self.query_one(Listing).row_key
        self.dismiss(None)
        if chosen and chosen.startswith(ATHLETE):
            self.room.call_later(self.room.go_to_athlete, chosen.removeprefix(ATHLETE))
        elif chosen:
            node, action = self._actions[chosen]
            self.room.call_later(self.room.app.run_action, action, node)

    def action_step(self, by: int) -> None:
        """Move the cursor while typing."""
        self.query_one(Listing).action_move(by)

    def action_give_up(self) -> None:
        """Close the list."""
        self.dismiss(None)

    def on_key(self, event: events.Key) -> None:
        """The help key closes the list too, as it is no command of its own here."""
        if event.key == "f1":
            event.stop()
            self.dismiss(None)
