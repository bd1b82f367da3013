"""What is written down in the rig log: sign-offs, and what happened to the rig."""

from __future__ import annotations

import datetime as dt
from abc import abstractmethod

from fieldlog.errors import InputError
from fieldlog.fieldwork.rig_life.rig_log import RigLog
from fieldlog.records.review import Review
from fieldlog.records.rig import EVENT_WORDS, RigEvent
from fieldlog.records.rig_check import RigCheck
from fieldlog.screens.abstract_room import AbstractRoom
from fieldlog.screens.words import moment_words

__all__ = ["RigEntriesRoom"]


class RigEntriesRoom(AbstractRoom):
    """A room about one rig. ``life`` is its log once it was read; the room says which ``check`` is meant."""

    def __init__(self) -> None:
        super().__init__()
        self.life: RigLog | None = None

    @property
    @abstractmethod
    def check(self) -> RigCheck | None:
        """The check that is meant."""

    def action_sign_off(self) -> None:
        """Sign the check under the cursor off: name, then remark."""
        check = self.check
        if check is None:
            self.say("no check to sign off")
            return
        self.say("")
        took_it = self.fieldlog.by.casefold() == check.by.casefold()
        self.ask(
            f"{check.stage} check of {moment_words(check.at.date(), self.fieldlog.today)} signed off by:",
            lambda name: self._ask_remark(check, name),
            "" if took_it else self.fieldlog.by,
        )

    def _ask_remark(self, check: RigCheck, name: str) -> None:
        self.ask("remark:", lambda remark: self._sign_off(check, name, remark))

    def _sign_off(self, check: RigCheck, name: str, remark: str) -> None:
        from fieldlog.fieldwork.results.decisions import sign_off, store_of_check

        app = self.fieldlog
        kept = sign_off(app.workspace, check, by=name, at=app.clock(), remark=remark)
        store = store_of_check(app.workspace, check)
        app.note_saved("sign-off", (store, Review.table, kept.record.id))
        self.refresh_room()
        self.say(f"signed off by {name}; u takes it back", "accent")

    def action_rig_event(self) -> None:
        """Write down what happened to the rig: what, where, when, note."""
        if self.life is None:
            return
        self.say(f"{', '.join(EVENT_WORDS.values())}; the first letters are enough", "quiet")
        self.ask("what happened to the rig:", self._ask_where)

    def _ask_where(self, text: str) -> None:
        from fieldlog.fieldwork.books import site_of
        from fieldlog.fieldwork.rig_life.rigs import event_kind

        kind = event_kind(text)
        names = [site_of(store).name for store in self.fieldlog.workspace.sites.values()]
        last = self.life.checks[-1] if self.life and self.life.checks else None
        first = self.life.sites.get(last.id, "") if self.life and last else (names[0] if names else "")
        self.ask(f"{EVENT_WORDS[kind]}, at which site:", lambda site: self._ask_when(kind, site), first)

    def _ask_when(self, kind: str, site: str) -> None:
        store = self.fieldlog.workspace.site_named(site)
        now = self.fieldlog.clock()
        self.ask(
            "when (day and time):",
            lambda when: self._ask_note(kind, store.name, when),
            f"{now:%Y-%m-%d %H:%M}",
        )

    def _ask_note(self, kind: str, folder: str, when: str) -> None:
        at = _moment(when, self.fieldlog.clock())
        self.ask("note, or empty:", lambda note: self._keep_event(kind, folder, at, note))

    def _keep_event(self, kind: str, folder: str, at: dt.datetime, note: str) -> None:
        from fieldlog.fieldwork.rig_life.rigs import add_event, event_kind

        app = self.fieldlog
        assert self.life is not None
        store = app.workspace.sites[folder]
        words = EVENT_WORDS[kind]
        kept = add_event(store, self.life.rig, event_kind(words), at=at, by=app.by, note=note)
        app.note_saved(f"rig {words}", (store, RigEvent.table, kept.record.id))
        self.refresh_room()
        self.say(f"saved: rig {words}; results after it wait for a check", "accent")


def _moment(text: str, now: dt.datetime) -> dt.datetime:
    """Read day and time at the place of the clock. Raises InputError where it is none or lies ahead."""
    try:
        typed = dt.datetime.fromisoformat(text.strip())
    except ValueError:
        raise InputError(
            f"{text.strip()[:30]!r} is no day and time", "write it as 2031-05-04 09:30"
        ) from None
    at = typed if typed.utcoffset() is not None else typed.replace(tzinfo=now.tzinfo)
    if at > now + dt.timedelta(minutes=1):
        raise InputError(f"{text.strip()[:30]} lies ahead", "write down what has happened")
    return at
