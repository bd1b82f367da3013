"""What every record keeps to: ids, instants, schemas, and that nothing unknown slips in."""

import datetime as dt
from typing import ClassVar

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from fieldlog.errors import InputError, NewerSchemaError
from fieldlog.records.base import Home, Instant, Part, Record, derived_id, first_fault, new_id
from fieldlog.records.site import Site


class Moment(Part):
    at: Instant


def test_a_random_id_is_short_hexadecimal_and_comes_from_the_given_source():
    assert new_id(lambda count: bytes(range(count))) == "000102030405060708090a0b"
    assert new_id() != new_id()


def test_a_derived_id_is_the_same_everywhere_and_knows_where_its_parts_end():
    assert derived_id("site", "2031-05-04") == derived_id("site", "2031-05-04")
    assert derived_id("ab", "c") != derived_id("a", "bc")
    assert len(derived_id("a")) == len(new_id())
    assert derived_id("\ud800")


@pytest.mark.parametrize("identity", ["", "../x", ".hidden", "a/b", "a b", "x" * 65, "a\n", "é", 7])
def test_an_id_has_safe_characters_only(identity):
    with pytest.raises(ValidationError):
        Site(id=identity, name="A", latitude_deg=0, height_m=0)


@given(st.datetimes(timezones=st.timezones() | st.just(dt.UTC)))
def test_an_instant_comes_back_as_it_was_written_with_its_offset(moment):
    fixed = moment.replace(tzinfo=dt.timezone(moment.utcoffset()))
    text = Moment(at=fixed).model_dump(mode="json")["at"]
    assert text == fixed.isoformat()
    assert Moment(at=text).at == fixed
    assert Moment(at=text).at.utcoffset() == fixed.utcoffset()


@pytest.mark.parametrize(
    "value", ["2031-05-04T09:30:00", "2031-05-04", "yesterday", "", 1_900_000_000, 1.5, None, True]
)
def test_a_time_without_offset_or_that_is_none_is_refused(value):
    with pytest.raises(ValidationError):
        Moment(at=value)


def test_the_first_fault_names_the_field_as_a_path():
    class Inner(Part):
        mass_kg: float

    class Outer(Part):
        torque: list[Inner]

    with pytest.raises(ValidationError) as caught:
        Outer.model_validate({"torque": [{"mass_kg": 1}, {"mass_kg": "heavy"}]})
    assert first_fault(caught.value).startswith("torque[1].mass_kg: ")


@pytest.mark.parametrize(
    "extra", [{"colour": "red"}, {"height_m": float("nan")}, {"name": ""}, {"latitude_deg": 91}]
)
def test_a_body_that_does_not_fit_names_record_and_field(extra):
    body = {"id": "s1", "name": "A", "latitude_deg": 0, "height_m": 0, **extra}
    with pytest.raises(InputError, match=f"site s1: {next(iter(extra))}"):
        Site.from_body(body)


def test_a_record_survives_its_body():
    site = Site(id="s1", name="A", latitude_deg=-33.9, height_m=0.5)
    assert Site.from_body(site.to_body()) == site


def test_a_newer_schema_is_named_as_such():
    with pytest.raises(NewerSchemaError, match="reads up to 1"):
        Site.from_body({"schema_version": 2, "id": "s1", "name": "A", "colour": "red"})


def test_a_record_must_write_its_latest_schema():
    with pytest.raises(TypeError, match="schema_latest"):

        class Late(Record):
            table: ClassVar[str] = "late"
            home: ClassVar[Home] = "site"
            schema_latest: ClassVar[int] = 2


def test_records_are_frozen():
    site = Site(id="s1", name="A", latitude_deg=0, height_m=0)
    with pytest.raises(ValidationError):
        site.name = "B"
