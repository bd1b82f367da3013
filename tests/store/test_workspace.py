"""A workspace: what it holds, what it ignores, and how sites are found."""

import shutil

import pytest

from fieldlog.errors import InputError, NewerSchemaError, NotFoundError, RefusedError
from fieldlog.records.site import Site
from fieldlog.store.lines import Change
from fieldlog.store.workspace import Workspace, site_record
from tests.faults.failing_disk import ReadOnlyDisk


@pytest.fixture
def workspace(tmp_path):
    with Workspace.create(tmp_path / "w") as made:
        yield made


def place(identity, name="Boathouse"):
    return Site(id=identity, name=name, latitude_deg=60.0, height_m=2.0)


def test_a_new_workspace_has_a_team_and_no_site(workspace):
    assert sorted(path.name for path in workspace.path.iterdir()) == ["device.json", "team", "workspace.json"]
    assert workspace.team.kind == "team"
    assert list(workspace.sites) == []


def test_a_folder_with_something_in_it_is_not_made_a_workspace(tmp_path):
    (tmp_path / "note.txt").write_text("mine")
    with pytest.raises(InputError, match="not empty"):
        Workspace.create(tmp_path)
    with pytest.raises(InputError, match="is a file"):
        Workspace.create(tmp_path / "note.txt")
    assert [path.name for path in tmp_path.iterdir()] == ["note.txt"]


@pytest.mark.parametrize("name", ["", "nobody", "file"])
def test_what_is_no_workspace_says_how_to_make_one(tmp_path, name):
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError, match="no workspace") as caught:
        Workspace.open(tmp_path / name)
    assert "fieldlog new" in caught.value.hint


def test_a_workspace_of_a_newer_fieldlog_is_not_opened(workspace):
    (workspace.path / "workspace.json").write_text('{"format":2,"id":"x"}')
    with pytest.raises(NewerSchemaError):
        Workspace.open(workspace.path)


def test_a_site_has_a_folder_of_slug_and_short_id_and_its_name_in_the_record(workspace):
    store = workspace.add_site(place("0123456789abcdef", "Þing Völlur / [bold]"), by="ann")
    assert store.name == "ing-vollur-bold-012345"
    assert (store.id, store.kind) == ("0123456789abcdef", "site")
    assert site_record(store).name == "Þing Völlur / [bold]"
    with Workspace.open(workspace.path) as reopened:
        assert list(reopened.sites) == [store.name]
        assert site_record(reopened.sites[store.name]) == site_record(store)


def test_a_site_is_found_by_name_id_and_folder(workspace):
    store = workspace.add_site(place("aaaaaaaaaaaa"), by="ann")
    for name in ("Boathouse", " boatHOUSE", "aaaaaaaaaaaa", store.name):
        assert workspace.site_named(name) is store


def test_an_unknown_site_names_those_there_are(workspace):
    with pytest.raises(NotFoundError, match="no site Mill") as caught:
        workspace.site_named("Mill")
    assert "site add" in caught.value.hint
    workspace.add_site(place("aaaaaaaaaaaa"), by="ann")
    with pytest.raises(NotFoundError) as caught:
        workspace.site_named("Mill")
    assert "Boathouse (aaaaaaaaaaaa)" in caught.value.hint


def test_a_name_that_is_taken_is_refused(workspace):
    workspace.add_site(place("aaaaaaaaaaaa"), by="ann")
    with pytest.raises(RefusedError, match="already"):
        workspace.add_site(place("bbbbbbbbbbbb", "BOATHOUSE"), by="ann")


def test_two_sites_of_one_name_from_two_laptops_need_an_id(workspace):
    workspace.add_site(place("aaaaaaaaaaaa"), by="ann")
    other = workspace.adopt_site("bbbbbbbbbbbb", "Boathouse")
    other.commit([Change("site", "bbbbbbbbbbbb", place("bbbbbbbbbbbb").to_body())], by="bea")
    with pytest.raises(InputError, match="more than one") as caught:
        workspace.site_named("Boathouse")
    assert "aaaaaaaaaaaa" in caught.value.hint
    assert "bbbbbbbbbbbb" in caught.value.hint
    assert workspace.site_named("bbbbbbbbbbbb") is other


def test_adopting_a_site_that_is_here_gives_that_one(workspace):
    store = workspace.add_site(place("aaaaaaaaaaaa"), by="ann")
    assert workspace.adopt_site("aaaaaaaaaaaa", "other") is store
    assert len(workspace.sites) == 1


def test_a_folder_that_is_in_the_way_is_not_used(workspace):
    (workspace.path / "boathouse-aaaaaa").mkdir()
    assert workspace.adopt_site("aaaaaaaaaaaa", "Boathouse").name == "boathouse-aaaaaaaaaaaa"


def test_other_folders_and_files_are_ignored(workspace):
    (workspace.path / "out").mkdir()
    (workspace.path / "out" / "sheet.pdf").write_bytes(b"%PDF")
    (workspace.path / "notes.txt").write_text("mine")
    assert list(workspace.sites) == []
    assert [store.name for store in workspace.stores()] == ["team"]


def test_a_site_whose_store_file_is_damaged_does_not_stop_the_others(workspace):
    workspace.add_site(place("aaaaaaaaaaaa"), by="ann")
    broken = workspace.adopt_site("bbbbbbbbbbbb", "Mill")
    (broken.path / "store.json").write_text("{")
    with Workspace.open(workspace.path) as reopened:
        assert [store.id for store in reopened.sites.values()] == ["aaaaaaaaaaaa"]
        assert reopened.site_named("Boathouse").id == "aaaaaaaaaaaa"


def test_a_device_belongs_to_the_workspace_and_is_made_where_it_is_missing(tmp_path, workspace):
    copy = shutil.copytree(workspace.path, tmp_path / "copy")
    with Workspace.open(copy) as same:
        assert same.device == workspace.device
    (copy / "device.json").unlink()
    with Workspace.open(copy) as fresh:
        assert fresh.device != workspace.device
        with Workspace.open(copy) as once_more:
            assert once_more.device == fresh.device


def test_a_read_only_workspace_can_be_read(workspace):
    store = workspace.add_site(place("aaaaaaaaaaaa"), by="ann")
    (workspace.path / "device.json").unlink()
    with Workspace.open(workspace.path, disk=ReadOnlyDisk()) as reader:
        assert site_record(reader.sites[store.name]).name == "Boathouse"
        assert reader.persons.all() == []


def test_a_damaged_workspace_file_stops_nobody_in_the_field(workspace):
    (workspace.path / "workspace.json").write_text("{")
    with Workspace.open(workspace.path) as reopened:
        assert reopened.team.problems() == []
        assert reopened.fault


def test_refresh_takes_in_what_others_brought(workspace):
    store = workspace.add_site(place("aaaaaaaaaaaa"), by="ann")
    with Workspace.open(workspace.path) as other:
        other.sites[store.name].commit([Change("rig", "r1", {"v": 1})], by="bea")
    workspace.refresh()
    assert store.shown("rig", "r1").body == {"v": 1}
