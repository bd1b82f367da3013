"""Persons' data lie apart, and erasing them leaves not a byte anywhere in the workspace."""

import pytest

from fieldlog.errors import InputError, RefusedError
from fieldlog.store.persons import Persons
from fieldlog.store.workspace import Workspace

NAME = "Zdenka Quillfeather"


@pytest.fixture
def workspace(tmp_path):
    with Workspace.create(tmp_path / "w") as made:
        yield made


@pytest.fixture
def persons(workspace):
    return workspace.persons


def holding(folder, text):
    return [path for path in folder.rglob("*") if path.is_file() and text.encode() in path.read_bytes()]


def test_data_are_found_by_athlete(persons):
    persons.put({"athlete_id": "a1", "name": NAME})
    persons.put({"athlete_id": "a2", "name": "Other"})
    assert persons.for_athlete("a1") == [{"athlete_id": "a1", "name": NAME}]
    assert len(persons.all()) == 2


def test_the_same_data_are_kept_once_and_names_cannot_be_guessed_from_data(persons):
    first = persons.put({"athlete_id": "a1", "name": NAME})
    assert persons.put({"athlete_id": "a1", "name": NAME}) == first
    assert persons.put({"athlete_id": "a2", "name": NAME}) != first
    (text,) = [path.read_text() for path in persons.folder.iterdir() if first in path.name]
    assert '"salt"' in text


def test_data_lie_in_persons_files_only(workspace, persons):
    name = persons.put({"athlete_id": "a1", "name": NAME})
    assert holding(workspace.path, NAME) == [workspace.path / "team" / "persons" / f"{name}.json"]


def test_erasing_leaves_no_byte_and_refuses_the_return(workspace, persons):
    name = persons.put({"athlete_id": "a1", "name": NAME})
    data = (persons.folder / f"{name}.json").read_bytes()
    kept = persons.put({"athlete_id": "a2", "name": "Other"})
    leftover = persons.folder / f".{name}.json.12ab.part"
    leftover.write_bytes(data[:-4])
    assert persons.erase("a1", by="ann") == [name]
    assert holding(workspace.path, NAME) == []
    assert persons.for_athlete("a1") == []
    assert persons.names() == [f"{kept}.json"]
    with pytest.raises(RefusedError, match="may not come back"):
        persons.put({"athlete_id": "a1", "name": NAME})
    assert persons.receive(f"{name}.json", data) is False
    assert holding(workspace.path, NAME) == []
    assert persons.erase("a1", by="ann") == []


def test_an_erasure_travels_and_does_the_same_elsewhere(tmp_path, workspace, persons):
    with Workspace.create(tmp_path / "w2") as other:
        name = other.persons.put({"athlete_id": "a1", "name": NAME})
        for path in other.persons.folder.iterdir():
            persons.receive(path.name, path.read_bytes())
        older = other.persons.put({"athlete_id": "a1", "name": NAME, "contact": "earlier"})
        assert name != older
        persons.erase("a1", by="ann")
        sealed = workspace.team.seal()
        other.team.receive(sealed.name, sealed.read_bytes())
        assert other.persons.apply_erasures() == 2
        assert holding(other.path, NAME) == []
    with Workspace.open(tmp_path / "w2") as reopened:
        assert reopened.persons.erased("a1")


def test_an_erasure_that_was_cut_off_is_finished_on_opening(workspace, persons):
    persons.put({"athlete_id": "a1", "name": NAME})
    (path,) = persons.folder.iterdir()
    data = path.read_bytes()
    persons.erase("a1", by="ann")
    path.write_bytes(data)
    with Workspace.open(workspace.path) as reopened:
        assert reopened.persons.for_athlete("a1") == []
    assert holding(workspace.path, NAME) == []


def test_a_damaged_file_that_still_speaks_of_the_person_goes_too(workspace, persons):
    persons.put({"athlete_id": "a1", "name": NAME})
    (path,) = persons.folder.iterdir()
    path.write_bytes(path.read_bytes()[:-2])
    persons.erase("a1", by="ann")
    assert holding(workspace.path, NAME) == []


def test_undoing_an_erasure_does_not_bring_the_right_to_return(workspace, persons):
    persons.put({"athlete_id": "a1", "name": NAME})
    persons.erase("a1", by="ann")
    workspace.team.undo("erasure", "a1", by="bea")
    with pytest.raises(RefusedError):
        persons.put({"athlete_id": "a1", "name": NAME})


def test_an_erasure_names_no_person(workspace, persons):
    persons.put({"athlete_id": "a1", "name": NAME})
    persons.erase("a1", by="ann")
    (revision,) = [one for one in workspace.team.revisions() if one.table == "erasure"]
    assert set(revision.body) == {"schema_version", "id", "files"}


@pytest.mark.parametrize(
    "body", [{}, {"athlete_id": ""}, {"athlete_id": 7}, {"athlete_id": "a", "x": float("nan")}]
)
def test_data_without_an_athlete_or_with_what_json_cannot_say_are_refused(persons, body):
    with pytest.raises(InputError):
        persons.put(body)
    assert not persons.folder.exists() or list(persons.folder.iterdir()) == []


def test_files_from_elsewhere_must_match_their_names(persons):
    for name, data in {
        "0" * 64 + ".json": b"{}",
        "../store.json": b'{"athlete_id":"a"}',
        "": b"",
    }.items():
        with pytest.raises(InputError):
            persons.receive(name, data)


def test_one_old_version_can_be_dropped(persons):
    name = persons.put({"athlete_id": "a1", "name": "Old"})
    persons.put({"athlete_id": "a1", "name": "New"})
    persons.drop(name)
    assert [body["name"] for body in persons.for_athlete("a1")] == ["New"]
    with pytest.raises(InputError):
        persons.drop("../store")


def test_persons_need_no_files_to_be_asked(workspace):
    assert Persons(workspace.team).all() == []
