"""Published values as a plausibility check: they point at a slip and grade nobody."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import orjson

from fieldlog.fieldwork.catalogue import read_shipped
from fieldlog.fieldwork.change.trials import Score
from fieldlog.records.athlete import Athlete

__all__ = ["WIDENED", "implausible_text"]

WIDENED = 1.5
"""Published ranges are widened by this factor at either end (common practice)."""


def implausible_text(score: Score, athlete: Athlete | None) -> str:
    """Say that a score lies far outside published values, with their source; an empty text otherwise.

    Nothing is said of minors, for whom the values were not found.
    """
    if athlete is None or athlete.minor:
        return ""
    for known in _shipped():
        if not _about(known, score, athlete):
            continue
        low, high = known["low"], known["high"]
        if not low / WIDENED <= score.value <= high * WIDENED:
            return (
                f"far from published {low:g} to {high:g} {score.measure.unit} ({known['source']}): look for a slip "
                "of entry, unit, weight or setup"
            )
    return ""


def _about(known: dict[str, Any], score: Score, athlete: Athlete) -> bool:
    protocol, line = score.trial.protocol, score.line
    wanted = {
        "region": protocol.region,
        "measure": score.measure.key,
        "direction": protocol.direction_name(line.direction),
        "ratio": protocol.ratio_name,
        "speed_deg_s": line.speed_deg_s,
        "sex": athlete.sex,
    }
    return line.mode == "concentric" and all(
        known[key] == value for key, value in wanted.items() if key in known
    )


@lru_cache(maxsize=1)
def _shipped() -> tuple[dict[str, Any], ...]:
    return tuple(orjson.loads(read_shipped("plausible_ranges.json"))["ranges"])
