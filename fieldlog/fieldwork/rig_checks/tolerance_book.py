"""The tolerance sets in force: the shipped ones, and the team's own in their place, each change a new version."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import ValidationError

from fieldlog.errors import InputError, RefusedError
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.entry import parse_number
from fieldlog.fieldwork.rig_checks.tolerance_sets import shipped_tolerance_sets
from fieldlog.records.base import first_fault
from fieldlog.records.tolerance import TeamToleranceSet, Tolerances, ToleranceSet, tolerance_set_id
from fieldlog.store.repo import Kept
from fieldlog.store.workspace import Workspace

__all__ = [
    "LIMIT_WORDS",
    "older_versions",
    "read_limits",
    "save_tolerance_set",
    "team_tolerance_sets",
    "tolerance_sets",
]

LIMIT_WORDS: dict[str, tuple[str, str]] = {
    "torque_pct": ("torque, share of the reference", "%"),
    "torque_floor_nm": ("torque, at least", "N·m"),
    "zero_nm": ("change of the zero", "N·m"),
    "hysteresis_pct": ("hysteresis", "%"),
    "angle_deg": ("angle", "°"),
    "speed_pct": ("speed, share of the reference", "%"),
    "speed_floor_deg_s": ("speed, at least", "°/s"),
}
"""Every limit of a set in words, with its unit, in the order it is asked for."""


def tolerance_sets(workspace: Workspace) -> dict[str, ToleranceSet]:
    """Every set a check may name: the shipped ones with the team's own in place of those of the same name."""
    return shipped_tolerance_sets() | team_tolerance_sets(workspace)


def team_tolerance_sets(workspace: Workspace) -> dict[str, ToleranceSet]:
    """The sets the team edited or added, by name."""
    sets = [kept.record.tolerance_set for kept in of_team(workspace, TeamToleranceSet).all()]
    return {tolerance_set.name: tolerance_set for tolerance_set in sets}


def save_tolerance_set(
    workspace: Workspace, name: str, limits: Tolerances, *, by: str, why: str, source: str = ""
) -> Kept[TeamToleranceSet]:
    """Keep a set as the next version of the one of this name; unchanged limits add nothing.

    Checks judged before keep the numbers they were judged by. Raises RefusedError where no reason is given
    for a change, InputError for a name or a source that cannot be.
    """
    name = " ".join(name.split())
    before = tolerance_sets(workspace).get(name)
    repo = of_team(workspace, TeamToleranceSet)
    own = repo.get(tolerance_set_id(name))
    if own is not None and own.record.tolerance_set.limits == limits:
        return own
    if not why.strip():
        raise RefusedError(f"no reason given for new limits of {name!r}", "say why the team holds to them")
    try:
        record = TeamToleranceSet(
            id=tolerance_set_id(name),
            tolerance_set=ToleranceSet(
                name=name,
                version=before.version + 1 if before else 1,
                source=source.strip() or f"the team's own, {why.strip()}"[:200],
                limits=limits,
            ),
        )
    except ValidationError as error:
        raise InputError(f"tolerance set: {first_fault(error)}", "correct it and save again") from None
    return repo.save(record, by=by, why=why.strip(), seen=own.revision if own else None)


def older_versions(workspace: Workspace, name: str) -> list[tuple[ToleranceSet, str, str]]:
    """Every version of a set the team made, oldest first, with who made it and why."""
    found = []
    for revision in workspace.team.history(TeamToleranceSet.table, tolerance_set_id(name)):
        if revision.body is not None:
            record = TeamToleranceSet.from_body(revision.body)
            found.append((record.tolerance_set, revision.by, revision.why))
    return found


def read_limits(typed: Mapping[str, str]) -> Tolerances:
    """Return limits from what was typed, by field. Raises InputError naming the one that cannot be."""
    values = {name: parse_number(typed[name], LIMIT_WORDS[name][0]) for name in LIMIT_WORDS}
    if values["torque_pct"] == 0.0 and values["torque_floor_nm"] == 0.0:
        raise InputError(
            "torque: a tolerance of nothing lets no check pass", "give a share or a floor above 0"
        )
    try:
        return Tolerances(**values)
    except ValidationError as error:
        fault = error.errors(include_url=False, include_context=False, include_input=False)[0]
        words, unit = LIMIT_WORDS[str(fault["loc"][0])]
        raise InputError(f"{words} ({unit}): {fault['msg']}", "correct this number") from None
