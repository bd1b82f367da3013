"""Writing down that a test was stopped, and who lets the athlete start again, in two short questions each."""

from __future__ import annotations

from fieldlog.fieldwork.clearance.clearance_rules import STOP_REASONS
from fieldlog.fieldwork.clearance.stops import log_stop, release_stop, stops_today
from fieldlog.fieldwork.entry import parse_number
from fieldlog.records.stop_entry import StopEntry
from fieldlog.records.visit import Visit
from fieldlog.screens.room import Room
from fieldlog.store.store import Store

__all__ = ["ask_release", "ask_stop", "holding_stops"]


def ask_stop(room: Room, store: Store, visit: Visit, athlete_id: str) -> None:
    """Ask for the reason and the pain, keep the stop, and say what follows. A stop is never undone by a key."""
    reasons = "  ".join(f"{place} {reason}" for place, reason in enumerate(STOP_REASONS, start=1))

    def take_reason(answer: str) -> None:
        place = int(answer) if answer.strip().isdecimal() else 0
        if not 1 <= place <= len(STOP_REASONS):
            room.say(f"type 1 to {len(STOP_REASONS)}", "warn")
            return
        room.ask("pain now, 0 none to 10 the worst:", lambda pain: keep(place - 1, pain))

    def keep(place: int, pain: str) -> None:
        app = room.fieldlog
        _, advice = log_stop(
            app.workspace,
            store,
            visit,
            athlete_id=athlete_id,
            reason=STOP_REASONS[place],
            by=app.by,
            at=app.clock(),
            pain=parse_number(pain, "pain") if pain.strip() else None,
        )
        room.refresh_room()
        room.say(f"saved. {advice.text}", "bad")

    room.ask(f"stopped; why? {reasons}:", take_reason)


def holding_stops(store: Store, visit: Visit, athlete_id: str) -> list[StopEntry]:
    """The stops of today that still keep the athlete from starting again."""
    return [stop for stop in stops_today(store, visit, athlete_id) if stop.holds]


def ask_release(room: Room, store: Store, visit: Visit, athlete_id: str) -> None:
    """Ask who lets the athlete start again after a stop. A decision is never undone by a key; another stop holds again."""

    def take_name(name: str) -> None:
        room.ask(f"qualification of {name.strip()}:", lambda role: keep(name, role))

    def keep(name: str, role: str) -> None:
        app = room.fieldlog
        for stop in holding_stops(store, visit, athlete_id):
            release_stop(store, stop, released_by=name, released_role=role, by=app.by, at=app.clock())
        room.refresh_room()
        room.say(f"saved: {name.strip()} ({role.strip()}) lets the athlete start again today", "accent")

    stops = ", ".join(f"{stop.at:%H:%M}" for stop in holding_stops(store, visit, athlete_id))
    room.ask(f"stopped at {stops}; who lets the athlete start again (name):", take_name)
