"""Is it warm enough, and has it stayed so? What to say of rig and hall before a check begins."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from fieldlog.fieldwork.rig_checks.guided_check import warm_up_words
from fieldlog.records.rig_check import RigCheck
from fieldlog.records.visit import Arrival

__all__ = ["WARMED_C", "hall_words", "readiness_words"]

WARMED_C = 5.0
"""From this much on a hall has warmed or cooled since the last check (common practice)."""


def hall_words(earlier_c: float | None, now_c: float | None, *, since: str = "the last check") -> str:
    """Return a warning where the hall's temperature has changed by ``WARMED_C`` or more, else an empty text."""
    if earlier_c is None or now_c is None or abs(now_c - earlier_c) < WARMED_C:
        return ""
    word = "warmed" if now_c > earlier_c else "cooled"
    return (
        f"The hall has {word} from {earlier_c:.0f} to {now_c:.0f} °C since {since}; the zero may move, "
        "wait until it is steady."
    )


def readiness_words(
    arrival: Arrival | None, warm_up_minutes: float, checks: Sequence[RigCheck], now: dt.datetime
) -> list[str]:
    """Return the warnings before a check: rig on for too short, hall warmed since the day's last check.

    ``checks`` are those of the visit in order of time; the temperature now is the one on the arrival.
    """
    found = [warm_up_words(arrival.powered_on_at if arrival else None, warm_up_minutes, now)]
    measured = [
        check.entry.conditions.temperature_c
        for check in checks
        if check.entry.conditions and check.entry.conditions.temperature_c is not None
    ]
    if measured:
        found.append(hall_words(measured[-1], arrival.hall_temperature_c if arrival else None))
    return [words for words in found if words]
