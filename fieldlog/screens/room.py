"""What every room shares: title, keys, questions in one line, help in place, filter, undo, one step back."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import ClassVar, cast

from textual import events
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.screen import Screen
from textual.suggester import Suggester
from textual.widget import Widget
from textual.widgets import Input

from fieldlog.errors import FieldlogError, InputError
from fieldlog.screens.keys import PANES, key
from fieldlog.screens.room_work import RoomWork
from fieldlog.screens.widgets.ask_line import AskLine
from fieldlog.screens.widgets.help_pane import HelpPane
from fieldlog.screens.widgets.keys_line import KeysLine
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import TextLines, TitleLine
from fieldlog.screens.widgets.too_small import TooSmall

__all__ = ["Room"]

FILTER = "filter"
TALL = 34


class Room(RoomWork):
    """A screen of fieldlog. Rooms show and ask; what holds and what is saved is decided in fieldwork."""

    # Not CSS, of which Textual reads the most derived class's alone.
    DEFAULT_CSS = """
    Room { layers: base above top; background: $background; overflow: hidden; }
    Room #message { height: auto; min-height: 1; max-height: 2; }
    """
    AUTO_FOCUS = ""
    about: ClassVar[str] = ""

    BINDINGS: ClassVar[list[BindingType]] = [
        key("filter", show=False),
        key("undo", show=False),
        key("copy", "copy_line", show=False),
        key("copy_table", show=False),
        key("commands", "command_list", show=False),
        key("back", "back", show=False),
        *(key(f"pane_{number}", f"pane({number})", show=False) for number in range(1, PANES + 1)),
        key("settings", show=False),
        key("help_f1", "explain", show=False),
        key("help", "help"),
    ]

    def compose(self) -> ComposeResult:
        """Title, what the room is about, message, keys."""
        # Before there is anything in it: later everything would be styled twice.
        self.set_class(self.app.size.height >= TALL, "tall")
        yield TitleLine(id="title")
        yield from self.body()
        yield HelpPane()
        yield AskLine(answered=self.take_answer, typed=self.take_typed)
        yield TextLines("", id="message")
        yield KeysLine()
        yield TooSmall()

    def body(self) -> ComposeResult:
        """Widgets between title and message; a room overrides this."""
        yield Listing()

    def __init__(self) -> None:
        super().__init__()
        self._answer: Callable[[str], None] | None = None
        self._ask_again: Callable[..., None] = self.ask
        self._asked_from: Listing | None = None
        self._unanswered: dict[str, str] = {}
        self._question = ""
        self._seen_before = False

    def on_mount(self) -> None:
        """Open up, or turn back with a word. Rooms override the steps: Textual calls every class's own handler."""
        try:
            self.open_up()
        except FieldlogError as error:
            self.fieldlog.turn_back(error)

    def open_up(self) -> None:
        """Show what there is."""
        self.prepare()
        self.ready = True
        self._name_panes()
        self.refresh_room()
        self.begin()
        self._hand_on_early_keys()

    def prepare(self) -> None:
        """What a room needs before it can show anything."""

    def begin(self) -> None:
        """Where a room begins: what has the focus, what is asked first."""

    def on_screen_resume(self) -> None:
        """Show what has changed while another room was open."""
        # The first time it comes right after the room was shown, in the first room before it is up.
        seen_before, self._seen_before = self._seen_before, True
        if not self.ready:
            return
        if seen_before:
            with self.telling():
                self.refresh_room()
        if self.focused is None:
            self.set_focus(self._list_in_focus())

    def refresh_room(self) -> None:
        """Read the records anew and show them; a room overrides this."""

    def set_focus(
        self, widget: Widget | None, scroll_visible: bool = False, from_app_focus: bool = False
    ) -> None:
        """Give a widget the keys; a room is laid out to its window and never scrolls as a whole."""
        super().set_focus(widget, scroll_visible=scroll_visible, from_app_focus=from_app_focus)

    # asking in one line

    def ask(
        self,
        question: str,
        then: Callable[[str], None],
        text: str = "",
        *,
        completer: Callable[[str], str | None] | None = None,
        suggester: Suggester | None = None,
    ) -> None:
        """Ask one line; ``then`` gets the answer. An answer given up with esc is there when asked again.

        Where ``then`` finds the answer wrong (InputError), the question stays, so that what is typed next does
        not fall on the keys of the room.
        """
        self.unsay_fault()
        focused = self.focused
        self._asked_from = focused if isinstance(focused, Listing) else self._asked_from
        self._question, self._answer = question, then
        self._ask_again = partial(self.ask, question, then, completer=completer, suggester=suggester)
        self.query_one(AskLine).ask(
            question, self._unanswered.get(question, text), completer=completer, suggester=suggester
        )

    def take_answer(self, text: str) -> None:
        """Hand an answer on to who asked."""
        then, self._answer = self._answer, None
        ask_again = self._ask_again
        self._unanswered.pop(self._question, None)
        if self._question == FILTER:
            self._sift(text)
        self._close_ask()
        if then is None:
            return
        self.unsay_fault()
        with self.telling():
            try:
                then(text)
            except InputError:
                ask_again(text=text)
                # What is typed next takes the place of what was wrong.
                self.query_one(AskLine).line.action_select_all()
                raise

    def take_typed(self, text: str) -> None:
        """Filter while it is typed."""
        if self._question == FILTER:
            self._sift(text)

    def _close_ask(self) -> None:
        if self._asked_from is not None and self._asked_from.is_mounted:
            self.set_focus(self._asked_from)
        self.query_one(AskLine).close()

    # the keys of every room

    def action_filter(self) -> None:
        """Filter the list as it is typed."""
        listing = self._list_in_focus()
        if listing is not None:
            self.set_focus(listing)
            self._asked_from = listing
            self._question, self._answer = FILTER, None
            self.query_one(AskLine).ask("/", listing.needle)

    def _sift(self, needle: str) -> None:
        listing = self._asked_from
        if listing is not None:
            listing.filter(needle)
            self.say(listing.count_words, "quiet")

    def action_undo(self) -> None:
        """Undo what was saved last."""
        with self.telling():
            self.say(self.fieldlog.undo_last(), "accent")
            self.refresh_room()

    def action_command_list(self) -> None:
        """Find any command by its name."""
        from fieldlog.screens.command_list import CommandList

        self.app.push_screen(CommandList(self))

    def go_to_athlete(self, athlete_id: str) -> None:
        """Go to the bench with an athlete, on the latest day they are down for."""
        from fieldlog.fieldwork.batch.whereabouts import whereabouts
        from fieldlog.screens.bench import BenchRoom

        with self.telling():
            found = whereabouts(self.fieldlog.workspace, athlete_id)
            if found is None:
                self.say("in no batch yet; p in stage 3 of a day chooses protocol and athletes")
                return
            self.app.push_screen(
                BenchRoom(found.store, found.visit, found.batch_id, athlete_id, site_name=found.site_name)
            )

    def action_settings(self) -> None:
        """Show the settings."""
        from fieldlog.screens.settings_room import SettingsRoom

        if not isinstance(self, SettingsRoom):
            self.app.push_screen(SettingsRoom())

    def action_help(self) -> None:
        """Explain this screen, page by page, or close the explanation."""
        pane = self.query_one(HelpPane)
        if not pane.display:
            pane.explain(cast("Screen[object]", self), self.about, self.size)
        elif not pane.turn():
            pane.display = False

    def action_explain(self) -> None:
        """Explain this screen, also while typing."""
        self.action_help()

    def action_back(self) -> None:
        """One step back: close help, give up a question (kept), show all rows again, leave the room."""
        pane, line = self.query_one(HelpPane), self.query_one(AskLine)
        if pane.display:
            pane.display = False
            return
        if line.display:
            if self._question == FILTER:
                self._sift("")
                self.say("")
            else:
                self._unanswered[self._question] = line.text
            self._close_ask()
            return
        filtered = next((listing for listing in self.query(Listing) if listing.needle), None)
        if filtered is not None:
            filtered.filter("")
            return
        self.leave()

    def leave(self) -> None:
        """Go back to the room before; a room that keeps a draft saves it first."""
        self.app.pop_screen()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """While a line is typed only its own keys work, and before the room is up none."""
        if not self.ready:
            return False
        if action == "pane" and not 1 < len(self._panes()) >= int(str(parameters[0])):
            return False
        return not isinstance(self.focused, Input) or action in _WHILE_TYPING

    def word_for(self, action: str) -> str:  # noqa: ARG002 (rooms that override it look at the action)
        """Return what a key does now in one word, where the word of its meaning is not close enough."""
        return ""

    # size

    def on_resize(self, event: events.Resize) -> None:
        """Say so where the window is too small to work in."""
        size = event.size
        self.set_class(size.height >= TALL, "tall")
        self.query_one(TooSmall).show_for(size)


_WHILE_TYPING: frozenset[str] = frozenset({"back", "explain"})
