"""Choosing the protocol and the athletes of a visit."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.count_words import counted
from fieldlog.errors import InputError
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.athletes.athletes import add_athlete
from fieldlog.fieldwork.batch.batches import add_to_batch, batches_of, make_batch
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.rig_checks.check_reach import Reach, reach_of
from fieldlog.fieldwork.visit.day import rig_of_visit
from fieldlog.records.athlete import Athlete
from fieldlog.records.batch import Batch
from fieldlog.records.protocol import Protocol
from fieldlog.records.visit import Visit
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Cell, Column, Row, Span, wrapped
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import day_words, sentence
from fieldlog.store.store import Store

__all__ = ["BatchRoom"]

PROTOCOL_COLUMNS = (Column("protocol"), Column("region", 10), Column("sets", 30))
ATHLETE_COLUMNS = (Column("", 3), Column("athlete", 16), Column("squad"), Column("", 10))
SQUAD = "squad:"


class BatchRoom(Room):
    """First the protocol, then the athletes; enter keeps both as the batch of the visit."""

    about = (
        "Enter picks the protocol under the cursor. Then space picks athletes, or a whole squad on the squad's line; "
        "a enters a new athlete by code; enter keeps the batch in the order picked. Codes only: names and answers "
        "stay in the persons files."
    )
    CSS = """
    BatchRoom #choices { height: 1fr; }
    #batch_hint { height: auto; max-height: 6; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept"),
        key("pick"),
        key("add", word="new athlete", text="Enter a new athlete by code."),
        key("filter"),
    ]

    def __init__(self, store: Store, visit: Visit, *, site_name: str) -> None:
        super().__init__()
        self.store = store
        self.visit = visit
        self.site_name = site_name
        self.protocol: Protocol | None = None
        self._reach: Reach | None = None
        self._picked: dict[str, None] = {}

    def body(self) -> ComposeResult:
        """One list, of protocols and then of athletes."""
        yield PaneTitle("", id="choices_title")
        yield Listing(*PROTOCOL_COLUMNS, id="choices")
        yield TextLines("", id="batch_hint")

    def begin(self) -> None:
        """Begin with the protocols."""
        self.set_focus(self.query_one("#choices", Listing))

    @property
    def _listing(self) -> Listing:
        return self.query_one("#choices", Listing)

    def refresh_room(self) -> None:
        """Show what is chosen from now."""
        today = day_words(self.visit.date, self.fieldlog.today)
        self.query_one("#title", TitleLine).show(f"{self.site_name} · {today}", "protocol and athletes")
        if self.protocol is None:
            protocols = catalogue.protocols(self.fieldlog.workspace)
            rows = [_protocol_row(protocol) for protocol in protocols.values()]
            self._listing.show_rows(rows, columns=PROTOCOL_COLUMNS)
            self.query_one("#choices_title", PaneTitle).show("protocol", f"{len(rows)} protocols")
            self._hint("enter picks it; the next list is of athletes")
        else:
            self._listing.show_rows(self._athlete_rows(), columns=ATHLETE_COLUMNS)
            self._show_picked(self.protocol)

    def _show_picked(self, protocol: Protocol) -> None:
        title = self.query_one("#choices_title", PaneTitle)
        title.show(f"athletes for {protocol.name}", f"{len(self._picked)} picked")
        caution = wrapped(f"Caution: {protocol.caution}", self.size.width, "warn")
        reach = self._reach.hint(self._picked) if self._reach else ""
        beyond = wrapped(sentence(reach), self.size.width, "warn") if reach else []
        self._hint("a enters a new athlete by code, space picks, enter keeps the batch", *beyond, *caution)

    def _hint(self, *lines: Cell) -> None:
        first, *others = lines
        self.query_one("#batch_hint", TextLines).show_lines(Span(f"  {first}", "quiet"), *others)

    def _athlete_rows(self) -> list[Row]:
        athletes = [kept.record for kept in of_team(self.fieldlog.workspace, Athlete).all()]
        rows: list[Row] = []
        for squad in sorted({athlete.squad for athlete in athletes}):
            members = sorted((each for each in athletes if each.squad == squad), key=lambda each: each.code)
            title = squad or "no squad"
            rows.append(
                Row(
                    SQUAD + squad,
                    ("", Span(title, "strong"), Span(counted(len(members), "athlete"), "quiet"), ""),
                )
            )
            rows += [self._athlete_row(athlete) for athlete in members]
        return rows

    def _athlete_row(self, athlete: Athlete) -> Row:
        mark = Span("✓", "good") if athlete.id in self._picked else Span("·", "quiet")
        age = Span("minor", "warn") if athlete.minor else ""
        return Row(athlete.id, (mark, athlete.code, athlete.squad, age))

    def action_accept(self) -> None:
        """Take the protocol, or keep the batch."""
        row_key = self._listing.row_key
        if self.protocol is None:
            if row_key is not None:
                self._take_protocol(catalogue.protocol(self.fieldlog.workspace, row_key))
            return
        if not self._picked and row_key is not None:
            self.action_pick()
        with self.telling():
            self._keep(self.protocol)

    def _take_protocol(self, protocol: Protocol) -> None:
        workspace = self.fieldlog.workspace
        self._reach = reach_of(workspace, rig_of_visit(workspace, self.store, self.visit), protocol)
        self.protocol = protocol
        self.say("")
        self._listing.filter("")
        self._listing.action_to(0)
        self.refresh_room()

    def _keep(self, protocol: Protocol) -> None:
        app, picked = self.fieldlog, list(self._picked)
        same = [kept for kept in batches_of(self.store, self.visit) if kept.record.protocol_id == protocol.id]
        squads = {
            athlete.record.squad
            for athlete in of_team(app.workspace, Athlete).all()
            if athlete.record.id in picked
        }
        if same:
            kept = add_to_batch(app.workspace, self.store, self.visit, same[0], picked, by=app.by)
        else:
            kept = make_batch(
                app.workspace,
                self.store,
                self.visit,
                protocol_id=protocol.id,
                athlete_ids=picked,
                by=app.by,
                squad=squads.pop() if len(squads) == 1 else "",
            )
        app.note_saved("the batch", (self.store, Batch.table, kept.record.id))
        self.app.pop_screen()

    def action_pick(self) -> None:
        """Pick or drop the athlete or squad under the cursor, and go on."""
        row_key = self._listing.row_key
        if row_key is None or self.protocol is None:
            return
        if row_key.startswith(SQUAD):
            squad = row_key.removeprefix(SQUAD)
            athletes = of_team(self.fieldlog.workspace, Athlete).find(squad=squad)
            members = [kept.record.id for kept in sorted(athletes, key=lambda kept: kept.record.code)]
            whole = all(member in self._picked for member in members)
            for member in members:
                self._picked.pop(member, None) if whole else self._picked.setdefault(member)
            self._listing.action_move(1)
            self.refresh_room()
            return
        if row_key in self._picked:
            del self._picked[row_key]
        else:
            self._picked[row_key] = None
        kept = of_team(self.fieldlog.workspace, Athlete).get(row_key)
        if kept is not None:
            self._listing.change_row(self._athlete_row(kept.record))
        self._listing.action_move(1)
        self._show_picked(self.protocol)

    def action_add(self) -> None:
        """Ask for a new athlete's code and squad."""
        self.ask("code of the new athlete:", self._ask_squad)

    def _ask_squad(self, code: str) -> None:
        squads = sorted(
            {kept.record.squad for kept in of_team(self.fieldlog.workspace, Athlete).all()} - {""}
        )
        self.ask(
            f"squad of {code} (may stay empty):",
            lambda squad: self._ask_minor(code, squad),
            squads[0] if squads else "",
        )

    def _ask_minor(self, code: str, squad: str) -> None:
        self.ask(f"is {code} a minor? yes or no:", lambda minor: self._add(code, squad, minor), "no")

    def _add(self, code: str, squad: str, minor: str) -> None:
        if minor.strip().casefold() not in {"y", "yes", "n", "no"}:
            raise InputError(f"{minor.strip()[:20]!r} is no answer", "type yes or no")
        app = self.fieldlog
        kept = add_athlete(
            app.workspace,
            code,
            by=app.by,
            squad=squad.strip(),
            minor=minor.strip().casefold().startswith("y"),
        )
        app.note_saved(f"athlete {code}", (app.workspace.team, Athlete.table, kept.record.id))
        self._picked[kept.record.id] = None
        self.refresh_room()
        self._listing.to_key(kept.record.id)
        self.say(f"saved: athlete {code}, and picked")

    def leave(self) -> None:
        """From the athletes back to the protocols, from there to the day."""
        if self.protocol is not None:
            self.protocol = None
            self._listing.action_to(0)
            self.refresh_room()
        else:
            self.app.pop_screen()


def _protocol_row(protocol: Protocol) -> Row:
    sets = ", ".join(
        f"{planned.repetitions} × {planned.speed_deg_s:g}°/s"
        for planned in protocol.sets
        if planned.purpose == "counted"
    )
    return Row(protocol.id, (protocol.name, protocol.region, sets))
