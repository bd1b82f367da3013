"""Settings: what holds on this laptop, where it is set, and what the team sets in its own records."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import InputError
from fieldlog.screens.keys import MEANINGS, key, key_words
from fieldlog.screens.room import Room
from fieldlog.screens.settings import CHOICES, Settings, read_settings, settings_path
from fieldlog.screens.table import Column, Row, Span
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import measured, moment_words

__all__ = ["SettingsRoom"]

LAPTOP_COLUMNS = (Column("setting", 16), Column("holds", 20), Column("can be"))
TEAM_COLUMNS = (Column("set by the team", 28), Column("where"))
TEAM = (
    ("tolerances of the rig checks", "rig log (l), then h; versioned"),
    ("masses and other standards", "rig log (l), then h"),
    ("thresholds of change", "squad (q), then L or M"),
    ("plans, clearance questions", "the first room, E"),
    ("protocols", "day, stage 3, p"),
)


class SettingsRoom(Room):
    """Every setting with its value; nothing is changed here."""

    about = (
        "The settings of this laptop are a text file, read when fieldlog starts; a fault in it is named with its line. "
        "Units change how results are shown, never what is stored, and never what is read off a rig or a scale; a bare "
        "number that is typed has the unit that stands beside the entry, any other unit is typed with it (194lb, "
        "55lbf.ft). Tolerances and thresholds belong to the team and travel with its records."
    )
    CSS = """
    SettingsRoom #laptop { height: 1fr; min-height: 4; }
    SettingsRoom #team { height: auto; max-height: 7; }
    #settings_hint { height: auto; max-height: 4; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [key("filter")]

    def body(self) -> ComposeResult:
        """The laptop's settings, the team's records, and where the file lies."""
        yield PaneTitle("this laptop", id="laptop_title")
        yield Listing(*LAPTOP_COLUMNS, id="laptop")
        yield PaneTitle("the team", id="team_title")
        yield Listing(*TEAM_COLUMNS, id="team", heading=False)
        yield TextLines("", id="settings_hint")

    def begin(self) -> None:
        """Begin on the laptop's settings."""
        self.set_focus(self.query_one("#laptop", Listing))

    def refresh_room(self) -> None:
        """Read the file anew and show it."""
        path = settings_path()
        settings, fault = Settings(), ""
        try:
            settings = read_settings(path)
        except InputError as error:
            fault = str(error)
        found = str(path) if path.is_file() else f"{path} (not there yet: nothing is set)"
        self.query_one("#title", TitleLine).show("settings", "read when fieldlog starts")
        self.query_one("#laptop", Listing).show_rows(_laptop_rows(settings))
        self.query_one("#team", Listing).show_rows([Row(what, (what, where)) for what, where in TEAM])
        example = (
            f"{measured(151.2, 1, 'N·m')} · {measured(88.5, 1, 'kg')} · {moment_words(self.fieldlog.clock())}"
        )
        self.query_one("#settings_hint", TextLines).show_lines(
            f"  as shown now: {example}",
            Span(f"  file: {found}", "quiet"),
            Span(f"  {fault}" if fault else "", "bad"),
        )


def _laptop_rows(settings: Settings) -> list[Row]:
    values = {"theme": settings.theme, **vars(settings.shown)}
    rows = [
        Row(
            name,
            (
                name,
                values[name],
                Span(" or ".join(choices) if len(choices) == 2 else ", ".join(choices), "quiet"),
            ),
        )
        for name, choices in CHOICES.items()
    ]
    plain = "true" if settings.ascii_only else "false"
    rows.append(Row("ascii_only", ("ascii_only", plain, Span("true: charts in plain letters", "quiet"))))
    for name, chosen in settings.keys.items():
        usual = key_words(MEANINGS[name].key)
        rows.append(
            Row(f"keys.{name}", (f"keys.{name}", key_words(chosen), Span(f"usually {usual}", "quiet")))
        )
    if not settings.keys:
        rows.append(
            Row("keys", ("keys", "as listed by ctrl+p", Span('[keys], a line each: note = "f2"', "quiet")))
        )
    return rows
