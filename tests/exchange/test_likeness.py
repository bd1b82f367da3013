"""One athlete entered on two laptops: found by likeness, joined by a record."""

from __future__ import annotations

import pytest

from fieldlog.errors import InputError, NotFoundError
from fieldlog.exchange.likeness import decide_kinship, likenesses, same_person
from fieldlog.records.athlete import Athlete
from fieldlog.store.repo import Repo


def enter(laptop, athlete_id: str, code: str, *, name="", born="", sex=None) -> None:
    Repo(laptop.team, Athlete).save(Athlete(id=athlete_id, code=code, sex=sex), by=laptop.name)
    if name or born:
        laptop.workspace.persons.put(
            {"athlete_id": athlete_id, "kind": "person", "name": name, "birth_date": born}
        )


def pairs(laptop) -> list[tuple[str, str]]:
    return [(pair.first.id, pair.second.id) for pair in likenesses(laptop.workspace)]


def test_the_same_code_given_on_two_laptops_is_found_after_the_sync(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    enter(kestrel, "a1", "R7")
    enter(heron, "a2", "r7 ")
    kestrel.sync(stick)
    heron.sync(stick)
    (pair,) = likenesses(heron.workspace)
    assert {pair.first.id, pair.second.id} == {"a1", "a2"}
    assert pair.reasons[0].startswith("both have the code")


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        ({"name": "Anna Lindqvist"}, {"name": "Anna Lindqvist"}, True),
        ({"name": "Lindqvist, Anna"}, {"name": "anna lindqvist"}, True),
        ({"name": "Anna Lindqvist"}, {"name": "Ana Lindqvist"}, True),
        ({"name": "Zoë Müller", "born": "2004-05-06"}, {"name": "Zoe Muller", "born": "2004-05-06"}, True),
        (
            {"name": "Anna Lindqvist", "born": "2004-05-06"},
            {"name": "Anna Lindqvist", "born": "2006-05-06"},
            False,
        ),
        ({"name": "Anna Lindqvist"}, {"name": "Berit Lindqvist"}, False),
        ({"name": "Anna Lindqvist", "sex": "female"}, {"name": "Anna Lindqvist", "sex": "male"}, False),
        ({"born": "2004-05-06"}, {"born": "2004-05-06"}, False),
        ({}, {}, False),
    ],
)
def test_names_and_birth_dates_speak_for_or_against(laptop, one, other, alike) -> None:
    kestrel = laptop("kestrel")
    enter(kestrel, "a1", "X1", **one)
    enter(kestrel, "a2", "X2", **other)
    assert bool(pairs(kestrel)) is alike


def test_joined_athletes_are_one_person_everywhere_and_nothing_is_rewritten(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    for number in (1, 2, 3, 4):
        enter(kestrel, f"a{number}", "R7" if number < 4 else "R8")
    before = {r.id for r in kestrel.team.revisions()}
    decide_kinship(kestrel.workspace, "a2", "a1", same=True, by="Ana", why="asked")
    decide_kinship(kestrel.workspace, "a2", "a3", same=True, by="Ana")
    assert before < {r.id for r in kestrel.team.revisions()}
    kestrel.sync(stick)
    heron.sync(stick)
    assert same_person(heron.team, "a3") == ["a1", "a2", "a3"]
    assert same_person(heron.team, "a4") == ["a4"]


def test_two_who_were_found_to_be_two_are_not_asked_about_again(laptop) -> None:
    kestrel = laptop("kestrel")
    enter(kestrel, "a1", "R7")
    enter(kestrel, "a2", "R7")
    decide_kinship(kestrel.workspace, "a1", "a2", same=False, by="Ana")
    assert pairs(kestrel) == []
    assert same_person(kestrel.team, "a1") == ["a1"]
    decide_kinship(kestrel.workspace, "a2", "a1", same=True, by="Ana", why="on second thoughts")
    assert same_person(kestrel.team, "a1") == ["a1", "a2"]


def test_joining_needs_two_athletes_who_exist(laptop) -> None:
    kestrel = laptop("kestrel")
    enter(kestrel, "a1", "R7")
    with pytest.raises(NotFoundError, match="no athlete has the id 'a2'"):
        decide_kinship(kestrel.workspace, "a1", "a2", same=True, by="Ana")
    with pytest.raises(InputError, match="with another one"):
        decide_kinship(kestrel.workspace, "a1", "a1", same=True, by="Ana")
