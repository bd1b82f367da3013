"""A locked workspace: nothing readable is left, two keys open it, and no cut on the way loses a byte."""

import shutil

import pytest

from fieldlog.errors import FieldlogError, InputError, RefusedError, SaveError, StoreError
from fieldlog.store.audit import audit
from fieldlog.store.disk import Disk
from fieldlog.store.lines import Change
from fieldlog.store.workspace import Workspace
from tests.faults.counts import LONG
from tests.faults.failing_disk import FailingDisk

pytest.importorskip("pyrage", reason="the optional library that locks is not installed")

from fieldlog.store import vault

PASSPHRASE = "four cold oars"
SECRET = "Zdenka Quillfeather"
CSV = b"time_s,torque_nm\n" + SECRET.encode() + b"\n" + b"0.01,5.25\n" * 20_000


@pytest.fixture(autouse=True)
def quick_passphrases(monkeypatch):
    """Stand in for the passphrase's key stretching, which takes a second by design."""
    import pyrage

    class Quick:
        @staticmethod
        def encrypt(data, passphrase):
            return passphrase.encode().hex().encode() + b":" + data.hex().encode()

        @staticmethod
        def decrypt(data, passphrase):
            key, _, rest = data.partition(b":")
            if key != passphrase.encode().hex().encode():
                raise pyrage.DecryptError("Decryption failed")
            return bytes.fromhex(rest.decode())

    monkeypatch.setattr(pyrage, "passphrase", Quick)


@pytest.fixture
def path(tmp_path):
    with Workspace.create(tmp_path / "w") as workspace:
        site = workspace.adopt_site("aaaaaaaaaaaa", "Mill")
        trace = site.traces.put(CSV)
        site.commit([Change("set", "s1", {"note": SECRET, "trace": trace})], by="ann")
        site.seal()
        site.commit([Change("set", "s2", {"note": SECRET})], by="ann")
        workspace.persons.put({"athlete_id": "p1", "name": SECRET})
    return tmp_path / "w"


@pytest.fixture
def recovery(path):
    with Workspace.open(path) as workspace:
        return vault.set_up_lock(workspace, PASSPHRASE)


def content(path):
    """Every file that is truth, by its bytes."""
    return {
        file.relative_to(path).as_posix(): file.read_bytes()
        for file in path.rglob("*")
        if file.is_file()
        and file.name not in ("lock", "keys.json", "key.age")
        and not file.name.startswith(".")
    }


def held(path):
    with Workspace.open(path) as workspace:
        assert audit(workspace)["ok"]
        store = workspace.sites["mill-aaaaaa"]
        assert store.traces.names()
        assert all(store.traces.get(name) == CSV for name in store.traces.names())
        return {r.document: r.body["note"] for r in store.documents("set")}


@pytest.mark.parametrize("key", ["passphrase", "recovery key"])
def test_a_locked_workspace_has_nothing_readable_and_opens_with_either_key(path, recovery, key):
    before = content(path)
    vault.lock(path)
    assert sorted(file.name for file in path.iterdir()) == ["key.age", "keys.json", "locked.age"]
    assert not any(SECRET.encode() in file.read_bytes() for file in path.iterdir())
    with pytest.raises(StoreError, match="is locked"):
        Workspace.open(path)
    vault.unlock(path, PASSPHRASE if key == "passphrase" else f" {recovery.lower()}\n")
    after = content(path)
    assert {name: data for name, data in after.items() if not name.endswith("active.jsonl")} == {
        name: data for name, data in before.items() if not name.endswith("active.jsonl")
    }
    assert held(path) == {"s1": SECRET, "s2": SECRET}


def test_it_can_be_locked_and_unlocked_again_and_worked_on_in_between(path, recovery):
    for number in range(3):
        vault.lock(path)
        vault.unlock(path, PASSPHRASE)
        with Workspace.open(path) as workspace:
            workspace.sites["mill-aaaaaa"].commit([Change("set", f"n{number}", {"note": "x"})], by="ann")
    assert len(held(path)) == 5


@pytest.mark.parametrize("secret", ["", "four cold oar", "AGE-SECRET-KEY-1XYZ"])
def test_a_wrong_key_says_so_and_changes_nothing(path, recovery, secret):
    vault.lock(path)
    before = content(path)
    with pytest.raises(InputError, match=r"wrong|mistyped"):
        vault.unlock(path, secret)
    assert content(path) == before


def test_another_workspaces_recovery_key_is_told_apart(tmp_path, path, recovery):
    with Workspace.create(tmp_path / "other") as other:
        strange = vault.set_up_lock(other, PASSPHRASE)
    vault.lock(path)
    with pytest.raises(InputError, match="another workspace"):
        vault.unlock(path, strange)


def test_keys_are_set_up_once_and_with_a_passphrase_worth_the_name(path):
    with Workspace.open(path) as workspace:
        with pytest.raises(InputError, match="shorter"):
            vault.set_up_lock(workspace, "short")
        vault.set_up_lock(workspace, PASSPHRASE)
        with pytest.raises(RefusedError, match="already"):
            vault.set_up_lock(workspace, PASSPHRASE)


def test_without_keys_nothing_is_locked_and_what_is_open_is_not_unlocked(path):
    with pytest.raises(RefusedError, match="no keys"):
        vault.lock(path)
    with pytest.raises(RefusedError, match="not locked"):
        vault.unlock(path, PASSPHRASE)
    assert held(path)


def test_a_key_that_somebody_added_is_dropped_at_the_next_unlocking(path, recovery):
    import orjson
    import pyrage

    keys = orjson.loads((path / "keys.json").read_bytes())
    vault.lock(path)
    thief = pyrage.x25519.Identity.generate()
    (path / "keys.json").write_bytes(
        orjson.dumps({**keys, "recipients": [*keys["recipients"], str(thief.to_public())]})
    )
    vault.unlock(path, PASSPHRASE)
    assert orjson.loads((path / "keys.json").read_bytes()) == keys


def test_a_process_that_still_has_the_store_open_cannot_write_into_nothing(path, recovery):
    with Workspace.open(path) as other:
        store = other.sites["mill-aaaaaa"]
        assert store.shown("set", "s2")
        store.commit([Change("set", "s3", {"note": "x"})], by="ann")
        vault.lock(path)
        with pytest.raises(SaveError):
            store.commit([Change("set", "s4", {"note": "x"})], by="ann")
    vault.unlock(path, PASSPHRASE)
    assert set(held(path)) == {"s1", "s2", "s3"}


@pytest.mark.parametrize("cut", [10, 300, -3])
def test_a_damaged_locked_file_is_refused_and_nothing_is_changed(path, recovery, cut):
    vault.lock(path)
    locked = path / "locked.age"
    whole = locked.read_bytes()
    locked.write_bytes(whole[:cut] + bytes([whole[cut] ^ 1]) + whole[cut:][1:])
    with pytest.raises(StoreError, match="damaged"):
        vault.unlock(path, PASSPHRASE)
    assert sorted(file.name for file in path.iterdir()) == ["key.age", "keys.json", "locked.age"]
    locked.write_bytes(whole)
    vault.unlock(path, PASSPHRASE)
    assert held(path)


@pytest.mark.parametrize("name", ["../evil", "/evil", "a/../../evil", "keys.json", "link"])
def test_a_locked_file_made_by_somebody_else_cannot_reach_outside(tmp_path, path, recovery, name):
    import io
    import tarfile

    import orjson
    import pyrage

    vault.lock(path)
    packed = io.BytesIO()
    with tarfile.open(fileobj=packed, mode="w") as archive:
        entry = tarfile.TarInfo(name)
        if name == "link":
            entry.type, entry.linkname = tarfile.SYMTYPE, "/etc/passwd"
            archive.addfile(entry)
        else:
            entry.size = 4
            archive.addfile(entry, io.BytesIO(b"evil"))
    recipients = orjson.loads((path / "keys.json").read_bytes())["recipients"]
    forged = pyrage.encrypt(
        packed.getvalue(), [pyrage.x25519.Recipient.from_str(text) for text in recipients]
    )
    (path / "locked.age").write_bytes(forged)
    with pytest.raises(StoreError):
        vault.unlock(path, PASSPHRASE)
    assert not list(tmp_path.rglob("evil"))


def test_an_error_at_any_call_of_locking_or_unlocking_loses_nothing(tmp_path, path, recovery):
    for action in ("lock", "unlock"):
        call = 1
        while True:
            copy = shutil.copytree(path, tmp_path / f"{action}{call}")
            if action == "unlock":
                vault.lock(copy)
            disk = FailingDisk()
            disk.arm(call, 5)
            try:
                vault.lock(copy, disk) if action == "lock" else vault.unlock(copy, PASSPHRASE, disk)
            except FieldlogError as error:
                assert "\n" not in str(error)  # noqa: PT017 (most calls raise nothing)
            finished = disk.count < call
            if (copy / "locked.age").exists():
                vault.lock(copy)
                vault.unlock(copy, PASSPHRASE)
            assert held(copy) == {"s1": SECRET, "s2": SECRET}, (action, call, disk.log[-1])
            shutil.rmtree(copy)
            if finished:
                break
            call += 4


@pytest.mark.skipif(not LONG, reason="stretching a passphrase takes seconds; python -m tests.long does it")
def test_real_passphrases_work_with_the_real_library(monkeypatch, path):
    monkeypatch.undo()
    with Workspace.open(path) as workspace:
        vault.set_up_lock(workspace, PASSPHRASE)
    vault.lock(path)
    with pytest.raises(InputError, match="passphrase is wrong"):
        vault.unlock(path, "another one")
    vault.unlock(path, PASSPHRASE)
    assert held(path)


def test_saving_is_as_quick_in_a_workspace_that_can_be_locked(path, recovery):
    with Workspace.open(path, disk=Disk()) as workspace:
        before = {file.name for file in (path / "mill-aaaaaa").iterdir()}
        workspace.sites["mill-aaaaaa"].commit([Change("set", "s9", {"note": "x"})], by="ann")
        assert {file.name for file in (path / "mill-aaaaaa").iterdir()} == before
