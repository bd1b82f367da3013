"""Today's clearance of one athlete: the form's questions, and what they come to."""

from __future__ import annotations

import datetime as dt
from textwrap import wrap
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType

from fieldlog.fieldwork.athletes.athletes import athlete_named
from fieldlog.fieldwork.athletes.person_entries import consent_status, record_consent, usual_consent_end
from fieldlog.fieldwork.books import at_site
from fieldlog.fieldwork.clearance.clearance_rules import Answer
from fieldlog.fieldwork.clearance.clearances import (
    clearance_form,
    clearance_today,
    decide_clearance,
    take_clearance,
)
from fieldlog.fieldwork.entry import parse_day, parse_number, parse_words
from fieldlog.records.clearance import Clearance
from fieldlog.records.clearance_form import ClearanceItem
from fieldlog.records.visit import Visit
from fieldlog.screens.keys import key
from fieldlog.screens.room import Room
from fieldlog.screens.stop_entry import ask_release, holding_stops
from fieldlog.screens.table import Cell, Column, Row, Span
from fieldlog.screens.widgets.listing import Listing
from fieldlog.screens.widgets.text_line import PaneTitle, TextLines, TitleLine
from fieldlog.screens.words import moment_words, number, verdict_span
from fieldlog.store.store import Store

__all__ = ["ClearanceRoom"]

COLUMNS = (Column("", 22), Column("answer", 16), Column("question"))
CONSENT, OUTCOME = "consent", "outcome"


class ClearanceRoom(Room):
    """Questions one under the other; y and − answer, enter goes on, and the last line takes the clearance."""

    about = (
        "Ask every question; y and − answer yes and no, a number is asked for with enter. The last line takes the "
        "clearance. Answers go to the persons files only. Whoever is held goes on only by the decision of a named, "
        "qualified person. Common practice, not medical advice: local rules come first."
    )
    CSS = """
    ClearanceRoom #questions { height: 1fr; }
    #clearance_hint { height: auto; max-height: 6; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        key("accept"),
        key("yes"),
        key("no"),
        key("decide"),
        key("plans", "edit_questions", show=False, text="Look at the questions, or change them."),
    ]

    def __init__(self, store: Store, visit: Visit, athlete_id: str, *, site_name: str) -> None:
        super().__init__()
        self.store = store
        self.visit = visit
        self.athlete_id = athlete_id
        self.site_name = site_name

    def body(self) -> ComposeResult:
        """The questions, and what is known."""
        yield PaneTitle("clearance", id="questions_title")
        yield Listing(*COLUMNS, id="questions")
        yield TextLines("", id="clearance_hint")

    def prepare(self) -> None:
        """Look up what does not change while the room is open."""
        workspace = self.fieldlog.workspace
        self.athlete = athlete_named(workspace, self.athlete_id).record
        # Half-given answers are kept in memory only: on disk they belong to the persons files alone.
        self._answers: dict[str, Answer] = self.fieldlog.unfinished_answers.setdefault(
            (self.visit.id, self.athlete.id), {}
        )

    def begin(self) -> None:
        """Begin with the first question."""
        self.set_focus(self.query_one("#questions", Listing))

    @property
    def _listing(self) -> Listing:
        return self.query_one("#questions", Listing)

    @property
    def _clearance(self) -> Clearance | None:
        return clearance_today(self.store, self.visit, self.athlete.id)

    def refresh_room(self) -> None:
        """Show the answers so far and what stands today."""
        form = clearance_form(self.fieldlog.workspace)
        self._items = {item.key: item for item in form.asked_of(minor=self.athlete.minor)}
        # A question may have been taken off the form while its answer stood here.
        for gone in set(self._answers) - set(self._items):
            del self._answers[gone]
        clearance = self._clearance
        outcome = clearance.outcome if clearance else "not taken yet"
        self.query_one("#title", TitleLine).show(f"{self.athlete.code} · clearance", f"today: {outcome}")
        consent = consent_status(
            self.fieldlog.workspace,
            self.athlete.id,
            minor=self.athlete.minor,
            on=self.visit.date,
            day_words=moment_words,
        )
        mark = verdict_span("go" if consent.in_date else "held").text[:1]
        rows = [
            Row(
                CONSENT,
                (
                    "consent",
                    Span(
                        f"{mark} {'in date' if consent.in_date else 'missing'}",
                        "good" if consent.in_date else "bad",
                    ),
                    consent.text,
                ),
            ),
            *(
                Row(item.key, (item.label, self._answer_span(item), item.question))
                for item in self._items.values()
            ),
            Row(
                OUTCOME,
                (
                    Span("take the clearance", "accent"),
                    verdict_span(clearance.outcome) if clearance else "",
                    "enter, once every question is answered",
                ),
            ),
        ]
        self._listing.show_rows(rows)
        answered = sum(key in self._answers for key in self._items)
        self.query_one("#questions_title", PaneTitle).show(note=f"{answered} of {len(self._items)} answered")
        self._show_hint()

    def _answer_span(self, item: ClearanceItem) -> Span:
        answer = self._answers.get(item.key)
        if answer is None:
            return Span("·" if item.must_answer else "· may stay open", "quiet")
        if isinstance(answer, bool):
            holds = item.holds_on is not None and answer is (item.holds_on == "yes")
            return Span(f"{'✗' if holds else '✓'} {'yes' if answer else 'no'}", "bad" if holds else "good")
        return Span(f"{number(answer, 0)} {item.unit}".strip() if isinstance(answer, float) else str(answer))

    def on_listing_moved(self, event: Listing.Moved) -> None:
        """Tell of the question under the cursor."""
        event.stop()
        self._show_hint()

    def _show_hint(self) -> None:
        item = self._items.get(self._listing.row_key or "")
        width = max(self.size.width - 4, 40)
        lines: list[Cell] = []
        if item is not None:
            lines += [f"  {line}" for line in wrap(item.question, width)]
            lines += [Span(f"  {line}", "warn") for line in wrap(item.caution, width)]
        clearance = self._clearance
        if clearance is not None and clearance.outcome == "held":
            lines.append(Span("  held: j writes down the decision of a named, qualified person", "bad"))
        if holding_stops(self.store, self.visit, self.athlete_id):
            lines.append(Span("  stopped today: j writes down who lets the athlete start again", "bad"))
        if clearance is not None and clearance.outcome == "limits":
            lines.append(Span(f"  limits by {clearance.decided_by}: {clearance.limits}", "warn"))
        self.query_one("#clearance_hint", TextLines).show_lines(*lines[:6])

    # answering

    def action_yes(self) -> None:
        """Answer yes."""
        self._take(answer=True)

    def action_no(self) -> None:
        """Answer no."""
        self._take(answer=False)

    def _take(self, *, answer: bool) -> None:
        item = self._items.get(self._listing.row_key or "")
        if item is None or item.kind != "yes_no":
            self.say("this line takes no yes or no; enter asks")
            return
        self._keep(item.key, answer)

    def _keep(self, item_key: str, answer: Answer) -> None:
        self._answers[item_key] = answer
        self.refresh_room()
        self._listing.action_move(1)
        self.say("")

    def action_accept(self) -> None:
        """Ask for the answer under the cursor, or take the clearance on the last line."""
        row_key = self._listing.row_key or ""
        if row_key == OUTCOME:
            with self.telling():
                self._take_clearance()
            return
        if row_key == CONSENT:
            self._ask_consent()
            return
        item = self._items[row_key]
        if item.kind == "yes_no":
            self._listing.action_move(1)
            return
        self.ask(f"{item.label} {item.unit}:".replace(" :", ":"), lambda text: self._keep_text(item, text))

    def _keep_text(self, item: ClearanceItem, text: str) -> None:
        if item.kind == "number":
            if not text.strip():
                self._answers.pop(item.key, None)
                self._listing.action_move(1)
                return
            self._keep(item.key, parse_number(text, item.label))
        else:
            self._keep(item.key, text.strip())

    def _ask_consent(self) -> None:
        self.ask("consent given on (YYYY-MM-DD):", self._ask_consent_end, self.visit.date.isoformat())

    def _ask_consent_end(self, given: str) -> None:
        given_on = parse_day(given)
        end = usual_consent_end(given_on).isoformat()
        self.ask("valid until (YYYY-MM-DD):", lambda until: self._keep_consent(given_on, until), end)

    def _keep_consent(self, given_on: dt.date, until: str) -> None:
        app = self.fieldlog
        record_consent(
            app.workspace,
            self.athlete.id,
            given_on=given_on,
            valid_until=parse_day(until) if until.strip() else None,
            wording="as on file",
            by_guardian=self.athlete.minor,
            by=app.by,
            at=app.clock(),
        )
        self.refresh_room()
        self._listing.action_move(1)
        self.say("saved in the persons files: consent", "quiet")

    def _take_clearance(self) -> None:
        app = self.fieldlog
        kept, judgement = take_clearance(
            app.workspace, self.store, self.visit, self.athlete, self._answers, by=app.by, at=app.clock()
        )
        app.note_saved(f"clearance of {self.athlete.code}", (self.store, Clearance.table, kept.record.id))
        app.unfinished_answers.pop((self.visit.id, self.athlete.id), None)
        if kept.record.outcome == "go":
            self.app.pop_screen()
            return
        self.refresh_room()
        self.say(f"held: {', '.join(judgement.reasons) or 'held earlier today'}", "bad")

    def action_edit_questions(self) -> None:
        """Open the questions in their editor; this clearance is asked as it began."""
        from fieldlog.screens.question_editor import QuestionsRoom

        self.app.push_screen(QuestionsRoom())

    # deciding

    def action_decide(self) -> None:
        """Write down the decision of a named, qualified person."""
        clearance = self._clearance
        held = clearance is not None and clearance.outcome == "held"
        if not held and holding_stops(self.store, self.visit, self.athlete_id):
            ask_release(self, self.store, self.visit, self.athlete_id)
            return
        if clearance is None:
            self.say("take the clearance first")
            return
        self.ask("who decided (name):", self._ask_role)

    def _ask_role(self, name: str) -> None:
        decided_by = parse_words(name, "who decided")
        self.ask(f"qualification of {decided_by}:", lambda role: self._ask_outcome(decided_by, role))

    def _ask_outcome(self, name: str, role: str) -> None:
        qualification = parse_words(role, f"qualification of {name}")
        self.ask(
            "decision: go, held, or the limits in words:",
            lambda outcome: self._decide(name, qualification, outcome),
        )

    def _decide(self, name: str, role: str, outcome: str) -> None:
        app = self.fieldlog
        kept = at_site(self.store, Clearance).find(visit_id=self.visit.id, athlete_id=self.athlete.id)[0]
        word = outcome.strip().casefold()
        decided = decide_clearance(
            app.workspace,
            self.store,
            kept,
            "go" if word == "go" else "held" if word == "held" else "limits",
            decided_by=name,
            decided_role=role,
            by=app.by,
            at=app.clock(),
            limits="" if word in ("go", "held") else outcome,
        )
        app.note_saved("the decision", (self.store, Clearance.table, decided.record.id))
        self.refresh_room()
        self.say(f"saved: {decided.record.outcome}, decided by {name}")
