"""Records go in validated and come out validated; nobody overwrites what they did not see."""

from typing import Any, ClassVar

import pytest

from fieldlog.errors import ConflictError, InputError, NewerSchemaError
from fieldlog.records.base import Home, Record
from fieldlog.store.lines import Change
from fieldlog.store.repo import Repo


class Lever(Record):
    table: ClassVar[str] = "lever"
    home: ClassVar[Home] = "site"
    schema_latest: ClassVar[int] = 2

    schema_version: int = 2
    arm_m: float
    label: str = ""

    @classmethod
    def upgrade(cls, body: dict[str, Any]) -> dict[str, Any]:
        return {
            **super().upgrade({k: v for k, v in body.items() if k != "arm_cm"}),
            "arm_m": body["arm_cm"] / 100,
        }


@pytest.fixture
def levers(store):
    return Repo(store, Lever)


def test_a_saved_record_is_found_by_id_and_by_field(levers):
    kept = levers.save(Lever(id="a", arm_m=0.3, label="long"), by="ann")
    levers.save(Lever(id="b", arm_m=0.2, label="short"), by="ann")
    assert levers.get("a") == kept
    assert [found.record.id for found in levers.find(label="short")] == ["b"]
    assert [found.record.id for found in levers.find(label="short", arm_m=0.2)] == ["b"]
    assert levers.find(label="short", arm_m=0.3) == []
    assert [found.record.id for found in levers.all()] == ["a", "b"]
    assert levers.get("nobody") is None


def test_saving_the_same_body_again_adds_nothing(store, levers):
    first = levers.save(Lever(id="a", arm_m=0.3), by="ann")
    assert levers.save(Lever(id="a", arm_m=0.3), by="bea") == first
    assert levers.save(Lever(id="a", arm_m=0.3), by="bea", seen=first.revision) == first
    assert len(store.revisions()) == 1


def test_saving_over_what_was_not_seen_is_refused(levers):
    levers.save(Lever(id="a", arm_m=0.3), by="ann")
    with pytest.raises(ConflictError, match="there already"):
        levers.save(Lever(id="a", arm_m=0.4), by="bea")
    assert levers.get("a").record.arm_m == 0.3


def test_two_saves_after_the_same_revision_are_both_kept(store, levers):
    first = levers.save(Lever(id="a", arm_m=0.3), by="ann")
    levers.save(Lever(id="a", arm_m=0.4), by="ann", seen=first.revision)
    levers.save(Lever(id="a", arm_m=0.5), by="bea", seen=first.revision, why="own tape")
    (conflict,) = store.conflicts()
    assert sorted(head.body["arm_m"] for head in conflict.heads) == [0.4, 0.5]


def test_a_deleted_record_is_gone_and_may_be_made_again(store, levers):
    first = levers.save(Lever(id="a", arm_m=0.3), by="ann")
    gone = levers.delete("a", by="ann", seen=first.revision)
    assert levers.get("a") is None
    assert levers.all() == []
    assert levers.delete("a", by="ann", seen=first.revision) == gone
    again = levers.save(Lever(id="a", arm_m=0.3), by="ann")
    assert again.revision.parents == (gone.id,)
    assert len(levers.history("a")) == 3
    assert store.conflicts() == []


def test_several_records_are_saved_in_one_commit(store, levers):
    with store.writing():
        changes = [levers.change(Lever(id=name, arm_m=0.3)) for name in "ab"]
        store.commit([change for change in changes if change], by="ann")
    assert levers.change(Lever(id="a", arm_m=0.3)) is None
    assert len(levers.all()) == 2


def test_an_older_schema_is_read_up_in_memory_and_never_rewritten(store, levers):
    store.commit([Change("lever", "old", {"schema_version": 1, "id": "old", "arm_cm": 31})], by="ann")
    kept = levers.get("old")
    assert kept.record == Lever(id="old", arm_m=0.31)
    assert kept.revision.body == {"schema_version": 1, "id": "old", "arm_cm": 31}


def test_a_newer_schema_is_kept_listed_and_not_overwritten(store, levers):
    body = {"schema_version": 3, "id": "new", "arm_m": 0.3, "colour": "red"}
    store.commit([Change("lever", "new", body)], by="ann")
    with pytest.raises(NewerSchemaError, match="newer fieldlog"):
        levers.get("new")
    assert levers.all() == levers.find(arm_m=0.3) == []
    ((revision, error),) = levers.unreadable()
    assert isinstance(error, NewerSchemaError)
    with pytest.raises(NewerSchemaError):
        levers.save(Lever(id="new", arm_m=0.4), by="ann", seen=revision)
    assert store.shown("lever", "new").body == body


@pytest.mark.parametrize(
    "extra", [{"arm_m": "long"}, {"colour": 1}, {"schema_version": "two"}, {"arm_m": None}]
)
def test_a_body_that_is_no_such_record_is_listed_and_stops_nobody(store, levers, extra):
    store.commit([Change("lever", "bad", {"schema_version": 2, "id": "bad", "arm_m": 0.3, **extra})], by="x")
    levers.save(Lever(id="good", arm_m=0.3), by="ann")
    assert [kept.record.id for kept in levers.all()] == ["good"]
    with pytest.raises(InputError, match="lever bad"):
        levers.get("bad")
    assert len(levers.unreadable()) == 1


def test_a_body_under_another_id_than_its_own_is_no_such_record(store, levers):
    store.commit([Change("lever", "a", {"schema_version": 2, "id": "b", "arm_m": 0.3})], by="x")
    with pytest.raises(InputError, match="lies under"):
        levers.get("a")
