"""Taking in a recording: the files of a folder, or a path typed with completion."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import FieldlogError, InputError
from fieldlog.fieldwork.recording.recording_files import complete_path, read_fitting, recording_files
from fieldlog.fieldwork.recording.weighing import Occasion
from fieldlog.fieldwork.results.imports import Import, JudgedImport, analyse_import
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Column, Row, Span
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import moment_words

__all__ = ["ImportRoom", "read_import"]

COLUMNS = (Column("recording"), Column("size", 10, "right"), Column("changed", 14, "right"))


class ImportRoom(Room):
    """The newest recordings first. Enter analyses one; what is found is shown before anything is kept."""

    about = (
        "Enter takes the recording under the cursor, i asks for a path (tab completes it). Own columns are time_s, "
        "angle_deg and torque_nm; a recording with other columns is read through a column map (JSON) beside it; "
        "fieldlog trace --help shows one. The file is copied byte for byte and never changed."
    )
    CSS = """
    ImportRoom #files { height: 1fr; }
    #import_hint { height: auto; max-height: 4; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept", word="take in"),
        key("import", "type_path", word="type a path", text="Type the path of a recording or of a folder."),
        key("filter"),
    ]

    def __init__(self, asked_for: str, then: partial[None] | Any) -> None:
        super().__init__()
        self.asked_for = asked_for
        self.then = then

    def body(self) -> ComposeResult:
        """Files of the folder."""
        yield PaneTitle("recordings", id="files_title")
        yield Listing(*COLUMNS, id="files", empty="no recording here; i types a path")
        yield TextLines("", id="import_hint")

    def begin(self) -> None:
        """Begin with the newest."""
        self.set_focus(self.query_one("#files", Listing))

    def refresh_room(self) -> None:
        """List the folder."""
        folder = self.fieldlog.recordings_folder
        self.query_one("#title", TitleLine).show(self.asked_for, str(folder))
        rows: list[Row] = []
        with self.telling():
            rows = [
                Row(
                    str(file.path),
                    (
                        file.path.name,
                        f"{max(file.size_bytes // 1024, 1)} kB",
                        moment_words(file.changed_at, self.fieldlog.today),
                    ),
                )
                for file in recording_files(folder)
            ]
        listing = self.query_one("#files", Listing)
        listing.show_rows(rows)
        self.query_one("#files_title", PaneTitle).show(note=listing.count_words)
        self.query_one("#import_hint", TextLines).show_lines(Span(f"  {folder}", "quiet"))

    def action_type_path(self) -> None:
        """Ask for a path."""
        start = f"{self.fieldlog.recordings_folder}/"
        self.ask("path (tab completes):", self._take_path, start, completer=complete_path)

    def _take_path(self, typed: str) -> None:
        # A whole path typed behind the folder that stood there counts alone.
        start = f"{self.fieldlog.recordings_folder}/"
        behind = typed.strip().removeprefix(start)
        path = Path(behind if behind.startswith(("/", "~")) else typed.strip()).expanduser()
        if path.is_dir():
            self.fieldlog.recordings_folder = path
            self.refresh_room()
            return
        if not path.is_file():
            raise InputError(f"{path}: there is no such file", "type the path again; tab completes it")
        self.fieldlog.recordings_folder = path.parent
        self._take(path)

    def action_accept(self) -> None:
        """Take in the recording under the cursor."""
        row_key = self.query_one("#files", Listing).row_key
        if row_key is not None:
            self._take(Path(row_key))

    def _take(self, path: Path) -> None:
        self.say(f"reading {path.name} …", "quiet")
        self.run_worker(partial(self._read, path), thread=True, exclusive=True, group="read")

    def _read(self, path: Path) -> None:
        try:
            outcome = self.then(path)
        except (FieldlogError, OSError) as error:
            self.from_thread(self.say, str(error), "bad")
            return
        self.from_thread(self._done, outcome)

    def _done(self, outcome: Any) -> None:
        outcome(self)


def read_import(path: Path, like: Import, occasion: Occasion | None) -> JudgedImport:
    """Read and analyse a recording with what is known of the set; runs in a thread.

    Raises InputError where it cannot be read or measured, RefusedError where the sweep is another's.
    """
    data, column_map, recording = read_fitting(path)
    import_ = replace(like, name=path.name, data=data, column_map=column_map)
    return analyse_import(import_, occasion=occasion, recording=recording)
