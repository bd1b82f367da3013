"""The team's error bank: what changes are judged by, errors typed in with a citation, spans without treatment."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar, get_args

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import InputError
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.change.published_errors import take_away_error, type_in_error, typed_errors
from fieldlog.fieldwork.change.repeat_spans import name_span, repeat_spans, take_away_span
from fieldlog.fieldwork.entry import parse_day
from fieldlog.fieldwork.results.measure_list import MEASURES
from fieldlog.records.athlete import Athlete
from fieldlog.records.repeat_span import RepeatSpan
from fieldlog.records.terms import Region
from fieldlog.records.typed_error import IN_POINTS, TypedError
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.squad_retests import one_of, whom
from fieldlog.screens.table import Cell, Column, Row, Span, wrapped
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import moment_words
from fieldlog.store.repo import Kept

__all__ = ["ErrorBankRoom"]

KINDS = ("typical error", "repeat span", "treatment span")
SPANS = {"repeat": "without treatment", "treatment": "treatment"}
FAMILIES = tuple(dict.fromkeys(measure.family for measure in MEASURES.values()))


class ErrorBankRoom(Room):
    """Typical errors and spans, one a line."""

    about = (
        "Changes are judged by the team's own repeated tests, leaning on a published or typed-in error until there are "
        "enough. Tests at most 14 days apart count as repeated without treatment; a span says so of other days, and a "
        "treatment span parts them. a types in an error with its citation or names a span, Z takes the one under the "
        "cursor away, u takes back."
    )
    CSS = """
    ErrorBankRoom #entries { height: 1fr; min-height: 4; }
    #of_entry { height: auto; max-height: 3; }
    #in_use { height: auto; max-height: 8; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("add", word="type in", text="Type in an error with its citation, or name a span."),
        key("call_off", "take_away", word="take away", text="Take this away; it stays on record."),
        key("filter"),
    ]

    def __init__(self, *, in_use: tuple[str, ...] = (), region: str = "", who: str = "") -> None:
        super().__init__()
        self.in_use, self.body_region, self.who = in_use, region, who
        self.entries: dict[str, Kept[TypedError] | Kept[RepeatSpan]] = {}

    def body(self) -> ComposeResult:
        """What was typed in, and what is in use."""
        yield PaneTitle("typed in by the team", id="entries_title")
        yield Listing(
            Column("", 20),
            Column("", 26),
            Column(""),
            id="entries",
            heading=False,
            empty="nothing; a types in",
        )
        yield TextLines("", id="of_entry")
        yield PaneTitle("in use for what the squad room shows", id="in_use_title")
        yield TextLines("", id="in_use")

    def begin(self) -> None:
        """Begin on the list."""
        self.query_one("#entries", Listing).focus()

    def refresh_room(self) -> None:
        """Read what was typed in anew."""
        workspace = self.fieldlog.workspace
        today = self.fieldlog.today
        codes = {kept.record.id: kept.record.code for kept in of_team(workspace, Athlete).all()}
        errors, spans = typed_errors(workspace), repeat_spans(workspace)
        self.entries = {kept.record.id: kept for kept in errors}
        self.entries |= {kept.record.id: kept for kept in spans}
        self.query_one("#title", TitleLine).show(
            "squad · error bank", f"{len(errors)} errors, {len(spans)} spans"
        )
        rows = [
            Row(kept.record.id, (kept.record.family, _size(kept.record), _about(kept.record)))
            for kept in errors
        ]
        rows += [
            Row(
                kept.record.id,
                (
                    SPANS[kept.record.kind],
                    f"{moment_words(kept.record.first_day, today)} to {moment_words(kept.record.last_day, today)}",
                    kept.record.squad or codes.get(kept.record.athlete_id or "", "everybody"),
                ),
            )
            for kept in spans
        ]
        self.query_one("#entries", Listing).show_rows(rows)
        shown: list[Cell] = [line for text in self.in_use for line in wrapped(text, self.size.width)]
        self.query_one("#in_use", TextLines).show_lines(*shown[:8] or [Span("  nothing shown yet", "quiet")])
        self._tell()

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the entry under the cursor."""
        event.stop()
        self._tell()

    def _tell(self) -> None:
        kept = self.entries.get(self.query_one("#entries", Listing).row_key or "")
        text = ""
        if kept is not None:
            record = kept.record
            said = record.citation if isinstance(record, TypedError) else record.note
            text = f"{said or 'no note'} (by {kept.revision.by})"
        lines: list[Cell] = [*wrapped(text, self.size.width)[:3]]
        self.query_one("#of_entry", TextLines).show_lines(*lines or [""])

    # typing in

    def action_add(self) -> None:
        """Ask what is to be typed in, then for its parts."""
        self.ask(f"what ({', '.join(KINDS)}):", self._ask_parts, KINDS[0])

    def _ask_parts(self, kind: str) -> None:
        chosen = one_of(kind, KINDS, "entry")
        if chosen == KINDS[0]:
            self.ask(f"error of what ({', '.join(FAMILIES)}):", self._ask_region, FAMILIES[0])
        else:
            self._ask_who("repeat" if chosen == KINDS[1] else "treatment")

    def _ask_region(self, family: str) -> None:
        fields: dict[str, Any] = {"family": one_of(family, FAMILIES, "measure")}
        regions = get_args(Region)
        self.ask(
            f"body region ({', '.join(regions)}; empty: any):",
            lambda text: self._ask_size(
                {**fields, "region": one_of(text, regions, "region") if text.strip() else None}
            ),
            self.body_region,
        )

    def _ask_size(self, fields: dict[str, Any]) -> None:
        points = fields["family"] in IN_POINTS
        unit = "the measure's own unit" if points else "% of the value"
        self.ask(
            f"typical error of a single test, in {unit}:",
            lambda text: self._ask_tester(
                {**fields, "value": _number(text), "unit": "points" if points else "pct"}
            ),
        )

    def _ask_tester(self, fields: dict[str, Any]) -> None:
        self.ask(
            "found with the same tester, or with a changed one:",
            lambda text: self._ask_citation(
                {**fields, "tester": one_of(text, ("same", "changed"), "tester")}
            ),
            "same",
        )

    def _ask_citation(self, fields: dict[str, Any]) -> None:
        self.ask("citation:", lambda text: self._keep_error({**fields, "citation": text}))

    def _keep_error(self, fields: dict[str, Any]) -> None:
        app = self.fieldlog
        kept = type_in_error(app.workspace, by=app.by, **fields)
        self._kept("a typed-in error", TypedError.table, kept.record.id)

    def _ask_who(self, kind: str) -> None:
        self.ask(
            "of whom (squad, an athlete's code, or empty for everybody):",
            lambda text: self._ask_first(
                {"kind": kind, **(whom(self.fieldlog.workspace, text) if text.strip() else {})}
            ),
            self.who,
        )

    def _ask_first(self, fields: dict[str, Any]) -> None:
        self.ask("first day:", lambda text: self._ask_last({**fields, "first_day": parse_day(text)}))

    def _ask_last(self, fields: dict[str, Any]) -> None:
        self.ask("last day:", lambda text: self._ask_note({**fields, "last_day": parse_day(text)}))

    def _ask_note(self, fields: dict[str, Any]) -> None:
        first: dt.date = fields["first_day"]
        self.ask(
            f"note on the days from {first.isoformat()}, or empty:",
            lambda text: self._keep_span({**fields, "note": text.strip()}),
        )

    def _keep_span(self, fields: dict[str, Any]) -> None:
        app = self.fieldlog
        kept = name_span(app.workspace, by=app.by, **fields)
        self._kept("a span", RepeatSpan.table, kept.record.id)

    def _kept(self, words: str, table: str, record_id: str) -> None:
        app = self.fieldlog
        app.note_saved(words, (app.workspace.team, table, record_id))
        self.refresh_room()
        self.query_one("#entries", Listing).to_key(record_id)
        self.say(f"saved: {words}; u takes it back", "accent")

    def action_take_away(self) -> None:
        """Take the entry under the cursor away."""
        app = self.fieldlog
        kept = self.entries.get(self.query_one("#entries", Listing).row_key or "")
        if kept is None:
            self.say("nothing under the cursor")
            return
        record = kept.record
        if isinstance(record, TypedError):
            take_away_error(app.workspace, kept, by=app.by)  # type: ignore[arg-type]
        else:
            take_away_span(app.workspace, kept, by=app.by)  # type: ignore[arg-type]
        self._kept("taken away", type(record).table, record.id)


def _size(error: TypedError) -> str:
    unit = "%" if error.unit == "pct" else "points"
    return f"{error.value:g} {unit}, {error.tester} tester"


def _about(error: TypedError) -> str:
    speed = "" if error.speed_deg_s is None else f"{error.speed_deg_s:g}°/s"
    parts = (error.region, error.plan_id, error.direction, speed, error.mode)
    return ", ".join(part for part in parts if part) or "any test"


def _number(text: str) -> float:
    try:
        return float(text.strip().rstrip("%").strip().replace(",", "."))
    except ValueError:
        raise InputError(f"{text.strip()[:20]!r} is no number", "for instance 7 or 7.5") from None
