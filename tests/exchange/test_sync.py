"""What a sync brings and fetches, says and leaves alone."""

from __future__ import annotations

import pytest

from fieldlog.errors import InputError, NotFoundError, StoreError
from fieldlog.exchange.depot import open_depot
from fieldlog.exchange.folder_depot import FolderDepot
from tests.exchange.laptops import NOTES, SITE_ID, zero_fill


def test_two_laptops_that_sync_one_after_the_other_hold_the_same(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.write(kestrel.site(), "a", {"reading_nm": 40})
    kestrel.write(kestrel.team, "b", {"code": "R7"})
    heron.write(heron.team, "c", {"code": "R8"})
    kestrel.sync(stick)
    report = heron.sync(stick).body()
    assert (report["sent"], report["received"]) == (1, 2)
    assert report["by_site"] == {"team": {"sent": 1, "received": 1}, "Boathouse": {"sent": 0, "received": 1}}
    kestrel.sync(stick)
    assert kestrel.revisions() == heron.revisions()
    assert kestrel.shown() == heron.shown()


def test_a_sync_writes_no_record_and_a_second_one_moves_nothing(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.site(), "a", {"reading_nm": 40})
    before = kestrel.revisions()
    kestrel.sync(stick)
    body = kestrel.sync(stick).body()
    assert kestrel.revisions() == before
    assert (body["sent"], body["received"], body["conflicts"], body["missing"], body["set_aside"]) == (
        0,
        0,
        [],
        [],
        [],
    )


def test_an_empty_sync_opens_no_store_and_hashes_nothing(laptop, stick, monkeypatch) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.write(kestrel.site(), "a", {"reading_nm": 40})
    kestrel.sync(stick)
    heron.sync(stick)
    heron.reopen()

    def forbidden(*_arguments, **_options):
        raise AssertionError("an empty sync did work that grows with what is there")

    monkeypatch.setattr("fieldlog.store.workspace.Store", forbidden)
    monkeypatch.setattr(FolderDepot, "hashes", forbidden)
    monkeypatch.setattr(FolderDepot, "get", forbidden)
    assert heron.sync(stick).body()["received"] == 0


def test_edits_of_the_same_record_are_reported_once_on_each_laptop_as_a_new_conflict(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.write(kestrel.site(), "a", {"reading_nm": 40})
    kestrel.sync(stick)
    heron.sync(stick)
    kestrel.write(kestrel.site(), "a", {"reading_nm": 41})
    heron.write(heron.site(), "a", {"reading_nm": 42})
    assert kestrel.sync(stick).conflicts == []
    (conflict,) = heron.sync(stick).conflicts
    assert (conflict["site"], conflict["table"], conflict["id"]) == ("Boathouse", NOTES, "a")
    assert {head["by"] for head in conflict["heads"]} == {"kestrel", "heron"}
    assert heron.sync(stick).conflicts == []
    assert len(kestrel.sync(stick).conflicts) == 1


def test_a_conflict_that_was_there_before_is_not_called_new(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.write(kestrel.site(), "a", {"reading_nm": 40})
    kestrel.sync(stick)
    heron.sync(stick)
    kestrel.write(kestrel.site(), "a", {"reading_nm": 41})
    heron.write(heron.site(), "a", {"reading_nm": 42})
    kestrel.sync(stick)
    assert len(heron.sync(stick).conflicts) == 1
    kestrel.write(kestrel.site(), "other", {"reading_nm": 1})
    kestrel.sync(stick)
    assert heron.sync(stick).conflicts == []


def test_the_same_edit_on_two_laptops_is_no_conflict(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.write(kestrel.site(), "a", {"reading_nm": 40})
    heron.write(heron.site(), "a", {"reading_nm": 40})
    kestrel.sync(stick)
    assert heron.sync(stick).conflicts == []


def test_a_settled_conflict_is_settled_everywhere(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.write(kestrel.site(), "a", {"reading_nm": 41})
    heron.write(heron.site(), "a", {"reading_nm": 42})
    kestrel.sync(stick)
    heron.sync(stick)
    heron.resolve(heron.site(), "a")
    heron.sync(stick)
    assert kestrel.sync(stick).conflicts == []
    assert kestrel.site().conflicts() == []
    assert kestrel.shown() == heron.shown()


def test_a_laptop_can_sync_some_sites_only(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.write(kestrel.site(), "a", {"n": 1})
    kestrel.write(kestrel.site("aaaa", "Old pool"), "b", {"n": 2})
    kestrel.sync(stick)
    body = heron.sync(stick, sites=["Old pool"]).body()
    assert set(body["by_site"]) == {"team", "Old pool"}
    assert [store.id for store in heron.workspace.sites.values()] == ["aaaa"]
    heron.sync(stick, sites=[SITE_ID])
    assert {store.id for store in heron.workspace.sites.values()} == {"aaaa", SITE_ID}


def test_an_unknown_site_is_said(laptop, stick) -> None:
    with pytest.raises(NotFoundError, match="there is no site Nowhere here or in"):
        laptop("kestrel").sync(stick, sites=["Nowhere"])


def test_a_site_gets_its_folder_name_from_its_record(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.site()
    kestrel.sync(stick)
    heron.sync(stick)
    assert [folder.rpartition("-")[0] for folder in heron.workspace.site_folders()] == ["boathouse"]


def test_a_file_that_has_not_arrived_is_named_with_its_laptop(laptop, stick, monkeypatch) -> None:
    monkeypatch.setenv("FIELDLOG_LAPTOP", "kestrel")
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.write(kestrel.site(), "a", {"n": 1})
    kestrel.sync(stick)
    (first,) = (stick / SITE_ID / "sealed").iterdir()
    kestrel.write(kestrel.site(), "a", {"n": 2})
    kestrel.sync(stick)
    first.unlink()
    (missing,) = heron.sync(stick).body()["missing"]
    assert missing["text"] == "one file of laptop kestrel has not arrived yet"
    assert missing["file"] == f"{SITE_ID}/sealed/{first.name}"
    assert len(heron.sync(stick).body()["missing"]) == 1
    kestrel.sync(stick)
    assert heron.sync(stick).body()["missing"] == []


def test_a_damaged_file_in_the_depot_is_set_aside_by_others_and_healed_by_who_has_it(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.write(kestrel.site(), "a", {"n": 1})
    kestrel.sync(stick)
    (file,) = (stick / SITE_ID / "sealed").iterdir()
    zero_fill(file)
    (aside,) = heron.sync(stick).body()["set_aside"]
    assert aside["file"] == f"{SITE_ID}/sealed/{file.name}"
    assert "does not match its name" in aside["text"]
    assert kestrel.sync(stick).body()["sent"] == 1
    body = heron.sync(stick).body()
    assert (body["received"], body["set_aside"]) == (1, [])


def test_damage_that_keeps_size_and_time_is_found_with_verify(laptop, stick) -> None:
    import os

    kestrel = laptop("kestrel")
    kestrel.write(kestrel.site(), "a", {"n": 1})
    kestrel.sync(stick)
    (file,) = (stick / SITE_ID / "sealed").iterdir()
    times = file.stat()
    zero_fill(file)
    os.utime(file, ns=(times.st_atime_ns, times.st_mtime_ns))
    assert kestrel.sync(stick).body()["sent"] == 0
    assert kestrel.sync(stick, verify=True).body()["sent"] == 1


def test_a_sealed_file_that_is_damaged_here_is_healed_from_the_depot(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.site(), "a", {"n": 1})
    kestrel.sync(stick)
    (own,) = (kestrel.site().path / "sealed").glob("*.jsonl")
    zero_fill(own)
    kestrel.reopen()
    kestrel.sync(stick, verify=True)
    assert kestrel.site().shown(NOTES, "a").body == {"n": 1}
    assert kestrel.site().problems() == []


def test_a_cloned_laptop_loses_nothing(laptop, tmp_path, stick) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.site(), "a", {"n": 1})
    kestrel.copy_to(tmp_path / "clone")
    clone = laptop("clone")
    kestrel.write(kestrel.site(), "of the first", {"n": 2})
    clone.write(clone.site(), "of the clone", {"n": 3})
    for one in (kestrel, clone, kestrel):
        report = one.sync(stick).body()
        assert report["set_aside"] == report["missing"] == []
    assert kestrel.shown() == clone.shown()


def test_a_restored_backup_gets_back_what_was_synced(laptop, tmp_path, stick) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.site(), "a", {"n": 1})
    kestrel.copy_to(tmp_path / "backup")
    kestrel.write(kestrel.site(), "a", {"n": 2})
    kestrel.sync(stick)
    kestrel.restore_from(tmp_path / "backup")
    kestrel.write(kestrel.site(), "b", {"n": 3})
    kestrel.sync(stick)
    assert kestrel.site().shown(NOTES, "a").body == {"n": 2}
    assert kestrel.site().conflicts() == []


def test_notes_that_are_lost_or_damaged_only_cost_time(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.site(), "a", {"n": 1})
    kestrel.sync(stick)
    for note in (kestrel.path / "exchange").glob("*.json"):
        if note.name != "key.json":
            note.write_bytes(b"\x00 no JSON")
    body = kestrel.sync(stick).body()
    assert (body["sent"], body["received"], body["set_aside"]) == (0, 0, [])


@pytest.mark.parametrize(
    "content", [b"[]", b"{}", b'{"format":1,"stores":{"team":3}}', b'{"format":1,"stores":{"team":{}}}']
)
def test_notes_of_any_shape_are_survived(laptop, stick, content) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.team, "a", {"n": 1})
    kestrel.sync(stick)
    for note in (kestrel.path / "exchange").glob("*.json"):
        if note.name != "key.json":
            note.write_bytes(content)
    assert kestrel.sync(stick).body()["sent"] == 0


def test_a_depot_must_not_be_a_workspace_nor_lie_in_one(laptop, tmp_path) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    with pytest.raises(InputError, match="is a workspace"):
        open_depot(str(heron.path), workspace=kestrel.path)
    with pytest.raises(InputError, match="lies inside the workspace"):
        open_depot(str(kestrel.path / "depot"), workspace=kestrel.path)


def test_a_depot_whose_parent_does_not_exist_is_refused(tmp_path) -> None:
    with pytest.raises(InputError, match="the folder it would lie in does not exist"):
        open_depot(str(tmp_path / "no" / "stick"))
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="is no folder"):
        open_depot(str(tmp_path / "file"))


def test_a_depot_that_cannot_be_written_is_said_in_one_error(laptop, stick, monkeypatch) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.team, "a", {"n": 1})

    def full(*_arguments):
        raise OSError(28, "No space left on device")

    depot = FolderDepot(stick)
    monkeypatch.setattr(depot._disk, "write_all", full)
    with pytest.raises(StoreError, match="No space left on device"):
        kestrel.sync(depot)
    assert kestrel.sync(stick).body()["sent"] == 1
