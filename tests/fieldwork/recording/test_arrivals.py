"""Which files of a folder are complete, told from two looks at it."""

import datetime as dt
import os

import pytest

from fieldlog.errors import InputError
from fieldlog.fieldwork.recording.arrivals import (
    FileLook,
    FolderLook,
    complete_files,
    first_look,
    is_being_written,
    is_recording_name,
    keep_watched_folder,
    look_at,
    still_open,
    watched_folder,
)
from fieldlog.fieldwork.visit.visits import ensure_visit
from fieldlog.records.site import Site
from fieldlog.store.workspace import Workspace


def look(at_s, missing="", **sizes):
    files = {f"{name}.csv": FileLook(size, size, at_s) for name, size in sizes.items()}
    return FolderLook(at_s, files, missing, ever_seen=not missing)


def told(*looks):
    """What each look after the first tells of."""
    before, names = first_look(looks[0]), []
    for now in looks[1:]:
        before, complete = complete_files(before, now)
        names.append([name.removesuffix(".csv") for name in complete])
    return names


def test_a_file_that_stays_as_it_is_is_complete_and_told_once():
    assert told(look(0), look(1, a=10), look(1.1, a=10), look(1.3, a=10), look(2, a=10)) == [
        [],
        [],
        ["a"],
        [],
    ]


def test_what_lay_there_at_the_first_look_is_not_told_of_until_it_changes():
    assert told(look(0, a=10), look(5, a=10)) == [[]]
    assert told(look(0, a=10), look(5, a=12), look(6, a=12)) == [[], ["a"]]


def test_a_file_that_grows_is_waited_for_longer_than_it_paused():
    growing = [look(0), look(1, a=1), look(3, a=2), look(4, a=2), look(5.9, a=2), look(6.1, a=2)]
    assert told(*growing) == [[], [], [], [], ["a"]]


def test_an_empty_file_is_not_complete():
    assert told(look(0), look(1, a=0), look(9, a=0)) == [[], []]


def test_files_are_told_of_in_the_order_they_were_written():
    assert told(look(0), look(1, late=20, early=10), look(2, late=20, early=10)) == [[], ["early", "late"]]


def test_a_folder_that_was_away_tells_of_what_is_new_and_not_of_what_was_there():
    away = look(1, "gone")
    assert told(look(0, a=1), away, look(2, a=1, b=2), look(3, a=1, b=2)) == [[], [], ["b"]]
    assert told(look(0), away, look(2, b=2), look(3, b=2)) == [[], [], ["b"]]


def test_what_lies_in_a_folder_never_seen_before_lay_there_before():
    assert told(look(0, "gone"), look(2, b=2), look(3, b=2)) == [[], []]


def test_a_file_somebody_still_has_open_is_asked_about_again():
    before, complete = complete_files(complete_files(first_look(look(0)), look(1, a=9))[0], look(2, a=9))
    assert complete == ("a.csv",)
    before = still_open(before, complete)
    assert complete_files(before, look(2.1, a=9))[1] == ()
    assert complete_files(before, look(3, a=9))[1] == ("a.csv",)


@pytest.mark.parametrize(
    ("name", "may_be"),
    [
        ("set.csv", True),
        ("SET.TXT", True),
        ("set.dat", True),
        ("set.json", False),
        ("set.csv.part", False),
        ("set.part.csv", False),
        ("set.tmp.txt", False),
        (".set.csv", False),
        ("~$set.csv", False),
        ("~set.csv", False),
    ],
)
def test_temporary_names_are_no_recordings(name, may_be):
    assert is_recording_name(name) is may_be


def test_a_look_at_a_real_folder_holds_its_recordings_only(tmp_path):
    (tmp_path / "a.csv").write_bytes(b"123")
    (tmp_path / "b.json").write_bytes(b"{}")
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "broken.csv").symlink_to(tmp_path / "nowhere")
    seen = look_at(tmp_path, 7.0)
    assert {name: file.size_bytes for name, file in seen.files.items()} == {"a.csv": 3}
    assert look_at(tmp_path / "gone", 7.0).missing


def test_a_file_open_for_writing_is_being_written_where_the_system_tells(tmp_path):
    path = tmp_path / "a.csv"
    with path.open("wb") as file:
        file.write(b"1")
        file.flush()
        if not is_being_written(path):
            pytest.skip("this system does not tell who has a file open")
    assert not is_being_written(path)
    assert not is_being_written(tmp_path / "gone.csv")


def test_the_folder_is_kept_for_a_visit_on_this_laptop(tmp_path):
    (tmp_path / "stick").mkdir()
    with Workspace.create(tmp_path / "workspace") as workspace:
        store = workspace.add_site(Site(id="site01", name="Hall", latitude_deg=60.0, height_m=0.0), by="t")
        days = [ensure_visit(store, dt.date(2031, 5, day), "t").record for day in (4, 5)]
        assert watched_folder(workspace, store, days[0]) is None
        kept = keep_watched_folder(workspace, store, days[0], f" {tmp_path / 'stick'}{os.sep} ")
        assert kept == watched_folder(workspace, store, days[0]) == tmp_path / "stick"
        assert watched_folder(workspace, store, days[1]) is None
        with pytest.raises(InputError, match="no such folder"):
            keep_watched_folder(workspace, store, days[0], str(tmp_path / "nowhere"))
        assert watched_folder(workspace, store, days[0]) == tmp_path / "stick"
        assert keep_watched_folder(workspace, store, days[0], "") is None
        assert watched_folder(workspace, store, days[0]) is None
