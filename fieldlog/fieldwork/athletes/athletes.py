"""Athletes: entering them and finding them by code. Names stay in persons files."""

from __future__ import annotations

from pydantic import ValidationError

from fieldlog.errors import InputError, NotFoundError
from fieldlog.fieldwork.books import of_team
from fieldlog.records.athlete import Athlete
from fieldlog.records.base import first_fault, new_id
from fieldlog.store.repo import Kept
from fieldlog.store.workspace import Workspace

__all__ = ["add_athlete", "athlete_named", "athletes_with_code", "squad_of", "squads"]


def add_athlete(
    workspace: Workspace, code: str, *, by: str, squad: str = "", **fields: object
) -> Kept[Athlete]:
    """Enter an athlete under a random id, or under ``id`` where one was made before.

    Raises InputError where the team already uses the code on this laptop, or a field is no such thing.
    """
    code = code.strip()
    if athletes_with_code(workspace, code):
        raise InputError(f"code {code!r} is already used", "choose another code, or open that athlete")
    try:
        athlete = Athlete.model_validate({"id": new_id(), "code": code, "squad": squad, **fields})
    except ValidationError as error:
        raise InputError(f"athlete: {first_fault(error)}", "correct it; nothing was entered") from None
    return of_team(workspace, Athlete).save(athlete, by=by)


def athletes_with_code(workspace: Workspace, code: str) -> list[Kept[Athlete]]:
    """All athletes that carry ``code``; more than one where two laptops gave it while apart."""
    return of_team(workspace, Athlete).find(code=code)


def athlete_named(workspace: Workspace, code_or_id: str) -> Kept[Athlete]:
    """The one athlete with this code or id.

    Raises NotFoundError where there is none, or naming both ids where the code is given twice.
    """
    found = athletes_with_code(workspace, code_or_id)
    if len(found) == 1:
        return found[0]
    if len(found) > 1:
        ids = " and ".join(sorted(kept.record.id for kept in found))
        raise NotFoundError(f"code {code_or_id!r} is used by two athletes", f"name one of the ids {ids}")
    by_id = of_team(workspace, Athlete).get(code_or_id)
    if by_id is None:
        raise NotFoundError(f"no athlete with code or id {code_or_id!r}", "see the squad list for the codes")
    return by_id


def squads(workspace: Workspace) -> list[str]:
    """Names of all squads, in order."""
    return sorted({kept.record.squad for kept in of_team(workspace, Athlete).all() if kept.record.squad})


def squad_of(workspace: Workspace, squad: str) -> list[Kept[Athlete]]:
    """The athletes of a squad by code."""
    return sorted(of_team(workspace, Athlete).find(squad=squad), key=lambda kept: kept.record.code)
