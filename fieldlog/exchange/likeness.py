"""The same athlete entered on two laptops: found by likeness, joined by a record, nothing rewritten."""

from __future__ import annotations

import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import combinations
from typing import Any

from fieldlog.errors import InputError, NotFoundError
from fieldlog.records.athlete import Athlete
from fieldlog.records.kinship import Kinship, kinship_id
from fieldlog.store.repo import Kept, Repo
from fieldlog.store.site_names import plain_name
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["Likeness", "decide_kinship", "likenesses", "same_person"]

NAME_ALIKE = 0.87
"""Share of letters in common from which two names count as spelt otherwise (own trials, no source)."""


@dataclass(frozen=True, slots=True)
class Likeness:
    """Two athletes that may be one person, and what speaks for it."""

    first: Athlete
    second: Athlete
    reasons: tuple[str, ...]


def likenesses(workspace: Workspace) -> list[Likeness]:
    """Return the pairs of athletes that look like one person and of whom nobody has decided yet.

    Alike are two with the same code, or with names that differ in spelling at most and birth dates
    that do not contradict. Two different birth dates, or two different sexes, say that they are two.
    Names and birth dates are in persons files; where there are none on this laptop the code decides.
    """
    athletes = {kept.record.id: kept.record for kept in Repo(workspace.team, Athlete).all()}
    decided = {kept.record.athletes for kept in Repo(workspace.team, Kinship).all()}
    persons = _persons(workspace)
    found = []
    for one, other in sorted(_pairs(athletes, persons) - decided):
        reasons = _reasons(athletes[one], athletes[other], persons.get(one, {}), persons.get(other, {}))
        if reasons:
            found.append(Likeness(athletes[one], athletes[other], reasons))
    return found


def decide_kinship(
    workspace: Workspace, one: str, other: str, *, same: bool, by: str, why: str = ""
) -> Kept[Kinship]:
    """Record that two athletes (ids) are one person, or are not.

    Raises NotFoundError for an unknown athlete, InputError for one named twice.
    """
    repo = Repo(workspace.team, Athlete)
    for athlete_id in (one, other):
        if repo.get(athlete_id) is None:
            raise NotFoundError(
                f"no athlete has the id {athlete_id[:64]!r}", "'fieldlog conflicts' lists the ids"
            )
    if one == other:
        raise InputError("an athlete is joined with another one, not with themselves", "name two ids")
    first, second = sorted((one, other))
    record = Kinship(id=kinship_id(one, other), athletes=(first, second), same=same)
    seen = workspace.team.shown(Kinship.table, record.id)
    return Repo(workspace.team, Kinship).save(record, by=by, why=why, seen=seen)


def same_person(team: Store, athlete_id: str) -> list[str]:
    """Return all ids under which this athlete was entered, the smallest first; the id alone where it is one."""
    joined: defaultdict[str, set[str]] = defaultdict(set)
    for kept in Repo(team, Kinship).all():
        if kept.record.same:
            first, second = kept.record.athletes
            joined[first].add(second)
            joined[second].add(first)
    found, waiting = {athlete_id}, [athlete_id]
    while waiting:
        for other in joined[waiting.pop()] - found:
            found.add(other)
            waiting.append(other)
    return sorted(found)


def _persons(workspace: Workspace) -> dict[str, dict[str, str]]:
    """Return name and birth date by athlete, as far as they are on this laptop."""
    found: defaultdict[str, dict[str, str]] = defaultdict(dict)
    for body in workspace.persons.all():
        for field in ("name", "birth_date"):
            if isinstance(body.get(field), str) and body[field].strip():
                found[body["athlete_id"]][field] = body[field]
    return dict(found)


def _pairs(athletes: Mapping[str, Athlete], persons: Mapping[str, Mapping[str, str]]) -> set[tuple[str, str]]:
    """Return the pairs worth a closer look, without comparing everybody with everybody by name."""
    groups: defaultdict[tuple[str, str], set[str]] = defaultdict(set)
    for athlete_id, athlete in athletes.items():
        groups["code", plain_name(athlete.code)].add(athlete_id)
        person = persons.get(athlete_id, {})
        if "birth_date" in person:
            groups["born", person["birth_date"]].add(athlete_id)
        for word in _words(person.get("name", "")):
            groups["name", word].add(athlete_id)
    return {pair for group in groups.values() for pair in combinations(sorted(group), 2)}


def _reasons(
    one: Athlete, other: Athlete, first: Mapping[str, Any], second: Mapping[str, Any]
) -> tuple[str, ...]:
    born = [person.get("birth_date") for person in (first, second)]
    if all(born) and born[0] != born[1]:
        return ()
    if one.sex and other.sex and one.sex != other.sex:
        return ()
    reasons = []
    if plain_name(one.code) == plain_name(other.code):
        reasons.append(f"both have the code {one.code}")
    names = [_words(person.get("name", "")) for person in (first, second)]
    if all(names) and _names_alike(*names):
        reasons.append("same name" if names[0] == names[1] else "names that differ in spelling")
        if all(born):
            reasons.append("same birth date")
    return tuple(reasons)


def _names_alike(one: Iterable[str], other: Iterable[str]) -> bool:
    return SequenceMatcher(None, " ".join(one), " ".join(other)).ratio() >= NAME_ALIKE


def _words(name: str) -> list[str]:
    plain = unicodedata.normalize("NFKD", plain_name(name))
    letters = "".join(c if c.isalnum() else " " for c in plain if not unicodedata.combining(c))
    return sorted(letters.split())
