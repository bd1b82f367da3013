"""Nothing from a depot is believed before it was checked, and nothing outside the store is touched."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import orjson
import pytest

from fieldlog.errors import InputError, NotFoundError, StoreError
from fieldlog.exchange.depot import DepotFile, is_store_id
from fieldlog.exchange.folder_depot import FolderDepot
from fieldlog.exchange.laptops import admit, admitted_keys, known_laptops
from fieldlog.exchange.signatures import LaptopKey, read_signature
from fieldlog.store.lines import FORMAT, Change, Header, frame, write_commit
from tests.exchange.laptops import NOTES, SITE_ID
from tests.faults.failing_disk import HastyDisk

HOSTILE_DEVICE = "ffffffffffffffffffffffff"


def sealed(changes, *, store="team", device=HOSTILE_DEVICE, layout=FORMAT, previous=()) -> tuple[str, bytes]:
    """Return name and content of a sealed file as anybody could write it."""
    data = Header(layout, store, device, tuple(previous), 1).line()
    for table, document, raw in changes:
        data += write_commit([(table, document, (), raw)], clock=1, device=device, by="x", why="")[0]
    return hashlib.sha256(data).hexdigest() + ".jsonl", data


def plant(stick: Path, name: str, data: bytes, store: str = "team") -> Path:
    path = stick / store / "sealed" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return path


def everything_under(folder: Path) -> set[Path]:
    return set(folder.rglob("*"))


def aside(report) -> list[str]:
    return [entry["text"] for entry in report.body()["set_aside"]]


def test_a_content_that_does_not_match_its_name_is_set_aside(laptop, stick) -> None:
    name, data = sealed([(NOTES, "a", b'{"n":1}')])
    plant(stick, name, data + b"more")
    (text,) = aside(laptop("kestrel").sync(stick))
    assert text == "its content does not match its name"


@pytest.mark.parametrize(
    ("changes", "options", "why"),
    [
        ([(NOTES, "a", b'{"n":1}')], {"store": "elsewhere"}, "it belongs to the store elsewhere"),
        ([("rigs", "r", b'{"schema_version":1,"id":"r","name":""}')], {}, "rigs r: name"),
        ([("rigs", "r", b'{"schema_version":1,"id":"other","name":"x"}')], {}, "its id is another one"),
        (
            [("rigs", "r", b'{"schema_version":1,"id":"r","name":"x","warm_up_minutes":"soon"}')],
            {},
            "warm_up_minutes",
        ),
        ([("athletes", "a", b'{"schema_version":1,"id":"a","code":"R7","weight":1}')], {}, "weight"),
        ([("", "a", b"{}")], {}, "is empty or longer"),
        ([(NOTES, "x" * 300, b"{}")], {}, "is empty or longer"),
    ],
)
def test_a_file_with_a_record_that_is_none_is_set_aside(laptop, stick, changes, options, why) -> None:
    plant(stick, *sealed(changes, **options))
    kestrel = laptop("kestrel")
    (text,) = aside(kestrel.sync(stick))
    assert why in text
    assert kestrel.team.revisions() == []


def test_records_of_a_newer_schema_are_kept_and_passed_on(laptop, stick, tmp_path) -> None:
    body = b'{"schema_version":99,"id":"r","shape":"nobody knows yet"}'
    plant(stick, *sealed([("rigs", "r", body), ("tables_of_tomorrow", "x", b'{"y":1}')]))
    kestrel = laptop("kestrel")
    report = kestrel.sync(stick).body()
    assert (report["received"], report["set_aside"]) == (1, [])
    kestrel.sync(tmp_path / "another stick")
    heron = laptop("heron")
    heron.sync(tmp_path / "another stick")
    assert heron.team.shown("rigs", "r").raw == body


def test_files_of_a_newer_layout_are_kept_and_passed_on(laptop, stick, tmp_path) -> None:
    name, data = sealed([(NOTES, "a", b'{"n":1}')], layout=FORMAT + 1)
    plant(stick, name, data)
    kestrel = laptop("kestrel")
    assert kestrel.sync(stick).body()["received"] == 1
    kestrel.sync(tmp_path / "another stick")
    assert (tmp_path / "another stick" / "team" / "sealed" / name).read_bytes() == data


@pytest.mark.parametrize(
    "name", ["..", ".", "", "a/b", "a\\b", ".hidden", "team.", "TEAM", "Team", "x" * 65, "a\0b", "ä", "-x"]
)
def test_a_name_that_could_lead_elsewhere_is_no_store(name) -> None:
    assert not is_store_id(name)


def test_folders_and_files_with_other_names_are_ignored(laptop, stick, tmp_path) -> None:
    for folder in ("..x", "-rf", "a b", "Team"):
        plant(stick, *sealed([(NOTES, "a", b"{}")]), store=folder)
    plant(stick, "../../escaped.jsonl".replace("/", "_"), b"x")
    plant(stick, "A" * 64 + ".jsonl", b"x")
    kestrel = laptop("kestrel")
    before = everything_under(tmp_path) - everything_under(kestrel.path)
    report = kestrel.sync(stick).body()
    assert (report["received"], list(report["by_site"])) == (0, ["team"])
    assert everything_under(tmp_path) - everything_under(kestrel.path) == before


def test_links_in_a_depot_are_not_followed(laptop, stick, tmp_path) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.team, "a", {"n": 1})
    kestrel.sync(stick)
    (own,) = (stick / "team" / "sealed").iterdir()
    precious = tmp_path / "precious.txt"
    precious.write_bytes(b"not ours")
    own.unlink()
    own.symlink_to(precious)
    assert kestrel.sync(stick).body()["sent"] == 1
    assert precious.read_bytes() == b"not ours"
    assert not own.is_symlink()
    name, data = sealed([(NOTES, "b", b"{}")])
    precious.write_bytes(data)
    (stick / "team" / "sealed" / name).symlink_to(precious)
    assert kestrel.sync(stick).body()["received"] == 0


def test_a_folder_that_is_a_link_is_neither_read_nor_written(laptop, stick, tmp_path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    stick.mkdir()
    (stick / "team").symlink_to(elsewhere)
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.team, "a", {"n": 1})
    with pytest.raises(StoreError, match="is in the way"):
        kestrel.sync(stick)
    assert everything_under(elsewhere) == set()


def test_a_pipe_under_a_files_name_holds_nothing_up(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.team, "a", {"n": 1})
    kestrel.sync(stick)
    name, _ = sealed([(NOTES, "b", b"{}")])
    os.mkfifo(stick / "team" / "sealed" / name)
    (own,) = (path for path in (stick / "team" / "sealed").iterdir() if path.name != name)
    own.unlink()
    os.mkfifo(own)
    assert kestrel.sync(stick).body()["sent"] == 1
    assert own.is_file()


def test_a_giant_file_is_set_aside_unread(laptop, stick, monkeypatch) -> None:
    monkeypatch.setitem(__import__("fieldlog.exchange.depot", fromlist=["x"]).LIMIT_BYTES, "sealed", 1 << 20)
    name, _ = sealed([(NOTES, "a", b"{}")])
    path = plant(stick, name, b"")
    os.truncate(path, 1 << 40)
    (text,) = aside(laptop("kestrel").sync(stick))
    assert text == "it is larger than 1 MiB"


def test_what_was_set_aside_is_not_read_again_until_it_changes(laptop, stick, monkeypatch) -> None:
    name, data = sealed([(NOTES, "a", b'{"n":1}')])
    path = plant(stick, name, data[:-5])
    kestrel = laptop("kestrel")
    kestrel.sync(stick)
    reads = []
    whole = FolderDepot.get
    monkeypatch.setattr(FolderDepot, "get", lambda self, key: reads.append(key) or whole(self, key))
    assert len(aside(kestrel.sync(stick))) == 1
    assert reads == []
    path.write_bytes(data)
    assert kestrel.sync(stick).body()["received"] == 1


def test_recordings_nobody_names_are_not_taken_in(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    kestrel.sync(stick)
    folder = stick / "team" / "traces"
    folder.mkdir(parents=True)
    (folder / ("0" * 64 + ".csv.gz")).write_bytes(b"junk")
    assert kestrel.sync(stick, with_traces=True).body()["received"] == 0
    assert kestrel.team.traces.names() == []


def test_each_laptop_signs_what_it_seals_and_the_sealed_file_stays_as_it_is(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.team, "a", {"n": 1})
    kestrel.sync(stick)
    (file,) = (stick / "team" / "sealed").iterdir()
    (beside,) = (stick / "team" / "signatures").iterdir()
    assert hashlib.sha256(file.read_bytes()).hexdigest() == file.stem == beside.stem
    signature = read_signature(beside.read_bytes())
    assert signature.fits(DepotFile("team", "sealed", file.name))
    assert not signature.fits(DepotFile("other", "sealed", file.name))
    assert not signature._replace(laptop="heron").fits(DepotFile("team", "sealed", file.name))


def test_the_key_is_readable_by_its_owner_alone_and_never_leaves(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.team, "a", {"n": 1})
    kestrel.sync(stick)
    key = kestrel.path / "exchange" / "key.json"
    assert key.stat().st_mode & 0o077 == 0
    seed = orjson.loads(key.read_bytes())["seed"].encode()
    assert not any(seed in path.read_bytes() for path in stick.rglob("*") if path.is_file())


def test_a_wrong_signature_is_set_aside_and_names_whom_it_claims(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.write(kestrel.team, "a", {"n": 1})
    kestrel.sync(stick)
    (beside,) = (stick / "team" / "signatures").iterdir()
    body = orjson.loads(beside.read_bytes())
    beside.write_bytes(orjson.dumps({**body, "laptop": "lead"}))
    (text,) = aside(heron.sync(stick))
    assert text == "its signature is wrong (it claims to be laptop lead's)"
    kestrel.sync(stick)
    assert heron.sync(stick).body()["received"] == 1


def test_a_half_written_signature_holds_up_no_new_team_and_is_completed(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.write(kestrel.team, "a", {"n": 1})
    kestrel.sync(stick)
    (beside,) = (stick / "team" / "signatures").iterdir()
    whole = beside.read_bytes()
    beside.write_bytes(whole[:100])
    assert heron.sync(stick).body()["received"] == 1
    kestrel.sync(stick)
    assert beside.read_bytes() == whole
    heron.sync(stick)
    assert any(one.device == kestrel.workspace.device for one in known_laptops(heron.workspace))


def test_a_new_team_just_works_and_from_the_first_admission_on_strangers_are_set_aside(laptop, stick) -> None:
    lead, kestrel, stranger = laptop("lead"), laptop("kestrel"), laptop("stranger")
    kestrel.write(kestrel.team, "a", {"n": 1})
    kestrel.sync(stick)
    lead.sync(stick)
    key = LaptopKey(kestrel.path / "exchange", kestrel.workspace.device)
    admit(lead.workspace, [key.fingerprint], by="lead")
    assert len(admitted_keys(lead.team)) == 2
    lead.sync(stick)
    kestrel.sync(stick)
    stranger.sync(stick)
    stranger.write(stranger.site(), "b", {"n": 2})
    assert "this laptop is not admitted yet" in stranger.sync(stick).body()["notes"][0]
    report = kestrel.sync(stick)
    (text,) = aside(report)
    assert "is not admitted" in text
    assert "fieldlog team admit" in text
    assert kestrel.workspace.site_folders() == []
    known = {one.fingerprint: one for one in known_laptops(lead.workspace)}
    lead.sync(stick)
    (new,) = (one for one in known_laptops(lead.workspace) if one.fingerprint not in known)
    admit(lead.workspace, [new.fingerprint], by="lead")
    lead.sync(stick)
    kestrel.sync(stick)
    assert kestrel.site().shown(NOTES, "b").body == {"n": 2}
    assert kestrel.sync(stick).body()["set_aside"] == []


def test_after_the_first_admission_an_unsigned_file_is_set_aside(laptop, stick) -> None:
    lead = laptop("lead")
    admit(lead.workspace, ["this"], by="lead")
    plant(stick, *sealed([(NOTES, "a", b'{"n":1}')]))
    (text,) = aside(lead.sync(stick))
    assert "it bears no signature" in text


def test_a_stranger_cannot_admit_itself(laptop, stick, tmp_path) -> None:
    lead, kestrel, stranger = laptop("lead"), laptop("kestrel"), laptop("stranger")
    admit(lead.workspace, ["this"], by="lead")
    lead.sync(stick)
    kestrel.sync(stick)
    admit(stranger.workspace, ["this"], by="stranger")
    stranger.write(stranger.team, "a", {"n": 1})
    stranger.sync(tmp_path / "own stick")
    for path in (tmp_path / "own stick").rglob("*"):
        if path.is_file():
            target = stick / path.relative_to(tmp_path / "own stick")
            target.write_bytes(path.read_bytes())
    assert kestrel.sync(stick).body()["received"] == 0
    assert len(admitted_keys(kestrel.team)) == 1


def test_an_admission_and_the_files_of_the_admitted_may_arrive_together(laptop, stick) -> None:
    lead, kestrel, heron = laptop("lead"), laptop("kestrel"), laptop("heron")
    admit(lead.workspace, ["this"], by="lead")
    lead.sync(stick)
    kestrel.sync(stick)
    for number in range(6):
        heron.write(heron.team, f"a{number}", {"n": number})
        heron.sync(stick)
    lead.sync(stick)
    fingerprint = LaptopKey(heron.path / "exchange", heron.workspace.device).fingerprint
    admit(lead.workspace, [fingerprint], by="lead")
    lead.sync(stick)
    assert kestrel.sync(stick).body()["set_aside"] == []
    assert kestrel.team.shown(NOTES, "a5").body == {"n": 5}


def test_a_new_laptop_takes_over_the_teams_trust_with_its_first_sync(laptop, stick) -> None:
    lead = laptop("lead")
    admit(lead.workspace, ["this"], by="lead")
    lead.write(lead.team, "a", {"n": 1})
    lead.sync(stick)
    plant(stick, *sealed([(NOTES, "hostile", b'{"n":2}')]))
    new = laptop("new")
    assert len(aside(new.sync(stick))) == 1
    assert new.team.shown(NOTES, "a").body == {"n": 1}
    assert new.team.shown(NOTES, "hostile") is None


def test_own_files_come_back_to_a_restored_laptop_that_was_never_admitted(laptop, stick, tmp_path) -> None:
    lead, kestrel = laptop("lead"), laptop("kestrel")
    kestrel.sync(stick)
    LaptopKey(kestrel.path / "exchange", kestrel.workspace.device)
    kestrel.copy_to(tmp_path / "backup")
    admit(lead.workspace, ["this"], by="lead")
    lead.sync(stick)
    kestrel.sync(stick)
    kestrel.write(kestrel.team, "a", {"n": 1})
    kestrel.sync(stick)
    kestrel.restore_from(tmp_path / "backup")
    kestrel.sync(stick)
    kestrel.sync(stick)
    assert kestrel.team.shown(NOTES, "a").body == {"n": 1}


def test_admitting_needs_a_laptop_that_was_met(laptop) -> None:
    lead = laptop("lead")
    with pytest.raises(NotFoundError, match="no laptop 'kestrel' has signed anything met here"):
        admit(lead.workspace, ["kestrel"], by="lead")
    assert admitted_keys(lead.team) == frozenset()


def test_a_damaged_key_is_said_and_not_made_anew_in_silence(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.team, "a", {"n": 1})
    kestrel.sync(stick)
    (kestrel.path / "exchange" / "key.json").write_bytes(b"{}")
    kestrel.write(kestrel.team, "b", {"n": 1})
    with pytest.raises(StoreError, match="this laptop's key is damaged"):
        kestrel.sync(stick)


def test_hostile_changes_of_a_resolved_record_only_make_a_conflict(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.team, "a", {"n": 1})
    kestrel.sync(stick)
    plant(stick, *sealed([(NOTES, "a", b'{"n":666}')]))
    (conflict,) = kestrel.sync(stick).conflicts
    assert len(conflict["heads"]) == 2
    assert len(kestrel.team.history(NOTES, "a")) == 2


def test_a_body_that_is_no_object_is_refused_by_name() -> None:
    from fieldlog.exchange.validation import check_sealed_file

    name, data = sealed([])
    line = frame(b'[["' + b"0" * 64 + b'","t","d",[],1,"x","y","z",[]]]')
    data += line
    name = hashlib.sha256(data).hexdigest() + ".jsonl"
    with pytest.raises(InputError):
        check_sealed_file(name, data, "team")


def test_lines_whose_checksum_or_id_is_wrong_are_set_aside_though_the_name_fits(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    _, data = sealed([(NOTES, "a", b'{"n":1}'), (NOTES, "b", b'{"n":2}')])
    for spoilt in (data.replace(b'{"n":1}', b'{"n":7}'), data[:-1], data + b"00000000 {}\n", data + b"\n"):
        plant(stick, hashlib.sha256(spoilt).hexdigest() + ".jsonl", spoilt)
    line = data.split(b"\n")[1][9:]
    forged = data.split(b"\n")[0] + b"\n" + frame(line.replace(b'{"n":1}', b'{"n":7}'))
    plant(stick, hashlib.sha256(forged).hexdigest() + ".jsonl", forged)
    assert len(aside(kestrel.sync(stick))) == 5
    assert kestrel.team.revisions() == []
    assert len(aside(kestrel.sync(stick))) == 5


def test_a_site_that_only_holds_refused_files_is_not_made_here(laptop, stick) -> None:
    name, data = sealed([(NOTES, "a", b"{}")], store=SITE_ID)
    plant(stick, name, data[:-1], store=SITE_ID)
    kestrel = laptop("kestrel")
    kestrel.sync(stick)
    assert kestrel.workspace.site_folders() == []


def test_one_commit_of_many_changes_comes_whole(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    kestrel.team.commit([Change(NOTES, f"d{n}", {"n": n}) for n in range(50)], by="kestrel")
    kestrel.sync(stick)
    heron.sync(stick)
    assert len(heron.team.revisions()) == 50


def test_a_line_too_long_for_any_store_is_refused(laptop, stick, monkeypatch) -> None:
    monkeypatch.setattr("fieldlog.exchange.validation.MAX_LINE_BYTES", 1000)
    plant(stick, *sealed([(NOTES, "a", b'{"n":"' + b"x" * 2000 + b'"}')]))
    (text,) = aside(laptop("kestrel").sync(stick))
    assert "a line is longer than" in text


def test_a_giant_under_a_signatures_name_is_not_hashed(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    kestrel.write(kestrel.team, "a", {"n": 1})
    kestrel.sync(stick)
    (beside,) = (stick / "team" / "signatures").iterdir()
    os.truncate(beside, 1 << 40)
    kestrel.sync(stick)
    assert beside.stat().st_size < 1000


def test_nothing_is_read_through_a_folder_that_is_a_link(laptop, stick, tmp_path) -> None:
    plant(tmp_path / "elsewhere", *sealed([(NOTES, "a", b'{"n":1}')]))
    (stick / "team").mkdir(parents=True)
    (stick / "team" / "sealed").symlink_to(tmp_path / "elsewhere" / "team" / "sealed")
    kestrel = laptop("kestrel")
    assert kestrel.sync(stick).body()["received"] == 0
    (stick / "team" / "sealed").unlink()
    (stick / "team").rmdir()
    (stick / "team").symlink_to(tmp_path / "elsewhere" / "team")
    assert kestrel.sync(stick).body()["received"] == 0


def test_a_stick_that_keeps_something_else_than_was_written_is_found_out(laptop, stick) -> None:
    class Forgetful(HastyDisk):
        def write(self, descriptor: int, data: bytes) -> int:
            return super().write(descriptor, bytes(len(data)))

    kestrel = laptop("kestrel")
    kestrel.write(kestrel.team, "a", {"n": 1})
    with pytest.raises(StoreError, match="does not read back"):
        kestrel.sync(FolderDepot(stick, disk=Forgetful()))
    kestrel.sync(stick)
    assert laptop("heron").sync(stick).body()["received"] == 1
