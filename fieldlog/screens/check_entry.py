"""The guided check: the next mass, the reading typed, and at once whether one is still inside."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual.binding import BindingType

from fieldlog.errors import FieldlogError, InputError, RefusedError
from fieldlog.fieldwork.drafts import Drafts
from fieldlog.fieldwork.entry import parse_quantity
from fieldlog.fieldwork.rig_checks.check_plan import CAUTION, Ask, DisplaySign
from fieldlog.fieldwork.rig_checks.guided_check import GuidedCheck
from fieldlog.records.check_entry import CheckEntry
from fieldlog.records.visit import Visit
from fieldlog.screens.check_under_way import CheckUnderWay
from fieldlog.screens.keys import key
from fieldlog.screens.widgets.entry_listing import EntryListing
from fieldlog.screens.words import sentence
from fieldlog.store.store import Store

if TYPE_CHECKING:
    from fieldlog.fieldwork.rig_checks.checks import SavedCheck

__all__ = ["CheckRoom", "draft_name"]

_SIGNS: dict[str, DisplaySign] = {"+": "+", "-": "-", "−": "-", "0": "none"}


def draft_name(store: Store, visit: Visit, stage: str) -> str:
    """The name a check under way is kept under."""
    return f"check/{store.id}/{visit.date.isoformat()}/{stage}"


class CheckRoom(CheckUnderWay):
    """A check typed point by point. Each answer is kept as a draft at once; the finished check is saved."""

    about = (
        "Type what the display shows and press enter; a comma is a decimal sign. The bar runs from minus to plus the "
        "tolerance, its dotted ends are what the uncertainty takes away, the block is the error. Go up with the "
        "arrows to correct a reading, with [ and ] to the other direction; r reads a point once more. Esc keeps everything typed so far. "
        + CAUTION
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept"),
        key("budget"),
        key("repeat"),
        key("note"),
        key("earlier", "other_direction", show=False, text="Show the rows of the other direction."),
        key("later", "other_direction", show=False, text="Show the rows of the other direction."),
    ]

    def __init__(self, store: Store, visit: Visit, check: GuidedCheck, *, site_name: str) -> None:
        super().__init__(store, visit, check, site_name=site_name)
        self._trail: list[GuidedCheck] = []

    def action_accept(self) -> None:
        """Take the answer in the row under the cursor."""
        ask = self.asked
        if ask is None:
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
        sign = _SIGNS.get(typed[-1:] or self.sign_before(ask))
        if sign is None:
            raise InputError(f"{typed} is no sign", "type + or −, or 0 where the display shows none")
        self._keep(self.check.with_sign(ask, sign))

    def _take_reading(self, ask: Ask, typed: str) -> None:
        if not typed and ask.may_be_passed_over and not self.check.is_answered(ask):
            self._keep(self.check.with_confirmed(ask))
            self.say(f"{ask.kind} not read; go up to it to type it after all", "warn")
            return
        if not typed:
            raise InputError("nothing typed yet", "type what the display shows, then enter")
        shown = parse_quantity(typed, ask.unit, "the reading")
        check = self.check.with_reading(ask, shown, again=self.repeated == ask.key)
        if ask.kind == "point":
            check.point_of(ask, check.readings[ask.key][-1])
        self.repeated = None
        self._keep(check)
        slip = self._slip(ask)
        if slip:
            self.say(slip, "bad")
        elif self.check.looks_unturned():
            self.say("up and down read alike so far: was the lever really turned?", "warn")

    def _slip(self, ask: Ask) -> str:
        from fieldlog.fieldwork.rig_checks.guided_basis import slip_words

        if self.basis is None or ask.kind != "point":
            return ""
        return sentence(slip_words(self.basis, self.check, ask, self.check.readings[ask.key][-1]))

    def _keep(self, check: GuidedCheck) -> None:
        self._save_draft(check)
        self._trail.append(self.check)
        self.check = check
        self.query_one("#asks", EntryListing).take()
        self.say("")
        self.to_next()
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
                ask = self.asked
                if ask is None or not ask.wants_reading or self.check.next_ask is None:
                    raise RefusedError(f"pasted up to {value}, which does not fit", "look at the last rows")
                self._take_reading(ask, value)

    def _finish(self) -> None:
        app = self.fieldlog
        entry = self.check.entry(at=app.clock(), by=app.by, arrival=self.visit.arrival)
        self.say("judging and saving …", "quiet")
        self.save_behind(partial(self._save, entry))

    def _save(self, entry: CheckEntry) -> None:
        from fieldlog.fieldwork.rig_checks.checks import save_check

        app = self.fieldlog
        try:
            saved = save_check(app.workspace, self.store, entry, today=app.today, by=app.by)
        except (FieldlogError, OSError) as error:
            self.from_thread(self._not_saved, str(error))
            return
        self.from_thread(self._saved, saved)

    def _saved(self, saved: SavedCheck) -> None:
        from fieldlog.screens.check_shown import CheckShown

        app, record = self.fieldlog, saved.kept.record
        Drafts(app.workspace.path).drop(draft_name(self.store, self.visit, record.stage))
        app.note_saved(f"the {record.stage} check", (self.store, record.table, record.id))
        minutes = (app.clock() - self.check.started_at).total_seconds() / 60
        app.switch_screen(CheckShown(record, site_name=self.site_name, minutes=minutes))

    def _not_saved(self, why: str) -> None:
        self.say(f"not saved: {why}; what was typed is kept, enter tries again", "bad")

    # other keys

    def action_repeat(self) -> None:
        """Read the point under the cursor once more, or else the last one that was read."""
        ask = self.asked
        if ask is None or ask.kind != "point" or not self.check.is_answered(ask):
            answered = [
                each for each in self.check.asks if each.kind == "point" and self.check.is_answered(each)
            ]
            ask = answered[-1] if answered else None
        if ask is None:
            self.say("no point was read yet")
            return
        self.repeated = ask.key
        self.to_next()
        self.say(
            f"once more: {ask.mass_kg:g} kg {ask.direction}, {ask.run}; the scatter is used, nothing is punished"
        )

    def action_other_direction(self) -> None:
        """Show the rows of the other direction, to look at or to correct; the next answer goes on where it was."""
        others = [direction for direction in self.check.plan.directions if direction != self.direction]
        if others:
            self.shown_direction = others[0]
            self.refresh_room()

    def action_budget(self) -> None:
        """Show or hide what the uncertainty of the point is made of."""
        self.shows_budget = not self.shows_budget
        self.show_ask()

    def action_note(self) -> None:
        """Write a note to the point under the cursor."""
        ask = self.asked
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
            self.check, self.repeated = check, None
            self.to_next()
            self.say("took the last answer back", "accent")

    def leave(self) -> None:
        """Go back to the day; what was typed is a draft there."""
        self.app.pop_screen()
