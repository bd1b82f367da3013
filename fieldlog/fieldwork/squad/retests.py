"""Planned retests: who is due under which protocol, and who has been tested since."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from fieldlog.count_words import counted
from fieldlog.fieldwork import catalogue
from fieldlog.fieldwork.books import everywhere, of_team
from fieldlog.fieldwork.change.trial_book import TrialBook
from fieldlog.records.athlete import Athlete
from fieldlog.records.base import new_id
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.planned_retest import PlannedRetest
from fieldlog.store.repo import Kept
from fieldlog.store.workspace import Workspace

__all__ = ["EARLY_DAYS", "DueRetest", "call_off", "plan_retest", "retests_due"]

EARLY_DAYS = 7
"""A test so many days before a retest is due already counts for it (common practice)."""


@dataclass(frozen=True)
class DueRetest:
    """A planned retest as it stands on a day. ``who`` is a squad or an athlete's code."""

    kept: Kept[PlannedRetest]
    who: str
    protocol_name: str
    state: Literal["to come", "due", "overdue", "done"]
    days: int
    waiting: tuple[str, ...]
    tested: tuple[str, ...]

    @property
    def words(self) -> str:
        """How it stands, in a few words."""
        record = self.kept.record
        people = counted(len(self.waiting), "athlete")
        texts = {
            "to come": f"due from {record.due_from.isoformat()} ({people})",
            "due": f"due until {record.due_by.isoformat()} ({people})",
            "overdue": f"overdue by {counted(self.days, 'day')} ({people})",
            "done": "done",
        }
        return texts[self.state]


def plan_retest(workspace: Workspace, *, by: str, **fields: object) -> Kept[PlannedRetest]:
    """Plan a retest of a squad or an athlete under a protocol between two days.

    Raises NotFoundError for an unknown protocol, InputError naming the field that is wrong.
    """
    retest = PlannedRetest.from_body({"id": new_id(), **fields})
    catalogue.protocol(workspace, retest.protocol_id)
    return of_team(workspace, PlannedRetest).save(retest, by=by)


def call_off(workspace: Workspace, kept: Kept[PlannedRetest], *, by: str, why: str) -> Kept[PlannedRetest]:
    """Call a retest off; it stays on record."""
    changed = kept.record.model_copy(update={"called_off": True})
    return of_team(workspace, PlannedRetest).save(changed, by=by, why=why, seen=kept.revision)


def retests_due(workspace: Workspace, today: dt.date, *, upto: dt.date | None = None) -> list[DueRetest]:
    """Every planned retest as it stands today: overdue first, then due, then to come, then done.

    With ``upto`` no test after that day is seen.
    """
    planned = [kept for kept in of_team(workspace, PlannedRetest).all() if not kept.record.called_off]
    if not planned:
        return []
    athletes = {kept.record.id: kept.record for kept in of_team(workspace, Athlete).all()}
    trials = TrialBook(workspace)
    tested = _last_days(trials, upto or dt.date.max)
    found = [_standing(trials, kept, athletes, tested, today) for kept in planned]
    order = ("overdue", "due", "to come", "done")
    return sorted(
        found, key=lambda due: (order.index(due.state), due.kept.record.due_by, due.who, due.kept.record.id)
    )


def _standing(
    trials: TrialBook,
    kept: Kept[PlannedRetest],
    athletes: dict[str, Athlete],
    tested: dict[tuple[str, str], dt.date],
    today: dt.date,
) -> DueRetest:
    record = kept.record
    if record.athlete_id is not None:
        people = [athletes[record.athlete_id]] if record.athlete_id in athletes else []
        who = people[0].code if people else record.athlete_id
    else:
        people = [athlete for athlete in athletes.values() if athlete.squad == record.squad]
        who = record.squad
    counts_from = record.due_from - dt.timedelta(days=EARLY_DAYS)
    done = {
        athlete.code
        for athlete in people
        if tested.get((trials.person(athlete.id), record.protocol_id), dt.date.min) >= counts_from
    }
    waiting = {athlete.code for athlete in people} - done
    state: Literal["to come", "due", "overdue", "done"]
    if people and not waiting:
        state = "done"
    elif today > record.due_by:
        state = "overdue"
    else:
        state = "due" if today >= record.due_from else "to come"
    return DueRetest(
        kept=kept,
        who=who,
        protocol_name=trials.book.protocol(record.protocol_id).name,
        state=state,
        days=max((today - record.due_by).days, 0),
        waiting=tuple(sorted(waiting)),
        tested=tuple(sorted(done)),
    )


def _last_days(trials: TrialBook, upto: dt.date) -> dict[tuple[str, str], dt.date]:
    """Day of each person's latest counted set under each protocol."""
    latest: dict[tuple[str, str], dt.date] = {}
    for _, kept in everywhere(trials.workspace, EffortSet, standing="counted"):
        record, visit = kept.record, trials.visits.get(kept.record.visit_id)
        if visit is not None and visit.date <= upto and not record.without_clearance:
            key = (trials.person(record.athlete_id), record.protocol_id)
            latest[key] = max(visit.date, latest.get(key, visit.date))
    return latest
