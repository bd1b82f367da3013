"""A stick that is lost tells its finder nothing, and one that was tampered with is not believed."""

from __future__ import annotations

import os
import re
import stat
import uuid
from pathlib import Path

import orjson
import pytest
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

from fieldlog.errors import InputError, NewerSchemaError, RefusedError, StoreError
from fieldlog.exchange import depot, depot_keys
from fieldlog.exchange.depot import open_depot
from fieldlog.exchange.folder_depot import FolderDepot
from fieldlog.exchange.locked_depot import ADDED_BYTES, LockedDepot, lock_depot, reach_depot, unlock_depot

PASSPHRASE = "four cold oars"
NAME, WORDS, RECORDING = "Invented Name", "a word nobody else writes", b"\x00\x01recorded torque" * 99


@pytest.fixture(autouse=True)
def _quick(monkeypatch) -> None:
    monkeypatch.setattr(depot_keys, "SCRYPT_N", 1 << 10)


@pytest.fixture
def stick(tmp_path) -> Path:
    return tmp_path / "stick"


def filled(one):
    one.workspace.persons.put({"athlete_id": "a1", "name": NAME})
    one.write(one.team, "t1", {"text": "of the team"})
    store = one.site()
    trace = store.traces.put(RECORDING)
    one.write(store, "d1", {"text": WORDS, "trace": trace})
    return one


def meet(one, address):
    return one.sync(reach_depot(str(address), one.path), with_traces=True)


def lock(one, address, passphrase: str = PASSPHRASE) -> str:
    return lock_depot(open_depot(str(address)), one.path, passphrase)


def unlock(one, address) -> None:
    unlock_depot(open_depot(str(address)), one.path, PASSPHRASE)


def files_of(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


@pytest.mark.parametrize("kind", ["folder", "memory://"])
def test_two_laptops_exchange_everything_over_a_locked_depot(laptop, tmp_path, kind) -> None:
    address = str(tmp_path / "stick") if kind == "folder" else f"memory://depot-{uuid.uuid4().hex}"
    kestrel, heron = filled(laptop("kestrel")), laptop("heron")
    lock(kestrel, address)
    assert meet(kestrel, address).body()["sent"]
    with pytest.raises(RefusedError, match="is locked"):
        reach_depot(address, heron.path)
    unlock_depot(open_depot(address), heron.path, PASSPHRASE)
    meet(heron, address)
    assert heron.shown() == kestrel.shown()
    assert heron.site().traces.get(kestrel.site().shown("notes_of_tests", "d1").body["trace"]) == RECORDING
    assert [body["name"] for body in heron.workspace.persons.for_athlete("a1")] == [NAME]
    again = meet(heron, address).body()
    assert (again["sent"], again["received"], again["set_aside"]) == (0, 0, [])


def test_no_byte_of_a_locked_stick_names_a_person_a_word_or_a_site(laptop, stick) -> None:
    kestrel = filled(laptop("kestrel"))
    plain = stick.with_name("plain")
    kestrel.sync(plain)
    lock(kestrel, stick)
    meet(kestrel, stick)
    told = [text.encode() for text in (NAME, WORDS, "Boathouse", "kestrel", "athlete_id")]
    in_plain = b"".join(path.read_bytes() for path in files_of(plain))
    assert all(text in in_plain for text in told), "the search would find them where nothing is locked"
    sealed = b"".join(path.read_bytes() for path in files_of(stick))
    assert not [text for text in told if text in sealed]
    assert len(files_of(stick)) == len(files_of(plain)) + 1


def test_the_recovery_key_opens_it_however_it_is_typed_and_a_wrong_secret_does_not(laptop, stick) -> None:
    kestrel, heron = laptop("kestrel"), laptop("heron")
    recovery = lock(kestrel, stick)
    for wrong in ("five cold oars", recovery[:-1] + ("A" if recovery[-1] != "A" else "B"), ""):
        with pytest.raises(InputError, match="neither"):
            unlock_depot(open_depot(str(stick)), heron.path, wrong)
    unlock_depot(open_depot(str(stick)), heron.path, f" {recovery.lower().replace('-', ' ')}\n")
    assert isinstance(reach_depot(str(stick), heron.path), LockedDepot)


def test_a_file_that_was_altered_moved_or_never_locked_is_set_aside_and_healed(laptop, stick) -> None:
    kestrel, heron = filled(laptop("kestrel")), laptop("heron")
    lock(kestrel, stick)
    meet(kestrel, stick)
    unlock_depot(open_depot(str(stick)), heron.path, PASSPHRASE)
    site = kestrel.site()
    (name,) = site.sealed_names()
    file = stick / site.id / "sealed" / name
    whole = bytearray(file.read_bytes())
    whole[-1] ^= 1
    file.write_bytes(whole)
    assert meet(heron, stick).body()["set_aside"]
    file.write_bytes((site.path / "sealed" / name).read_bytes())
    assert meet(heron, stick).body()["set_aside"], "a plain file in a locked depot is not believed"
    (team_name,) = kestrel.team.sealed_names()
    file.write_bytes((stick / "team" / "sealed" / team_name).read_bytes())
    assert meet(heron, stick).body()["set_aside"], "a file is bound to its place"
    assert meet(kestrel, stick).body()["sent"] == 1
    meet(heron, stick)
    assert heron.shown() == kestrel.shown()


def test_a_lost_or_damaged_key_file_is_put_back_by_a_laptop_that_knows_it(laptop, stick) -> None:
    kestrel = filled(laptop("kestrel"))
    lock(kestrel, stick)
    meet(kestrel, stick)
    key_file = stick / "depot-key.json"
    whole = key_file.read_bytes()
    for damage in (
        None,
        b"",
        whole[:40],
        b"[]",
        whole.replace(b'"scrypt_n": 1024', b'"scrypt_n": 1099511627776'),
        re.sub(rb'"by_passphrase": "[^"]*"', b'"by_passphrase": "AAAA"', whole),
        re.sub(rb'"salt": "[^"]*"', b'"salt": ""', whole),
    ):
        if damage is None:
            key_file.unlink()
        else:
            key_file.write_bytes(damage)
            with pytest.raises(StoreError, match="key file is damaged"):
                unlock_depot(open_depot(str(stick)), kestrel.path, PASSPHRASE)
        assert not meet(kestrel, stick).body()["set_aside"]
        assert key_file.read_bytes() == whole


def test_another_stick_at_the_address_of_a_locked_one_gets_nothing_in_plain(laptop, stick) -> None:
    kestrel, heron = filled(laptop("kestrel")), filled(laptop("heron"))
    lock(kestrel, stick)
    meet(kestrel, stick)
    stick.rename(stick.with_name("in the other bag"))
    heron.sync(stick)
    with pytest.raises(StoreError, match="another stick"):
        reach_depot(str(stick), kestrel.path)
    assert not (stick / "depot-key.json").exists()


def test_a_locked_stick_without_its_key_file_gets_nothing_in_plain_from_anybody(laptop, stick) -> None:
    kestrel, heron = filled(laptop("kestrel")), filled(laptop("heron"))
    lock(kestrel, stick)
    meet(kestrel, stick)
    (stick / "depot-key.json").unlink()
    moved = stick.rename(stick.with_name("mounted elsewhere"))
    before = files_of(moved)
    with pytest.raises(StoreError, match="key file is missing"):
        reach_depot(str(moved), heron.path)
    assert files_of(moved) == before
    assert isinstance(reach_depot(str(moved), kestrel.path), LockedDepot), (
        "its own files tell which key it has"
    )
    assert (moved / "depot-key.json").exists()


def test_of_two_sticks_at_one_path_each_gets_its_own_key_file_back(laptop, stick) -> None:
    kestrel = filled(laptop("kestrel"))
    whole = {}
    for name in ("first", "second"):
        lock(kestrel, stick)
        meet(kestrel, stick)
        whole[name] = (stick / "depot-key.json").read_bytes()
        stick.rename(stick.with_name(name))
    for name in ("first", "second"):
        stick.with_name(name).rename(stick)
        (stick / "depot-key.json").unlink()
        assert not meet(kestrel, stick).body()["set_aside"]
        assert (stick / "depot-key.json").read_bytes() == whole[name]
        stick.rename(stick.with_name(name))


def test_under_another_key_everything_is_brought_again(laptop, stick) -> None:
    kestrel, heron = filled(laptop("kestrel")), laptop("heron")
    lock(kestrel, stick)
    first = meet(kestrel, stick).body()["sent"]
    other = stick.with_name("other")
    lock(kestrel, other)
    (stick / "depot-key.json").write_bytes((other / "depot-key.json").read_bytes())
    assert first
    assert meet(kestrel, stick).body()["sent"] == first
    unlock(heron, stick)
    meet(heron, stick)
    assert heron.shown() == kestrel.shown()


def test_a_file_of_just_the_size_that_is_allowed_comes_through_a_lock(laptop, stick, monkeypatch) -> None:
    kestrel, heron = filled(laptop("kestrel")), laptop("heron")
    lock(kestrel, stick)
    meet(kestrel, stick)
    sizes = {
        kind: max(file.stat().st_size for file in stick.glob(f"*/{kind}/*")) for kind in ("sealed", "traces")
    }
    for kind, size in sizes.items():
        monkeypatch.setitem(depot.LIMIT_BYTES, kind, size - ADDED_BYTES)
    unlock(heron, stick)
    assert not meet(heron, stick).body()["set_aside"]
    assert heron.shown() == kestrel.shown()


def test_a_key_file_of_a_newer_fieldlog_is_left_as_it_is(laptop, stick) -> None:
    kestrel = filled(laptop("kestrel"))
    lock(kestrel, stick)
    meet(kestrel, stick)
    key_file = stick / "depot-key.json"
    newer = key_file.read_bytes().replace(b'"format": 1', b'"format": 2')
    key_file.write_bytes(newer)
    for use in (lambda: reach_depot(str(stick), kestrel.path), lambda: unlock(kestrel, stick)):
        with pytest.raises(NewerSchemaError, match="newer fieldlog"):
            use()
    assert key_file.read_bytes() == newer


def test_a_kept_key_is_this_users_alone_and_a_damaged_one_is_asked_for_again(laptop, stick) -> None:
    kestrel = filled(laptop("kestrel"))
    lock(kestrel, stick)
    (kept,) = (kestrel.path / "exchange").glob("key-*.json")
    assert os.name == "nt" or stat.S_IMODE(kept.stat().st_mode) == 0o600
    body = orjson.loads(kept.read_bytes())
    for damage in ({"secret": "AAAA"}, {"secret": None}, {"file": "AAAA"}, {"id": "other"}):
        kept.write_bytes(orjson.dumps(body | damage))
        with pytest.raises(RefusedError, match="open it once"):
            reach_depot(str(stick), kestrel.path)
        unlock(kestrel, stick)
        assert isinstance(reach_depot(str(stick), kestrel.path), LockedDepot)


def test_a_stick_under_another_path_is_the_same_stick(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    lock(kestrel, stick)
    moved = stick.rename(stick.with_name("mounted elsewhere"))
    assert isinstance(reach_depot(str(moved), kestrel.path), LockedDepot)
    (moved / "depot-key.json").unlink()
    assert isinstance(reach_depot(str(moved), kestrel.path), LockedDepot)


def test_only_an_empty_depot_is_locked_and_only_once(laptop, stick) -> None:
    kestrel = filled(laptop("kestrel"))
    kestrel.sync(stick)
    with pytest.raises(RefusedError, match="not locked"):
        lock(kestrel, stick)
    with pytest.raises(RefusedError, match="is not locked"):
        unlock_depot(open_depot(str(stick)), kestrel.path, PASSPHRASE)
    other = stick.with_name("other")
    with pytest.raises(InputError, match="shorter than 8"):
        lock(kestrel, other, "short")
    lock(kestrel, other)
    with pytest.raises(RefusedError, match="locked already"):
        lock(kestrel, other)


def test_a_team_base_is_never_locked(base, laptop) -> None:
    with pytest.raises(RefusedError, match="rights"):
        lock_depot(base.depot(), laptop("kestrel").path, PASSPHRASE)


def test_an_erasure_reaches_a_locked_depot(laptop, stick) -> None:
    kestrel = filled(laptop("kestrel"))
    lock(kestrel, stick)
    meet(kestrel, stick)
    assert files_of(stick / "team" / "persons")
    kestrel.workspace.persons.erase("a1", by="lead")
    meet(kestrel, stick)
    assert not files_of(stick / "team" / "persons")


def test_the_sealing_is_the_published_construction(laptop, stick) -> None:
    """Opened with the library alone: ChaCha20-Poly1305 (RFC 8439), the file's place as associated data."""
    kestrel = filled(laptop("kestrel"))
    lock(kestrel, stick)
    meet(kestrel, stick)
    site = kestrel.site()
    (name,) = site.sealed_names()
    data = (stick / site.id / "sealed" / name).read_bytes()
    head, rest = data.split(b"\n", 1)
    assert head == b"fieldlog locked 1"
    (key,) = depot_keys.kept_keys(kestrel.path, kestrel.disk)
    place = f"{site.id}/sealed/{name}".encode()
    opened = ChaCha20Poly1305(key.secret).decrypt(rest[:12], rest[12:], place)
    assert opened == (site.path / "sealed" / name).read_bytes()
    with pytest.raises(InvalidTag):
        ChaCha20Poly1305(key.secret).decrypt(rest[:12], rest[12:], b"elsewhere")


def test_the_key_file_holds_no_key(laptop, stick) -> None:
    kestrel = laptop("kestrel")
    lock(kestrel, stick)
    (key,) = depot_keys.kept_keys(kestrel.path, kestrel.disk)
    body = orjson.loads(FolderDepot(stick).read_key())
    assert set(body) == {"format", "about", "id", "scrypt_n", "salt", "by_passphrase", "by_recovery"}
    assert depot_keys._text(key.secret) not in key.file.decode()
