"""The tolerance sets fieldlog ships, and the choice between them and a check's own numbers."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import resources

import orjson

from fieldlog.errors import InputError
from fieldlog.records.check_entry import CheckEntry
from fieldlog.records.tolerance import Tolerances, ToleranceSet

__all__ = ["shipped_tolerance_sets", "tolerance_set_of"]


def shipped_tolerance_sets() -> dict[str, ToleranceSet]:
    """Return the sets of the catalogue by name."""
    text = resources.files("fieldlog.catalogue").joinpath("tolerances.json").read_bytes()
    sets = [ToleranceSet.model_validate(body) for body in orjson.loads(text)["tolerance_sets"]]
    return {tolerance_set.name: tolerance_set for tolerance_set in sets}


def tolerance_set_of(entry: CheckEntry, team_sets: Mapping[str, ToleranceSet] | None = None) -> ToleranceSet:
    """Return the set a check is to be judged by: its own numbers, the team's set, or a shipped one.

    Raises InputError for a name that is neither the team's nor shipped.
    """
    if isinstance(entry.tolerance, Tolerances):
        return ToleranceSet(name="of this check", source="the check file", limits=entry.tolerance)
    known = shipped_tolerance_sets() | dict(team_sets or {})
    if entry.tolerance not in known:
        raise InputError(
            f"tolerance: no set is called {entry.tolerance!r}", f"use one of {', '.join(sorted(known))}"
        )
    return known[entry.tolerance]
