"""Editing what is made of parts in order: steps of a plan, questions of a form. Nothing counts before it is saved."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping, Sequence
from typing import Any, ClassVar, Generic, Protocol, Self, TypeVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import InputError
from fieldlog.fieldwork.drafts import Drafts
from fieldlog.fieldwork.setup.ordered import Keyed, moved, put, without
from fieldlog.screens.abstract_room import AbstractRoom
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Cell, Column, Row, Span, wrapped
from fieldlog.screens.widgets.fitted_listing import FittedListing
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines

__all__ = ["PartsRoom"]

WORDS, SAVE, DROP = " words", " save", " drop"
COLUMNS = (Column("", 3, "right"), Column(""), Column("", 25), Column("", 15))

P = TypeVar("P", bound=Keyed)


class PartsDraft(Protocol[P]):
    """Parts under a few words, while they are edited."""

    @property
    def parts(self) -> tuple[P, ...]:
        """The parts in order."""
        ...

    @property
    def words(self) -> Mapping[str, str]:
        """Name, source, caution and the like."""
        ...

    def with_parts(self, parts: Sequence[P]) -> Self:
        """The draft with other parts."""
        ...

    def to_body(self) -> dict[str, Any]:
        """The draft as the JSON object that is kept."""
        ...

    def from_body(self, body: Mapping[str, Any]) -> Self:
        """The draft that was kept."""
        ...


D = TypeVar("D", bound=PartsDraft[Any])


class PartsRoom(AbstractRoom, Generic[D]):
    """The parts one under the other; every change is a draft on disk, the last line makes it count."""

    CSS = """
    PartsRoom #parts { height: 1fr; }
    #part_hint { height: auto; max-height: 6; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("open", "edit", word="edit", text="Edit what the cursor stands on; the last line saves."),
        key("add", word="add", text="Add one below the cursor."),
        key("leave_out", word="take out", text="Take out what the cursor stands on."),
        key("earlier", "shift(-1)", word="up", text="Move it one place up."),
        key("later", "shift(1)", word="down", text="Move it one place down."),
    ]
    part: ClassVar[str] = "part"

    def __init__(self, draft_name: str) -> None:
        super().__init__()
        self.draft_name = draft_name
        self._back: list[D] = []

    def body(self) -> ComposeResult:
        """The parts, and what there is to know of the one under the cursor."""
        yield PaneTitle("", id="parts_title")
        yield FittedListing(*COLUMNS, id="parts", heading=False)
        yield TextLines("", id="part_hint")

    # what a room of this kind says

    @abstractmethod
    def read_saved(self) -> D:
        """What counts now, as a draft."""

    @abstractmethod
    def faults(self) -> dict[str, str]:
        """What is wrong with the draft, by key; of the whole under an empty one."""

    @abstractmethod
    def part_cells(self, part: Any) -> tuple[Cell, Cell, Cell]:
        """Name, what it is, and what it does, of one part."""

    @abstractmethod
    def part_lines(self, part: Any) -> list[Cell]:
        """What there is to know of one part."""

    @abstractmethod
    def words_form(self) -> Room:
        """The form of the words."""

    @abstractmethod
    def part_form(self, part: Any, kind: str) -> Room:
        """The form of a part, or of a new one of a kind."""

    @abstractmethod
    def kinds(self) -> dict[str, str]:
        """The kinds a new part can be of, in words."""

    @abstractmethod
    def show_title(self) -> None:
        """Say what is edited."""

    @abstractmethod
    def save_words(self) -> str:
        """What the last line says."""

    @abstractmethod
    def save(self, why: str) -> str:
        """Make the draft count, and return what to say."""

    def whole_lines(self) -> list[Cell]:
        """What there is to know of the whole."""
        return []

    # showing

    def prepare(self) -> None:
        """Take up the draft, where there is one."""
        self.saved: D = self.read_saved()
        self.work: D = self.saved
        body = Drafts(self.fieldlog.workspace.path).load(self.draft_name)
        if body is not None:
            with self.telling():
                self.work = self.saved.from_body(body)

    def begin(self) -> None:
        """Begin on the first part."""
        self.set_focus(self.listing)
        if self.work.parts:
            self.listing.to_key(self.work.parts[0].key)

    @property
    def listing(self) -> Listing:
        """The parts."""
        return self.query_one("#parts", Listing)

    @property
    def is_changed(self) -> bool:
        """Whether there is something to save."""
        return self.work != self.saved

    def refresh_room(self) -> None:
        """Show the draft."""
        self.show_title()
        faults = self.faults()
        rows = [Row(WORDS, ("", Span(self.work.words["name"], "strong"), "name, source, caution", ""))]
        for place, part in enumerate(self.work.parts, start=1):
            name, what, does = self.part_cells(part)
            if part.key in faults:
                does = Span(f"✗ {faults[part.key]}", "bad")
            rows.append(Row(part.key, (Span(str(place), "quiet"), name, what, does)))
        note = Span("nothing changed", "quiet")
        if self.is_changed:
            note = (
                Span(f"✗ {len(faults)} to correct", "bad") if faults else Span("changed, not saved", "warn")
            )
        if self.is_changed:
            rows.append(Row(DROP, ("", Span("drop the changes", "key"), "back to what was saved", "")))
        rows.append(Row(SAVE, ("", Span(self.save_words(), "key"), note, "")))
        self.listing.show_rows(rows)
        self.query_one("#parts_title", PaneTitle).show(f"{len(self.work.parts)} {self.part}s", note.text)
        self._show_hint()

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the part under the cursor."""
        event.stop()
        self._show_hint()

    def _show_hint(self) -> None:
        faults, row_key = self.faults(), self.listing.row_key or ""
        width = self.size.width
        lines: list[Cell] = []
        if row_key in faults:
            lines += wrapped(f"✗ it {faults[row_key]}", width, "bad")
        if "" in faults:
            lines += wrapped(f"✗ {faults['']}", width, "bad")
        part = self._part(row_key)
        lines += self.part_lines(part) if part is not None else self.whole_lines()
        self.query_one("#part_hint", TextLines).show_lines(*lines[:6])

    def _part(self, row_key: str | None) -> Any | None:
        return next((part for part in self.work.parts if part.key == row_key), None)

    # changing

    def change(self, work: D, said: str) -> None:
        """Keep another draft; it is on disk when this returns."""
        self._back.append(self.work)
        self._keep(work)
        self.refresh_room()
        self.say(said, "quiet")

    def _keep(self, work: D) -> None:
        drafts = Drafts(self.fieldlog.workspace.path)
        if work == self.saved:
            drafts.drop(self.draft_name)
        else:
            drafts.save(self.draft_name, work.to_body())
        self.work = work

    def take_part(self, part: Any, after: str | None) -> str:
        """Put a part that was typed into the draft, and return what to say."""
        self._back.append(self.work)
        self._keep(self.work.with_parts(put(self.work.parts, part, after=after)))
        return f"in the draft: {part.label}; esc goes back, the last line there saves"

    def action_edit(self) -> None:
        """Edit what the cursor stands on, save, or drop."""
        row_key = self.listing.row_key
        part = self._part(row_key)
        if part is not None:
            self.app.push_screen(self.part_form(part, part.kind))
        elif row_key == WORDS:
            self.app.push_screen(self.words_form())
        elif row_key == DROP:
            self.change(self.saved, "dropped; u brings them back")
        elif row_key == SAVE:
            self._ask_why()

    def _ask_why(self) -> None:
        faults = self.faults()
        if not self.is_changed:
            self.say("nothing changed, nothing to save")
        elif faults:
            row_key, fault = next(iter(faults.items()))
            part = self._part(row_key)
            self.listing.to_key(row_key)
            self.say(f"not saved: {part.label} {fault}" if part else f"not saved: {fault}", "bad")
        else:
            self.ask("why, in a word:", self._save)

    def _save(self, why: str) -> None:
        said = self.save(why)
        Drafts(self.fieldlog.workspace.path).drop(self.draft_name)
        self._back.clear()
        self.saved = self.work = self.read_saved()
        self.refresh_room()
        self.say(said, "accent")

    def action_add(self) -> None:
        """Ask of which kind a new one is."""
        kinds = self.kinds()
        listed = "  ".join(f"{place} {words}" for place, words in enumerate(kinds.values(), start=1))
        here = self.listing.row_key

        def add(typed: str) -> None:
            place = int(typed) if typed.strip().isdecimal() else 0
            if not 1 <= place <= len(kinds):
                raise InputError(f"{typed.strip()[:20] or 'nothing'!r} is none", f"type 1 to {len(kinds)}")
            if here is not None:
                self.listing.to_key(here)
            self.app.push_screen(self.part_form(None, list(kinds)[place - 1]))

        self.ask(f"a new {self.part}: {listed}:", add)

    def action_leave_out(self) -> None:
        """Take a part out of the draft."""
        part = self._part(self.listing.row_key)
        if part is None:
            self.say(f"this line is no {self.part}")
            return
        with self.telling():
            self.change(
                self.work.with_parts(without(self.work.parts, part.key)),
                f"taken out: {part.label}; u brings it back",
            )

    def action_shift(self, by: int) -> None:
        """Move a part."""
        part = self._part(self.listing.row_key)
        if part is None:
            self.say(f"this line is no {self.part}")
            return
        with self.telling():
            self.change(self.work.with_parts(moved(self.work.parts, part.key, by)), f"moved: {part.label}")

    def action_undo(self) -> None:
        """Take the last change of the draft back; with none, what was saved before."""
        if self._back:
            with self.telling():
                self._keep(self._back.pop())
                self.refresh_room()
                self.say("undone: the last change of the draft", "accent")
            return
        super().action_undo()
        self.saved = self.read_saved()
        if Drafts(self.fieldlog.workspace.path).load(self.draft_name) is None:
            self.work = self.saved
        self.refresh_room()
