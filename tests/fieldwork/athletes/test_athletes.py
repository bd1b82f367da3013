"""Entering athletes by code, and finding them again."""

import pytest

from fieldlog.errors import InputError, NotFoundError
from fieldlog.fieldwork.athletes.athletes import add_athlete, athlete_named, squad_of, squads
from fieldlog.fieldwork.books import of_team
from fieldlog.records.athlete import Athlete


@pytest.mark.parametrize(
    ("code", "fields", "said"),
    [
        ("", {}, "athlete: code"),
        ("x" * 41, {}, "athlete: code"),
        ("R09", {"sex": "other"}, "athlete: sex"),
        ("R07", {}, "already used"),
    ],
)
def test_what_cannot_be_an_athlete_is_refused_by_field_and_nothing_is_entered(field, code, fields, said):
    before = of_team(field.workspace, Athlete).all()
    with pytest.raises(InputError, match=said):
        add_athlete(field.workspace, code, by="Ann", **fields)
    assert of_team(field.workspace, Athlete).all() == before


def test_an_athlete_is_found_by_code_and_by_id_and_in_the_squad(field):
    kept = add_athlete(field.workspace, " S01 ", by="Ann", squad="Juniors")
    assert athlete_named(field.workspace, "S01") == athlete_named(field.workspace, kept.record.id) == kept
    assert (squads(field.workspace), squad_of(field.workspace, "Juniors")) == (["Juniors"], [kept])
    with pytest.raises(NotFoundError, match="no athlete with code or id 'S02'"):
        athlete_named(field.workspace, "S02")
