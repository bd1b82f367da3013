"""Persons files and recordings on their way: what travels, what stays, what is erased everywhere."""

from __future__ import annotations

import hashlib

import pytest

from fieldlog.errors import NotFoundError, StoreError
from fieldlog.exchange.folder_depot import FolderDepot
from fieldlog.exchange.laptops import admit
from fieldlog.exchange.trace_sync import fetch_trace
from fieldlog.store.audit import audit
from tests.exchange.laptops import zero_fill

RECORDING = b"time_s,angle_deg,torque_nm\n0,0,0\n0.01,0,1\n"


def test_persons_files_travel_with_the_team(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.workspace.persons.put({"athlete_id": "a1", "name": "Invented Name"})
    kestrel.sync(stick)
    heron.sync(stick)
    assert [body["name"] for body in heron.workspace.persons.for_athlete("a1")] == ["Invented Name"]
    body = heron.sync(stick).body()
    assert (body["sent"], body["received"]) == (0, 0)


def test_an_erasure_deletes_on_every_laptop_and_in_the_depot_whatever_the_order(
    laptop, stick, tmp_path
) -> None:
    kestrel, heron, owl = laptop("kestrel"), laptop("heron"), laptop("owl")
    kestrel.workspace.persons.put({"athlete_id": "a1", "name": "Invented Name"})
    for one in (kestrel, heron, owl):
        one.sync(stick)
    heron.sync(tmp_path / "old stick")
    kestrel.workspace.persons.erase("a1", by="kestrel")
    kestrel.sync(stick)
    assert not list((stick / "team" / "persons").iterdir())
    owl.sync(tmp_path / "old stick")
    owl.sync(stick)
    heron.sync(stick)
    for one in (kestrel, heron, owl):
        one.sync(tmp_path / "old stick")
        one.sync(stick)
        assert one.workspace.persons.for_athlete("a1") == []
        assert not [path for path in (one.path / "team" / "persons").iterdir() if path.suffix == ".json"]
    for depot in (stick, tmp_path / "old stick"):
        assert not list((depot / "team" / "persons").iterdir())
    assert b"Invented Name" not in b"".join(p.read_bytes() for p in tmp_path.rglob("*") if p.is_file())


def test_a_persons_file_that_is_none_is_set_aside(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    folder = stick / "team" / "persons"
    folder.mkdir(parents=True)
    for data in (b"[]", b'{"name":"x"}', b"\xff"):
        (folder / (hashlib.sha256(data).hexdigest() + ".json")).write_bytes(data)
    (folder / ("0" * 64 + ".json")).write_bytes(b'{"athlete_id":"a1"}')
    report = kestrel.sync(stick).body()
    assert [entry["text"] for entry in report["set_aside"]] == ["it is no undamaged persons file"] * 4
    assert kestrel.workspace.persons.all() == []
    assert len(kestrel.sync(stick).body()["set_aside"]) == 4


def test_a_persons_file_of_a_stranger_is_set_aside_once_the_team_has_admitted(laptop, stick) -> None:
    lead, stranger = laptop("lead"), laptop("stranger")
    admit(lead.workspace, ["this"], by="lead")
    lead.sync(stick)
    stranger.sync(stick)
    stranger.workspace.persons.put({"athlete_id": "a1", "name": "x"})
    stranger.sync(stick)
    (entry,) = lead.sync(stick).body()["set_aside"]
    assert "is not admitted" in entry["text"]
    assert lead.workspace.persons.all() == []


def test_a_damaged_persons_file_in_the_depot_is_healed(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.workspace.persons.put({"athlete_id": "a1", "name": "x"})
    kestrel.sync(stick)
    (path,) = (stick / "team" / "persons").iterdir()
    zero_fill(path)
    heron.sync(stick)
    kestrel.sync(stick)
    heron.sync(stick)
    assert len(heron.workspace.persons.for_athlete("a1")) == 1


def test_recordings_are_brought_and_stay_in_the_depot_until_asked_for(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    trace = kestrel.site().traces.put(RECORDING)
    kestrel.write(kestrel.site(), "a", {"trace": trace})
    assert kestrel.sync(stick).body()["sent"] == 2
    heron.sync(stick)
    assert not heron.site().traces.has(trace)
    outcome = audit(heron.workspace)
    assert outcome["ok"], outcome["problems"]
    assert any("left in a depot" in note for note in outcome["notes"])
    assert heron.sync(stick, with_traces=True).body()["received"] == 1
    assert heron.site().traces.get(trace) == RECORDING
    body = heron.sync(stick, with_traces=True).body()
    assert (body["sent"], body["received"]) == (0, 0)


def test_one_recording_is_fetched_on_demand(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    trace = kestrel.site().traces.put(RECORDING)
    kestrel.write(kestrel.site(), "a", {"trace": trace})
    kestrel.sync(stick)
    heron.sync(stick)
    assert fetch_trace(heron.site(), FolderDepot(stick), trace) == RECORDING
    with pytest.raises(NotFoundError, match="is not in"):
        fetch_trace(heron.site(), FolderDepot(stick), "0" * 64)


def test_a_recording_that_has_not_arrived_is_missing_until_it_has(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    trace = hashlib.sha256(RECORDING).hexdigest()
    kestrel.write(kestrel.site(), "a", {"trace": trace})
    kestrel.sync(stick)
    (missing,) = heron.sync(stick).body()["missing"]
    assert trace in missing["file"]
    kestrel.site().traces.put(RECORDING)
    kestrel.sync(stick)
    assert heron.sync(stick).body()["missing"] == []
    assert heron.sync(stick, with_traces=True).body()["received"] == 1


def test_a_damaged_recording_in_the_depot_is_set_aside_and_healed(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    trace = kestrel.site().traces.put(RECORDING)
    kestrel.write(kestrel.site(), "a", {"trace": trace})
    kestrel.sync(stick)
    (path,) = stick.glob("*/traces/*")
    zero_fill(path)
    (entry,) = heron.sync(stick, with_traces=True).body()["set_aside"]
    assert entry["text"] == "it is not the recording its name says"
    with pytest.raises(StoreError, match="not the recording its name says"):
        fetch_trace(heron.site(), FolderDepot(stick), trace)
    assert kestrel.sync(stick, with_traces=True).body()["sent"] == 1
    assert heron.sync(stick, with_traces=True).body()["received"] == 1


def test_a_recording_packed_by_another_zlib_is_the_same_recording(laptop, stick) -> None:
    import gzip

    kestrel = laptop("kestrel")
    trace = kestrel.site().traces.put(RECORDING)
    kestrel.write(kestrel.site(), "a", {"trace": trace})
    kestrel.sync(stick)
    (path,) = stick.glob("*/traces/*")
    other = bytearray(gzip.compress(RECORDING, compresslevel=1, mtime=0))
    other[8:10] = bytes([0, 255])  # the flags every laptop writes
    path.write_bytes(bytes(other))
    assert kestrel.sync(stick, with_traces=True).body()["sent"] == 0


def test_a_lost_recording_comes_back_from_the_depot(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    trace = kestrel.site().traces.put(RECORDING)
    kestrel.write(kestrel.site(), "a", {"trace": trace})
    kestrel.sync(stick)
    kestrel.site().traces.path(trace).unlink()
    kestrel.sync(stick, with_traces=True, verify=True)
    assert kestrel.site().traces.get(trace) == RECORDING


def test_what_somebody_else_entered_on_an_erased_person_is_deleted_too(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.workspace.persons.put({"athlete_id": "a1", "name": "x"})
    kestrel.workspace.persons.erase("a1", by="kestrel")
    heron.workspace.persons.put({"athlete_id": "a1", "name": "y"})
    heron.sync(stick)
    assert len(list((stick / "team" / "persons").iterdir())) == 1
    body = kestrel.sync(stick).body()
    assert kestrel.workspace.persons.all() == []
    assert body["set_aside"] == []
    assert not list((stick / "team" / "persons").iterdir())
    heron.sync(stick)
    assert heron.workspace.persons.all() == []


def test_a_recording_made_after_the_first_sync_is_waited_for_as_well(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.site()
    kestrel.sync(stick)
    heron.sync(stick)
    trace = kestrel.site().traces.put(RECORDING)
    kestrel.write(kestrel.site(), "a", {"trace": trace})
    kestrel.sync(stick)
    heron.sync(stick)
    assert audit(heron.workspace)["ok"]
    heron.sync(stick, with_traces=True)
    assert heron.site().traces.get(trace) == RECORDING
