"""The team's own limits: beyond which ratio or side difference an athlete's line is flagged in the squad."""

from __future__ import annotations

from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.suggester import SuggestFromList

from fieldlog.errors import InputError
from fieldlog.fieldwork.catalogue import protocols
from fieldlog.fieldwork.squad.squad_thresholds import save_threshold, take_away_threshold, thresholds
from fieldlog.records.protocol import Protocol
from fieldlog.records.squad_threshold import SquadThreshold
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.squad_retests import one_of
from fieldlog.screens.table import Column, Row, Span
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.store.repo import Kept

__all__ = ["LimitRoom"]

MEASURES = {"ratio": "ratio_pct", "side difference": "side_difference_pct"}
WORDS = {key: word for word, key in MEASURES.items()}
COLUMNS = (Column("protocol"), Column("of", 18), Column("low", 7, "right"), Column("high", 7, "right"))


class LimitRoom(Room):
    """One line a limit: protocol, ratio or side difference, low and high."""

    about = (
        "fieldlog ships no limit: what is worth a second look is the team's to say, with its reason. A line beyond a "
        "limit is flagged in the squad, which is no grade and no diagnosis. Enter changes the limit under the cursor, "
        "a sets one, Z takes one away, u takes back."
    )
    CSS = "LimitRoom #limits { height: 1fr; min-height: 4; } LimitRoom #of_limit { height: 2; }"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("open", "change", word="change", text="Change the limit under the cursor."),
        key("add", word="set", text="Set a limit."),
        key("call_off", "take_away", word="take away", text="Take the limit away; it stays on record."),
        key("filter"),
    ]

    def __init__(self, *, protocol_name: str = "") -> None:
        super().__init__()
        self.protocol_name = protocol_name
        self.limits: list[Kept[SquadThreshold]] = []

    def body(self) -> ComposeResult:
        """The list, and the reason of the limit under the cursor."""
        yield PaneTitle("limits, in %", id="limits_title")
        yield Listing(*COLUMNS, id="limits", empty="the team has set no limit; a sets one")
        yield TextLines("", "", id="of_limit")

    def begin(self) -> None:
        """Begin on the list."""
        self.query_one("#limits", Listing).focus()

    def refresh_room(self) -> None:
        """Read the limits anew."""
        known = protocols(self.fieldlog.workspace)
        self.limits = thresholds(self.fieldlog.workspace)
        self.query_one("#title", TitleLine).show("squad · limits", f"{len(self.limits)} set")
        rows = []
        for kept in self.limits:
            record = kept.record
            protocol = known.get(record.protocol_id)
            way = f", {protocol.direction_name(record.direction)}" if protocol and record.direction else ""
            rows.append(
                Row(
                    record.id,
                    (
                        protocol.name if protocol else record.protocol_id,
                        f"{WORDS[record.measure]}{way}",
                        _number(record.low_pct) or "–",
                        _number(record.high_pct) or "–",
                    ),
                )
            )
        self.query_one("#limits", Listing).show_rows(rows)
        self._tell()

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the limit under the cursor."""
        event.stop()
        self._tell()

    @property
    def chosen(self) -> Kept[SquadThreshold] | None:
        """The limit under the cursor."""
        row_key = self.query_one("#limits", Listing).row_key
        return next((kept for kept in self.limits if kept.record.id == row_key), None)

    def _tell(self) -> None:
        kept = self.chosen
        lines = (
            (Span(f"  {kept.record.reason}"), Span(f"  by {kept.revision.by}", "quiet")) if kept else ("", "")
        )
        self.query_one("#of_limit", TextLines).show_lines(*lines)

    # setting one

    def action_add(self) -> None:
        """Ask for protocol, measure, limits and reason."""
        names = sorted(each.name for each in protocols(self.fieldlog.workspace).values())
        self.ask(
            "limit under which protocol (its name, or a part of it):",
            self._ask_measure,
            self.protocol_name,
            suggester=SuggestFromList(names, case_sensitive=False),
        )

    def _ask_measure(self, name: str) -> None:
        known = {each.name: each for each in protocols(self.fieldlog.workspace).values()}
        protocol = known[one_of(name, known, "protocol")]
        first = "ratio" if protocol.ratio_numerator else "side difference"
        self.ask(
            "of the ratio, or of the side difference:", lambda text: self._ask_way(protocol, text), first
        )

    def _ask_way(self, protocol: Protocol, text: str) -> None:
        measure = MEASURES[one_of(text, MEASURES, "measure")]
        if measure == "ratio_pct" and protocol.ratio_numerator is None:
            raise InputError(f"{protocol.name} has no ratio", "take the side difference")
        fields: dict[str, Any] = {"measure": measure, "protocol_id": protocol.id}
        if measure == "ratio_pct":
            self._ask_low(fields, None)
            return
        ways = {protocol.direction_name(direction): direction for direction in protocol.efforts}
        self.ask(
            f"direction ({', '.join(ways)}), or empty for all:",
            lambda way: self._ask_high(
                {**fields, "direction": ways[one_of(way, ways, "direction")] if way.strip() else None}, None
            ),
        )

    def action_change(self) -> None:
        """Ask for the numbers of the limit under the cursor anew."""
        kept = self.chosen
        if kept is None:
            self.say("no limit under the cursor")
            return
        record = kept.record
        fields = {
            "measure": record.measure,
            "protocol_id": record.protocol_id,
            "direction": record.direction,
        }
        (self._ask_low if record.measure == "ratio_pct" else self._ask_high)(fields, kept)

    def _ask_low(self, fields: dict[str, Any], seen: Kept[SquadThreshold] | None) -> None:
        self.ask(
            "flagged below, in % (empty: not):",
            lambda text: self._ask_high({**fields, "low_pct": _percent(text)}, seen),
            _number(seen.record.low_pct) if seen else "",
        )

    def _ask_high(self, fields: dict[str, Any], seen: Kept[SquadThreshold] | None) -> None:
        self.ask(
            "flagged above, in % (empty: not):",
            lambda text: self._ask_reason({**fields, "high_pct": _percent(text)}, seen),
            _number(seen.record.high_pct) if seen else "",
        )

    def _ask_reason(self, fields: dict[str, Any], seen: Kept[SquadThreshold] | None) -> None:
        self.ask(
            "why these, and who says so:",
            lambda text: self._save({**fields, "reason": text.strip()}, seen),
            seen.record.reason if seen else "",
        )

    def _save(self, fields: dict[str, Any], seen: Kept[SquadThreshold] | None) -> None:
        app = self.fieldlog
        kept = save_threshold(app.workspace, by=app.by, seen=seen, **fields)
        app.note_saved("a limit", (app.workspace.team, SquadThreshold.table, kept.record.id))
        self.refresh_room()
        self.query_one("#limits", Listing).to_key(kept.record.id)
        self.say("saved: a limit; u takes it back", "accent")

    def action_take_away(self) -> None:
        """Take the limit under the cursor away."""
        kept, app = self.chosen, self.fieldlog
        if kept is None:
            self.say("no limit under the cursor")
            return
        take_away_threshold(app.workspace, kept, by=app.by)
        app.note_saved("a limit taken away", (app.workspace.team, SquadThreshold.table, kept.record.id))
        self.refresh_room()
        self.say("saved: taken away; u brings it back", "accent")


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _percent(text: str) -> float | None:
    """A percentage as it is typed, with either decimal sign; None for nothing. Raises InputError."""
    plain = text.strip().rstrip("%").strip().replace(",", ".")
    if not plain:
        return None
    try:
        return float(plain)
    except ValueError:
        raise InputError(f"{text.strip()[:20]!r} is no number", "a percentage such as 55") from None
