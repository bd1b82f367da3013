"""Squad: any measure over the squad, who changed beyond error, who is due again."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from textual.binding import BindingType

from fieldlog.screens.keys import key
from fieldlog.screens.squad_shown import SquadShown

__all__ = ["SquadRoom"]

NEW_ATHLETE = {
    "code": "code",
    "squad": "squad, or empty",
    "sex": "sex, f or m, or empty",
    "minor": "under 18, y or n",
    "position": "position, or empty",
}


class SquadRoom(SquadShown):
    """A measure over the squad as a strip of dots, what the squad says, and the retests due."""

    about = (
        "One line is one athlete and side: the latest figure, its dot with the 95 % interval of its typical error on "
        "the scale above, and the change since the visit before. In brackets stands what error alone makes in 19 of "
        "20 cases; a change is marked only beyond that. ○ is a figure the rig leaves open: it is in no mean. ┊ is the "
        "mean of the side. Rows stand in order of code, nobody is graded. p chooses what is looked at, F whom."
    )
    CSS = """
    SquadRoom #rows { height: 1fr; min-height: 4; }
    #of_row { height: 3; }
    #squad_says { height: auto; max-height: 5; }
    SquadRoom.whole #squad_says { max-height: 14; }
    SquadRoom #due { height: auto; max-height: 3; min-height: 1; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("open", "history", word="history", text="Show this athlete's visits."),
        key("batch", "measure", word="measure", text="Choose measure, protocol and speed."),
        key("people"),
        key("page", word="season page", text="Make the season page of a squad, as a PDF."),
        key("retests"),
        key("limits"),
        key("errors"),
        key("later", "step(1)", word="next", text="Show the next measure."),
        key("add", text="Add an athlete."),
        key("import", word="import list", text="Take in a squad list from a file, after a look at each row."),
        key("earlier", "step(-1)", show=False, text="Show the measure before."),
        key("more", show=False, text="Show every remark on the squad, or less."),
    ]

    # going about

    def action_measure(self) -> None:
        """Choose what is looked at."""
        from fieldlog.screens.squad_choice import MeasureChoice

        if self.comparer is None or not self.questions:
            self.say("no result yet" if self.comparer else "still reading the results")
            return
        self.app.push_screen(MeasureChoice(self))

    def action_people(self) -> None:
        """Choose whom it is about."""
        from fieldlog.screens.squad_choice import PeopleChoice

        if self.comparer is None:
            self.say("still reading the results")
            return
        self.app.push_screen(PeopleChoice(self))

    def action_history(self) -> None:
        """Show the visits of the athlete under the cursor."""
        from fieldlog.screens.athlete_history import AthleteHistoryRoom

        row = self.row
        if row is None or self.comparer is None or self.question is None:
            self.say("nobody to show")
            return
        self.app.push_screen(AthleteHistoryRoom(self.comparer, self.question, row))

    def action_retests(self) -> None:
        """Show the planned retests; plan one, call one off."""
        from fieldlog.screens.squad_retests import RetestRoom

        self.app.push_screen(RetestRoom(who=self.squad_meant, protocol_name=self.protocol_meant))

    def action_limits(self) -> None:
        """Show the team's own limits for ratios and side differences; set one."""
        from fieldlog.screens.squad_limits import LimitRoom

        self.app.push_screen(LimitRoom(protocol_name=self.protocol_meant))

    def action_errors(self) -> None:
        """Show the error bank: what changes are judged by, what was typed in."""
        from fieldlog.screens.error_bank import ErrorBankRoom

        region = ""
        if self.comparer is not None and self.question is not None:
            region = self.comparer.trials.book.protocol(self.question.protocol_id).region
        in_use = self.shown.errors if self.shown else ()
        self.app.push_screen(ErrorBankRoom(in_use=in_use, region=region, who=self.squad_meant))

    def action_page(self) -> None:
        """Ask for the squad and the days of the season page, and make it."""
        from fieldlog.screens.season_page import ask_for_season_page

        ask_for_season_page(self, self.squad_meant)

    # writing down

    def action_add(self) -> None:
        """Ask for a new athlete, one column of a squad list after the other."""
        self._ask_column({}, list(NEW_ATHLETE))

    def _ask_column(self, cells: dict[str, str], columns: list[str]) -> None:
        if not columns:
            self._add(cells)
            return
        column, *rest = columns
        self.ask(
            f"new athlete: {NEW_ATHLETE[column]}",
            lambda text: self._ask_column({**cells, column: text}, rest),
            (self.asked.squad or "") if column == "squad" else "",
        )

    def _add(self, cells: dict[str, str]) -> None:
        from fieldlog.fieldwork.athletes.squad_list import enter_athlete
        from fieldlog.records.athlete import Athlete

        app = self.fieldlog
        athlete = enter_athlete(app.workspace, cells, by=app.by, at=app.clock())
        app.note_saved(f"athlete {athlete.code}", (app.workspace.team, Athlete.table, athlete.id))
        self.refresh_room()
        self.say(f"saved: athlete {athlete.code}; u takes it back", "accent")

    def action_import(self) -> None:
        """Ask for a file and show each of its rows before anything is entered."""
        self.ask("squad list (CSV or XLSX file):", self._look_at)

    def _look_at(self, name: str) -> None:
        from fieldlog.fieldwork.athletes.squad_list import look_at_squad
        from fieldlog.screens.squad_import import SquadImport

        path = Path(name.strip()).expanduser()
        looked = look_at_squad(self.fieldlog.workspace, path, squad=self.asked.squad or "")
        self.app.push_screen(SquadImport(looked))
