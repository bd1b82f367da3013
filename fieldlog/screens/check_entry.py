"""The guided check: the next mass, the reading typed, and at once whether one is still inside."""

from __future__ import annotations

from textwrap import wrap
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.errors import InputError, NotFoundError, RefusedError
from fieldlog.fieldwork.check_basis import Basis
from fieldlog.fieldwork.drafts import Drafts
from fieldlog.fieldwork.entry import parse_quantity
from fieldlog.fieldwork.guided_check import CAUTION, Ask, DisplaySign, GuidedCheck
from fieldlog.records.rig_check import Direction
from fieldlog.records.visit import Visit
from fieldlog.screens.check_view import (
    CHECK_COLUMNS,
    READING_COLUMN,
    budget_lines,
    check_rows,
    pane_title,
    so_far_lines,
)
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.table import Span
from fieldlog.screens.widgets.entry_listing import EntryListing
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import day_words, rig_words
from fieldlog.store.store import Store

__all__ = ["CheckRoom", "draft_name"]

_SIGNS: dict[str, DisplaySign] = {"+": "+", "-": "-", "−": "-", "0": "none"}


def draft_name(store: Store, visit: Visit, stage: str) -> str:
    """The name a check under way is kept under."""
    return f"check/{store.id}/{visit.date.isoformat()}/{stage}"


class CheckRoom(Room):
    """A check typed point by point. Each answer is kept as a draft at once; the finished check is saved."""

    about = (
        "Type what the display shows and press enter; a comma is a decimal sign. The bar runs from minus to plus the "
        "tolerance, its dotted ends are what the uncertainty takes away, the block is the error. Go up with the "
        "arrows to correct a reading, r reads a point once more. Esc keeps everything typed so far. "
        + CAUTION
    )
    CSS = """
    CheckRoom #asks { height: 1fr; }
    #instruction { height: 2; }
    #so_far { height: auto; max-height: 9; }
    #caution { height: auto; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept"),
        key("budget"),
        key("repeat"),
        key("note"),
    ]

    def __init__(self, store: Store, visit: Visit, check: GuidedCheck, *, site_name: str) -> None:
        super().__init__()
        self.store = store
        self.visit = visit
        self.check = check
        self.site_name = site_name
        self.basis: Basis | None = None
        self._repeat: str | None = None
        self._shows_budget = False
        self._trail: list[GuidedCheck] = []
        self._saving = False

    def body(self) -> ComposeResult:
        """Rows of the direction under test, the next instruction, and what the verdicts rest on."""
        yield PaneTitle("", id="asks_title")
        yield EntryListing(*CHECK_COLUMNS, entry_column=READING_COLUMN, id="asks")
        yield TextLines("", id="instruction")
        yield PaneTitle("so far", id="so_far_title")
        yield TextLines("", id="so_far")
        yield TextLines("", id="caution")

    def begin(self) -> None:
        """Work out what the check is judged on, and stand on what is to be done next."""
        self.set_focus(self.query_one("#asks", EntryListing))
        self._to_next()
        self.run_worker(self._find_basis, thread=True, exclusive=True, group="basis")

    def _find_basis(self) -> None:
        from fieldlog.fieldwork.guided_basis import guided_basis, judge_ask

        app = self.fieldlog
        basis = guided_basis(app.workspace, self.store, self.check.plan, at=app.clock(), by=app.by)
        # The quantile of the first judgement is what takes time; the tester never waits for it.
        judge_ask(basis, self.check, next(ask for ask in self.check.asks if ask.kind == "point"), 0.0)
        app.call_from_thread(self._basis_found, basis, self._readiness())

    def _readiness(self) -> list[str]:
        from fieldlog.fieldwork.day import checks_of_visit
        from fieldlog.fieldwork.hall import readiness_words
        from fieldlog.fieldwork.rigs import rig_named

        try:
            rig = rig_named(self.fieldlog.workspace, self.check.plan.rig).record
        except NotFoundError:
            return []  # a draft names a rig that is not on this laptop
        checks = checks_of_visit(self.store, self.visit)
        return readiness_words(self.visit.arrival, rig.warm_up_minutes, checks, self.fieldlog.clock())

    def _basis_found(self, basis: Basis, warnings: list[str]) -> None:
        if warnings and not self.said:
            self.say(" ".join(warnings), "warn")
        self.basis = basis
        self.refresh_room()

    # showing

    @property
    def _at(self) -> Ask | None:
        row_key = self.query_one("#asks", EntryListing).row_key
        return next((ask for ask in self.check.asks if ask.key == row_key), None)

    @property
    def _direction(self) -> Direction:
        ask = self._wanted
        return ask.direction if ask else self.check.plan.directions[-1]

    @property
    def _wanted(self) -> Ask | None:
        if self._repeat:
            return next((ask for ask in self.check.asks if ask.key == self._repeat), None)
        return self.check.next_ask

    def refresh_room(self) -> None:
        """Show the answers so far."""
        plan = self.check.plan
        today = day_words(self.visit.date, self.fieldlog.today)
        self.query_one("#title", TitleLine).show(
            f"{self.site_name} · {today} · {rig_words(plan.rig)}", f"{plan.stage} check, {plan.state}"
        )
        listing = self.query_one("#asks", EntryListing)
        listing.takes_entries([ask.key for ask in self.check.asks if ask.wants_reading or ask.kind == "sign"])
        listing.show_rows(check_rows(self.check, self.basis, self._direction))
        title, note = pane_title(self.check, self._wanted)
        self.query_one("#asks_title", PaneTitle).show(title, note)
        self._show_ask()

    def _to_next(self) -> None:
        ask = self._wanted
        self.refresh_room()
        if ask is not None:
            self.query_one("#asks", EntryListing).to_key(ask.key)
        self._show_ask()

    def _show_ask(self) -> None:
        ask, width = self._at, max(self.size.width - 4, 40)
        listing = self.query_one("#asks", EntryListing)
        listing.prefix = self._sign_before(ask)
        text = ask.text if ask else "All is read."
        if ask and ask.kind == "sign":
            text += " Type + or −, or 0 for no sign; enter takes the one shown."
        elif ask and ask.kind in ("preload", "turned"):
            text += " Enter when done."
        self.query_one("#instruction", TextLines).show_lines(*[f"  {line}" for line in wrap(text, width)][:2])
        arrival = self.visit.arrival
        temperature = arrival.hall_temperature_c if arrival else None
        point = ask if ask and ask.kind == "point" else None
        if self._shows_budget and self.basis and point:
            self.query_one("#so_far_title", PaneTitle).show("budget of this point")
            self.query_one("#so_far", TextLines).show_lines(*budget_lines(self.check, self.basis, point))
        else:
            lines = so_far_lines(self.check, self.basis, ask, temperature)
            self.query_one("#so_far_title", PaneTitle).show("so far")
            self.query_one("#so_far", TextLines).show_lines(*[f"  {line}" for line in lines])
        caution = [Span(f"  {line}", "warn") for line in wrap(CAUTION, width)]
        self.query_one("#caution", TextLines).show_lines(*caution)

    def _sign_before(self, ask: Ask | None) -> str:
        if ask is None:
            return ""
        if ask.kind == "sign":
            return "+" if ask.direction == "up" else "−"
        return "−" if self.check.signs.get(ask.direction) == "-" else ""

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the row under the cursor."""
        event.stop()
        self._show_ask()

    # answering

    def action_accept(self) -> None:
        """Take the answer in the row under the cursor."""
        ask = self._at
        if ask is None or self._saving:
            return
        if self.check.next_ask is None and not self.query_one("#asks", EntryListing).typed:
            self._finish()
            return
        with self.telling():
            if ask.wants_reading:
                self._take_reading(ask, self.query_one("#asks", EntryListing).typed)
            elif ask.kind == "sign":
                self._take_sign(ask, self.query_one("#asks", EntryListing).typed)
            else:
                self._keep(self.check.with_confirmed(ask))

    def _take_sign(self, ask: Ask, typed: str) -> None:
        sign = _SIGNS.get(typed[-1:] or self._sign_before(ask))
        if sign is None:
            raise InputError(f"{typed} is no sign", "type + or −, or 0 where the display shows none")
        self._keep(self.check.with_sign(ask, sign))

    def _take_reading(self, ask: Ask, typed: str) -> None:
        if not typed:
            raise InputError("nothing typed yet", "type what the display shows, then enter")
        shown = parse_quantity(typed, "nm", "the reading")
        check = self.check.with_reading(ask, shown, again=self._repeat == ask.key)
        if ask.kind == "point":
            check.point_of(ask, check.readings[ask.key][-1])
        self._repeat = None
        self._keep(check)
        slip = self._slip(ask)
        if slip:
            self.say(slip, "bad")
        elif self.check.looks_unturned():
            self.say("up and down read alike so far: was the lever really turned?", "warn")

    def _slip(self, ask: Ask) -> str:
        from fieldlog.fieldwork.guided_basis import slip_words

        if self.basis is None or ask.kind != "point":
            return ""
        return slip_words(self.basis, self.check, ask, self.check.readings[ask.key][-1])

    def _keep(self, check: GuidedCheck) -> None:
        self._save_draft(check)
        self._trail.append(self.check)
        self.check = check
        self.query_one("#asks", EntryListing).take()
        self.say("")
        self._to_next()
        if check.next_ask is None:
            self._finish()

    def _save_draft(self, check: GuidedCheck) -> None:
        Drafts(self.fieldlog.workspace.path).save(
            draft_name(self.store, self.visit, check.plan.stage), check.to_draft()
        )

    def on_entry_listing_pasted(self, event: EntryListing.Pasted) -> None:
        """A pasted column of numbers answers one reading after the other."""
        event.stop()
        with self.telling():
            for value in event.values:
                ask = self._at
                if ask is None or not ask.wants_reading or self.check.next_ask is None:
                    raise RefusedError(f"pasted up to {value}, which does not fit", "look at the last rows")
                self._take_reading(ask, value)

    def _finish(self) -> None:
        from fieldlog.screens.check_shown import CheckShown

        app = self.fieldlog
        entry = self.check.entry(at=app.clock(), by=app.by, arrival=self.visit.arrival)
        self._saving = True
        self.say("judging and saving …", "quiet")
        minutes = (app.clock() - self.check.started_at).total_seconds() / 60

        def save() -> None:
            from fieldlog.errors import FieldlogError
            from fieldlog.fieldwork.checks import save_check

            try:
                saved = save_check(app.workspace, self.store, entry, today=app.today, by=app.by)
            except (FieldlogError, OSError) as error:
                app.call_from_thread(self._not_saved, str(error))
                return
            app.call_from_thread(shown, saved)

        def shown(saved: object) -> None:
            from fieldlog.fieldwork.checks import SavedCheck

            assert isinstance(saved, SavedCheck)
            Drafts(app.workspace.path).drop(draft_name(self.store, self.visit, entry.stage))
            record = saved.kept.record
            app.note_saved(f"the {record.stage} check", (self.store, record.table, record.id))
            app.switch_screen(CheckShown(record, site_name=self.site_name, minutes=minutes))

        self.run_worker(save, thread=True, exclusive=True, group="save")

    def _not_saved(self, why: str) -> None:
        self._saving = False
        self.say(f"not saved: {why}; what was typed is kept, enter tries again", "bad")

    # other keys

    def action_repeat(self) -> None:
        """Read the point under the cursor once more, or else the last one that was read."""
        ask = self._at
        if ask is None or ask.kind != "point" or not self.check.is_answered(ask):
            answered = [
                each for each in self.check.asks if each.kind == "point" and self.check.is_answered(each)
            ]
            ask = answered[-1] if answered else None
        if ask is None:
            self.say("no point was read yet")
            return
        self._repeat = ask.key
        self._to_next()
        self.say(
            f"once more: {ask.mass_kg:g} kg {ask.direction}, {ask.run}; the scatter is used, nothing is punished"
        )

    def action_budget(self) -> None:
        """Show or hide what the uncertainty of the point is made of."""
        self._shows_budget = not self._shows_budget
        self._show_ask()

    def action_note(self) -> None:
        """Write a note to the point under the cursor."""
        ask = self._at
        if ask is None or ask.kind != "point":
            self.say("a note belongs to a point")
            return
        self.ask("note:", lambda note: self._keep_note(ask, note), (self.check.notes or {}).get(ask.key, ""))

    def _keep_note(self, ask: Ask, note: str) -> None:
        check = self.check.with_note(ask, note)
        self._save_draft(check)
        self.check = check
        self.refresh_room()
        self.say("note kept with the draft")

    def action_undo(self) -> None:
        """Take the last answer back."""
        if not self._trail:
            self.say("no answer to take back since this check was opened")
            return
        with self.telling():
            check = self._trail.pop()
            self._save_draft(check)
            self.check, self._repeat = check, None
            self._to_next()
            self.say("took the last answer back", "accent")

    def leave(self) -> None:
        """Go back to the day; what was typed is a draft there."""
        self.app.pop_screen()
