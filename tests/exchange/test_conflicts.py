"""Conflicts side by side, and settling them by choice."""

from __future__ import annotations

import pytest

from fieldlog.errors import InputError, NewerSchemaError, NotFoundError, RefusedError
from fieldlog.exchange.conflicts import combine, open_conflicts, take
from fieldlog.records.rig import Rig
from fieldlog.store.lines import Change
from fieldlog.store.repo import Repo
from tests.exchange.laptops import NOTES


def fork(laptop, *bodies, base=None, table=NOTES):
    """Make a document with one head for each body, all after the same revision (or after none)."""
    store = laptop.team
    parents = ()
    if base is not None:
        parents = (store.commit([Change(table, "a", base)], by="first")[0].id,)
    return [
        store.commit([Change(table, "a", body, parents)], by=f"writer {number}", why=f"reason {number}")[0]
        for number, body in enumerate(bodies)
    ]


def test_heads_are_shown_with_who_when_why_and_where_they_differ(laptop) -> None:
    kestrel = laptop("kestrel")
    one, other = fork(kestrel, {"n": 1, "note": "x"}, {"n": 2, "note": "x"}, base={"n": 0, "note": "x"})
    (conflict,) = open_conflicts(kestrel.workspace)
    body = conflict.body()
    assert {head["by"] for head in body["heads"]} == {"writer 0", "writer 1"}
    assert {head["why"] for head in body["heads"]} == {"reason 0", "reason 1"}
    (field,) = body["fields"]
    assert field["field"] == "n"
    assert field["values"] == {one.id: 1, other.id: 2}
    assert set(field["changed_by"]) == {one.id, other.id}
    assert not body["combinable"]


def test_the_heads_and_fields_inside_fields_are_found(laptop) -> None:
    kestrel = laptop("kestrel")
    fork(kestrel, {"m": {"up": 1, "down": 5}}, {"m": {"up": 2, "down": 5}}, base={"m": {"up": 0, "down": 5}})
    (conflict,) = open_conflicts(kestrel.workspace)
    assert [difference.field for difference in conflict.differences] == ["m.up"]


def test_taking_a_head_settles_it_for_all_heads(laptop) -> None:
    kestrel = laptop("kestrel")
    heads = fork(kestrel, {"n": 1}, {"n": 2}, {"n": 3})
    settled = take(kestrel.workspace, heads[1].id[:12], by="Ana", why="read again")
    assert settled.body == {"n": 2}
    assert set(settled.parents) == {head.id for head in heads}
    assert (settled.by, settled.why) == ("Ana", "read again")
    assert open_conflicts(kestrel.workspace) == []
    assert len(kestrel.team.history(NOTES, "a")) == 4


def test_a_deletion_can_be_taken_or_overruled(laptop) -> None:
    kestrel = laptop("kestrel")
    edit, deletion = fork(kestrel, {"n": 1}, None, base={"n": 0})
    (conflict,) = open_conflicts(kestrel.workspace)
    assert not conflict.combinable
    with pytest.raises(RefusedError, match="deletion"):
        combine(kestrel.workspace, "a", by="Ana")
    with pytest.raises(RefusedError, match="a deletion has no fields"):
        take(kestrel.workspace, deletion.id, by="Ana", fields={"n": edit.id})
    with pytest.raises(RefusedError, match="a deletion has no fields to take"):
        take(kestrel.workspace, edit.id, by="Ana", fields={"n": deletion.id})
    take(kestrel.workspace, deletion.id, by="Ana")
    assert kestrel.team.shown(NOTES, "a").deleted


def test_different_fields_are_combined_when_asked(laptop) -> None:
    kestrel = laptop("kestrel")
    base = {"n": 0, "note": "", "kept": True, "dropped": 1}
    fork(
        kestrel,
        {"n": 1, "note": "", "kept": True, "dropped": 1},
        {"n": 0, "note": "cold hall", "kept": True, "added": 2},
        base=base,
    )
    (conflict,) = open_conflicts(kestrel.workspace)
    assert conflict.combinable
    settled = combine(kestrel.workspace, "a", by="Ana")
    assert settled.body == {"n": 1, "note": "cold hall", "kept": True, "added": 2}
    assert open_conflicts(kestrel.workspace) == []


def test_measurements_are_one_field_and_never_mixed(laptop) -> None:
    kestrel = laptop("kestrel")
    fork(
        kestrel,
        {"measures": {"up": 1, "down": 0}},
        {"measures": {"up": 0, "down": 1}},
        base={"measures": {"up": 0, "down": 0}},
    )
    with pytest.raises(RefusedError, match="more than one head changed measures"):
        combine(kestrel.workspace, "a", by="Ana")


def test_records_that_never_had_a_common_revision_are_not_combined(laptop) -> None:
    kestrel = laptop("kestrel")
    fork(kestrel, {"n": 1, "note": ""}, {"n": 1, "note": "x"})
    with pytest.raises(RefusedError, match="more than one head changed note"):
        combine(kestrel.workspace, "a", by="Ana")


def test_single_fields_can_be_taken_from_other_heads(laptop) -> None:
    kestrel = laptop("kestrel")
    one, other = fork(kestrel, {"n": 1, "note": "one"}, {"n": 2, "note": "other"}, base={"n": 0, "note": ""})
    settled = take(kestrel.workspace, one.id, by="Ana", fields={"note": other.id[:10]})
    assert settled.body == {"n": 1, "note": "other"}


def test_what_is_chosen_must_be_a_valid_record(laptop) -> None:
    kestrel = laptop("kestrel")
    valid = Rig(id="a", name="Rig A").to_body()
    one, other = fork(kestrel, {**valid, "serial": "7"}, {**valid, "name": 5}, base=valid, table="rigs")
    with pytest.raises(InputError, match="name"):
        take(kestrel.workspace, one.id, by="Ana", fields={"name": other.id})
    assert len(open_conflicts(kestrel.workspace)) == 1
    take(kestrel.workspace, one.id, by="Ana")
    assert Repo(kestrel.team, Rig).get("a").record.serial == "7"


def test_a_record_of_a_newer_schema_can_be_taken_as_it_is_and_not_mixed(laptop) -> None:
    kestrel = laptop("kestrel")
    newer = {"schema_version": 99, "id": "a", "name": "x", "shape": 1}
    one, other = fork(kestrel, newer, {**newer, "name": "y", "shape": 2}, table="rigs")
    with pytest.raises(NewerSchemaError):
        take(kestrel.workspace, one.id, by="Ana", fields={"shape": other.id})
    take(kestrel.workspace, other.id, by="Ana")
    assert kestrel.team.shown("rigs", "a").body["shape"] == 2


def test_a_revision_that_is_no_head_or_not_clear_is_refused(laptop) -> None:
    kestrel = laptop("kestrel")
    fork(kestrel, {"n": 1}, {"n": 2})
    for text in ("ffffffffffff", "zz", "", "abc"):
        with pytest.raises(NotFoundError, match="no conflict has a head"):
            take(kestrel.workspace, text, by="Ana")
    with pytest.raises(NotFoundError, match="has no conflict"):
        combine(kestrel.workspace, "other", by="Ana")
    one, other = open_conflicts(kestrel.workspace)[0].heads
    with pytest.raises(InputError, match="no field"):
        take(kestrel.workspace, one.id, by="Ana", fields={"x": other.id})


def test_a_choice_travels_and_two_different_choices_are_a_new_conflict(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    heads = fork(kestrel, {"n": 1}, {"n": 2})
    kestrel.sync(stick)
    heron.sync(stick)
    take(kestrel.workspace, heads[0].id, by="kestrel")
    take(heron.workspace, heads[1].id, by="heron")
    kestrel.sync(stick)
    assert len(heron.sync(stick).conflicts) == 1
    (conflict,) = open_conflicts(heron.workspace)
    take(heron.workspace, conflict.heads[0].id, by="heron")
    heron.sync(stick)
    kestrel.sync(stick)
    assert open_conflicts(kestrel.workspace) == []
    assert kestrel.shown() == heron.shown()
