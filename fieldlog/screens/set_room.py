"""One set: keeping it, leaving repetitions out, and whether it counts."""

from __future__ import annotations

from functools import partial
from typing import ClassVar, get_args

from textual.binding import BindingType

from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.entry import parse_words
from fieldlog.fieldwork.results.admission import admit_set
from fieldlog.fieldwork.results.imports import JudgedImport
from fieldlog.fieldwork.results.keep_set import KeptSet, change_note, keep_set
from fieldlog.fieldwork.results.sets import change_standing, leave_out
from fieldlog.fieldwork.results.typed_set import is_typed
from fieldlog.records.effort_set import EffortSet, LeaveOut
from fieldlog.records.review import Review
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.set_shown import SetShown
from fieldlog.screens.widgets.curve_view import CURSOR_KEYS
from fieldlog.screens.widgets.listing import Listing
from fieldlog.store.repo import Kept

__all__ = ["SetRoom"]

REASONS: tuple[str, ...] = get_args(LeaveOut.model_fields["reason"].annotation)


class SetRoom(SetShown):
    """A recording with its measures. Not kept yet: enter keeps it. Kept: x leaves repetitions out."""

    about = (
        "Enter keeps the recording as a set of this athlete; the counted set it replaces stays listed as redone. x "
        "leaves the repetition under the cursor out, with a reason, or takes it back in; it stays listed. f counts "
        "the set as practice, or counts it again. o shows the other direction and torque over time; left and right "
        "read the values of the curves. A measures the recording again with other options and a reason, O "
        "shows what the sets of the day give together. A set recorded without clearance is on no page until j writes down "
        "who decided that it counts, and why."
    )
    CSS = """
    SetRoom #reps { height: 1fr; min-height: 4; }
    #figures, #said_of_it { height: auto; }
    #said_of_it { max-height: 5; }
    SetRoom CurveView { height: 10; }
    SetRoom.tall CurveView { height: 18; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept", word="keep"),
        key("leave_out"),
        key("over_time"),
        key("stand_in"),
        key("note"),
        *CURSOR_KEYS,
        key("again", show=False),
        key("across", show=False),
        key("decide", show=False, text="Decide that a set recorded without clearance counts: who, and why."),
    ]

    # keeping and leaving out

    def action_undo(self) -> None:
        """Undo what was saved last; a set that is gone by that is left."""
        kept = self.kept
        super().action_undo()
        if kept is not None and at_site(self.seat.store, EffortSet).get(kept.record.id) is None:
            said = self.said
            self.leave()
            if isinstance(self.app.screen, Room):
                self.app.screen.say(said, "accent")

    def action_accept(self) -> None:
        """Keep the recording; once kept, go back to the bench."""
        if self.kept is not None:
            self.leave()
            return
        assert self.judged is not None
        self.say("keeping …", "quiet")
        self.save_behind(partial(self._keep, self.judged))

    def word_for(self, action: str) -> str:
        """Enter keeps a set, and goes back from one that is kept."""
        return "go back" if action == "accept" and self.kept is not None else ""

    def _keep(self, judged: JudgedImport) -> None:
        app = self.fieldlog
        try:
            kept = keep_set(self.seat, judged, self.planned, at=app.clock(), by=app.by)
        except (FieldlogError, OSError) as error:
            self.from_thread(self.say, str(error), "bad")
            return
        self.from_thread(self._set_kept, kept)

    def _set_kept(self, kept: KeptSet) -> None:
        self.kept = kept.kept
        # Kept as it was judged: the curves that are drawn are those of the set.
        self._drawn = kept.kept.revision.id
        store = self.seat.store
        self.fieldlog.note_saved(
            f"set {kept.kept.record.number} of {self.code}",
            *((store, table, key) for table, key in kept.changed),
        )
        self.refresh_room()
        without = "; recorded without clearance, on no page" if kept.kept.record.without_clearance else ""
        self.say(f"saved: set {kept.kept.record.number} of {self.code}{without}; enter goes back", "good")

    def action_leave_out(self) -> None:
        """Leave the repetition under the cursor out, or take it back in."""
        row_key = self.query_one("#reps", Listing).row_key
        if self.kept is None or row_key is None:
            self.say("keep the set first (enter), then leave repetitions out")
            return
        index = int(row_key)
        if any(entry.index == index for entry in self._left_out):
            self._leave_out([entry for entry in self._left_out if entry.index != index])
            return
        options = "  ".join(f"{place} {reason}" for place, reason in enumerate(REASONS, start=1))
        self.ask(f"leave {index} out; why? {options}:", lambda answer: self._take_reason(index, answer))

    def _take_reason(self, index: int, answer: str) -> None:
        place = int(answer) if answer.strip().isdecimal() else 0
        if not 1 <= place <= len(REASONS):
            self.say(f"type 1 to {len(REASONS)}", "warn")
            return
        entry = LeaveOut.model_validate({"index": index, "reason": REASONS[place - 1]})
        self._leave_out([*self._left_out, entry])

    def _leave_out(self, entries: list[LeaveOut]) -> None:
        assert self.kept is not None
        kept = self.kept
        self.say("measuring again …", "quiet")

        def work() -> None:
            try:
                changed = leave_out(self.seat.store, kept, entries, by=self.fieldlog.by)
            except (FieldlogError, OSError) as error:
                self.from_thread(self.say, str(error), "bad")
                return
            self.from_thread(self._changed, changed, "what is left out")

        self.save_behind(work)

    def _changed(self, kept: Kept[EffortSet], what: str) -> None:
        self.kept = kept
        self.fieldlog.note_saved(what, (self.seat.store, EffortSet.table, kept.record.id))
        self.refresh_room()
        self.say(f"saved: {what}", "quiet")

    def action_stand_in(self) -> None:
        """Count the set as familiarisation, or count it again."""
        if self.kept is None:
            self.say("keep the set first (enter)")
            return
        standing = "counted" if self.kept.record.standing != "counted" else "familiarisation"
        with self.telling():
            kept = change_standing(self.seat.store, self.kept, standing, by=self.fieldlog.by, why="by hand")  # type: ignore[arg-type]
            self._changed(kept, standing)

    def action_again(self) -> None:
        """Measure the recording again with other options."""
        from fieldlog.screens.analyse_again import AnalyseAgainRoom

        if self.kept is None:
            self.say("keep the set first (enter)")
        elif is_typed(self.measures):
            self.say("this set was typed; there is no recording to measure again")
        else:
            self.app.push_screen(AnalyseAgainRoom(self.seat, self.kept))

    def action_across(self) -> None:
        """Show what the sets of the day give together."""
        from fieldlog.screens.across_sets import AcrossRoom

        self.app.push_screen(AcrossRoom(self.seat, self.code))

    def action_note(self) -> None:
        """Write a note to the set."""
        if self.kept is None:
            self.say("keep the set first (enter)")
            return
        self.ask("note:", self._keep_note, self.kept.record.note)

    def _keep_note(self, note: str) -> None:
        assert self.kept is not None
        self._changed(change_note(self.seat.store, self.kept, note, by=self.fieldlog.by), "note")

    # what was recorded without clearance

    def action_decide(self) -> None:
        """Ask who decides that a set recorded without clearance counts, and why."""
        if self.kept is None or not self.kept.record.without_clearance:
            self.say(
                "this set was recorded with a clearance; nothing to decide"
                if self.kept
                else "keep the set first"
            )
            return
        self.ask("who decides that it counts (name, qualification):", self._ask_why_it_counts)

    def _ask_why_it_counts(self, decided_by: str) -> None:
        name = parse_words(decided_by, "who decides")
        self.ask(f"{name}, why it counts:", partial(self._admit, name))

    def _admit(self, decided_by: str, why: str) -> None:
        assert self.kept is not None
        app, store, reason = self.fieldlog, self.seat.store, parse_words(why, "why it counts")
        kept, review = admit_set(
            store, self.seat.visit, self.kept, decided_by=decided_by, why=reason, at=app.clock(), by=app.by
        )
        self.kept = kept
        app.note_saved(
            f"decision on set {kept.record.number} of {self.code}",
            (store, EffortSet.table, kept.record.id),
            (store, Review.table, review.record.id),
        )
        self.refresh_room()
        self.say(f"saved: counts by decision of {review.record.by}; u takes it back", "accent")
