"""Standards and tolerances: what rigs are checked against, and what counts as good enough."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import InputError
from fieldlog.fieldwork.rig_checks.standards import (
    STANDARD_FIELDS,
    certificate_words,
    read_standard,
    save_standard,
    standards_of,
    typed_of,
)
from fieldlog.fieldwork.rig_checks.tolerance_book import (
    LIMIT_WORDS,
    older_versions,
    read_limits,
    save_tolerance_set,
    tolerance_sets,
)
from fieldlog.records.standard import ReferenceStandard
from fieldlog.records.tolerance import TeamToleranceSet, Tolerances, ToleranceSet
from fieldlog.screens.form import FormRoom, paragraph
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Cell, Column, Row, Span
from fieldlog.screens.widgets.fitted_listing import FittedListing
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TitleLine
from fieldlog.screens.words import moment_words
from fieldlog.store.repo import Kept

__all__ = ["StandardForm", "StandardsRoom", "ToleranceForm"]

STANDARD_COLUMNS = (
    Column("name", 16),
    Column("kind", 12),
    Column("nominal", 8, "right"),
    Column("class", 9),
    Column("certificate"),
)
SET_COLUMNS = (
    Column("set", 14),
    Column("version", 8),
    Column("torque", 18),
    Column("zero", 9),
    Column("source"),
)
_OF_SET = "set of that name"


class StandardsRoom(Room):
    """Reference standards with their certificates, and the tolerance sets with their versions."""

    about = (
        "Above: masses, levers, inclinometers and timers a rig is checked against. One without certificate counts by "
        "the OIML R 111 limit of its class, an unweighed plate by a wide one. Below: the tolerance sets; a change is a "
        "new version, checks judged before keep theirs. Enter edits, a adds, tab goes to the other list."
    )
    CSS = """
    StandardsRoom #standards { height: 1fr; min-height: 4; }
    StandardsRoom #sets { height: auto; max-height: 8; min-height: 3; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("open", "edit", word="edit", text="Edit what the cursor stands on."),
        key("add", "add", text="Add a standard, or a tolerance set."),
        key("filter"),
    ]

    def body(self) -> ComposeResult:
        """Standards, then tolerance sets."""
        yield PaneTitle("reference standards", id="standards_title")
        yield FittedListing(*STANDARD_COLUMNS, id="standards", empty="none yet; press a to add one")
        yield PaneTitle("tolerance sets", id="sets_title")
        yield Listing(*SET_COLUMNS, id="sets")

    def begin(self) -> None:
        """Begin on the standards."""
        self.set_focus(self.query_one("#standards", Listing))

    def refresh_room(self) -> None:
        """Read both lists anew."""
        app = self.fieldlog
        self.query_one("#title", TitleLine).show("standards and tolerances", "of the team")
        self._standards: dict[str, Kept[ReferenceStandard]] = {
            kept.record.id: kept for kept in standards_of(app.workspace)
        }
        rows, overdue = [], 0
        for kept in self._standards.values():
            words, is_overdue = certificate_words(kept.record, app.today, moment_words)
            overdue += is_overdue
            rows.append(_standard_row(kept.record, Span(words, "bad" if is_overdue else "")))
        self.query_one("#standards", Listing).show_rows(rows)
        note = f"{overdue} overdue" if overdue else f"{len(rows)}"
        self.query_one("#standards_title", PaneTitle).show(note=note)
        self._sets = tolerance_sets(app.workspace)
        self.query_one("#sets", Listing).show_rows([_set_row(each) for each in self._sets.values()])

    def action_edit(self) -> None:
        """Edit what the cursor stands on."""
        sets = self.query_one("#sets", Listing)
        if sets.has_focus:
            if sets.row_key is not None:
                self.app.push_screen(ToleranceForm(sets.row_key, self._sets[sets.row_key].limits))
            return
        kept = self._standards.get(self.query_one("#standards", Listing).row_key or "")
        if kept is None:
            self.say("no standard yet; press a to add one")
        else:
            self.app.push_screen(StandardForm(kept))

    def action_add(self) -> None:
        """Add a standard, or a tolerance set where that list has the focus."""
        if self.query_one("#sets", Listing).has_focus:
            self.ask("name of the new set:", self._add_set)
        else:
            self.app.push_screen(StandardForm(None))

    def _add_set(self, name: str) -> None:
        name = " ".join(name.split())
        if not name:
            raise InputError("a tolerance set needs a name", "checks name it by that")
        if name in self._sets:
            raise InputError(f"there is a {_OF_SET} already: {name}", "edit it with enter")
        self.app.push_screen(ToleranceForm(name, self._sets["field"].limits))


class StandardForm(FormRoom):
    """One reference standard."""

    def __init__(self, kept: Kept[ReferenceStandard] | None) -> None:
        self.kept = kept
        standard = kept.record if kept else None
        super().__init__(
            f"standard {standard.name}" if standard else "a new standard",
            STANDARD_FIELDS,
            typed_of(standard),
            draft=f"standard/{standard.id if standard else 'new'}",
        )

    def hint(self) -> list[Cell]:
        """What an empty certificate means."""
        text = (
            "Without certificate a mass counts by the limit of its class as a rectangular distribution; without class, "
            "or unweighed, by a wide one. Uncertainty is standard (k = 1), in the unit of the nominal value."
        )
        return paragraph(text, self.size.width, "quiet")

    def save(self) -> str:
        """Keep the standard."""
        app = self.fieldlog
        standard = read_standard(self.typed, self.kept.record.id if self.kept else None)
        self.kept = save_standard(app.workspace, standard, by=app.by, seen=self.kept)
        self.draft = f"standard/{standard.id}"
        app.note_saved(
            f"standard {standard.name}", (app.workspace.team, ReferenceStandard.table, standard.id)
        )
        return f"saved: {standard.name}; u takes it back"


class ToleranceForm(FormRoom):
    """One tolerance set: its limits and why the team holds to them."""

    def __init__(self, name: str, limits: Tolerances) -> None:
        self.set_name = name
        fields = {field: f"{words} ({unit})" for field, (words, unit) in LIMIT_WORDS.items()}
        typed = {field: f"{value:g}" for field, value in limits.model_dump().items()}
        super().__init__(
            f"tolerance set {name}",
            {**fields, "why": "why the team holds to these limits"},
            {**typed, "why": ""},
            draft=f"tolerance/{name}",
        )

    def hint(self) -> list[Cell]:
        """The versions there were."""
        versions = older_versions(self.fieldlog.workspace, self.set_name)
        lines = paragraph(
            "A point's tolerance is the larger of its floor and its share.", self.size.width, "quiet"
        )
        for tolerance_set, by, why in versions[-3:]:
            lines += paragraph(f"version {tolerance_set.version} by {by}: {why}", self.size.width)[:1]
        return lines

    def save(self) -> str:
        """Keep the limits as the next version."""
        app = self.fieldlog
        kept = save_tolerance_set(
            app.workspace, self.set_name, read_limits(self.typed), by=app.by, why=self.typed["why"]
        )
        record = kept.record
        app.note_saved(
            f"tolerance set {self.set_name}", (app.workspace.team, TeamToleranceSet.table, record.id)
        )
        self.typed["why"] = ""
        return f"saved: {self.set_name}, version {record.tolerance_set.version}; u takes it back"


def _standard_row(standard: ReferenceStandard, certificate: Span) -> Row:
    return Row(
        standard.id,
        (
            standard.name,
            standard.kind,
            f"{standard.nominal:g} {standard.unit}",
            standard.mass_class or "–",
            certificate,
        ),
    )


def _set_row(tolerance_set: ToleranceSet) -> Row:
    limits = tolerance_set.limits
    return Row(
        tolerance_set.name,
        (
            tolerance_set.name,
            str(tolerance_set.version),
            f"{limits.torque_pct:g} % or {limits.torque_floor_nm:g} N·m",
            f"{limits.zero_nm:g} N·m",
            Span(tolerance_set.source, "quiet"),
        ),
    )
