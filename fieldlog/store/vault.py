"""A workspace locked against theft: one file in the age format that only two keys open.

Setting up makes a key for the workspace, kept in ``key.age`` under a passphrase, and a recovery key
that is shown once and kept on paper. Locking needs neither: it packs everything for both keys into
``locked.age``, makes that durable, and only then removes the plain files. While ``locked.age`` is
there, the workspace is locked; whatever was cut off on the way is finished by locking or unlocking
again. Saving costs nothing, since nothing is encrypted while the workspace is open: the protection
is for the laptop in the bag. Deleted files may be recovered from some disks, so encrypt the disk
as well.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib
import os
import shutil
import tarfile
import threading
from pathlib import Path
from typing import Any

import orjson

from fieldlog.errors import InputError, RefusedError, StoreError
from fieldlog.store.archive import UNPACKING, Archive, extract, plain_files
from fieldlog.store.disk import Disk, is_leftover
from fieldlog.store.journal import LOCK, save_error
from fieldlog.store.lines import FORMAT
from fieldlog.store.lock_files import KEY_FILE, KEYS_FILE, LOCKED_FILE, is_locked
from fieldlog.store.passphrases import check_passphrase
from fieldlog.store.workspace import Workspace

__all__ = ["lock", "set_up_lock", "unlock"]

RECOVERY_START = "AGE-SECRET-KEY-1"


def set_up_lock(workspace: Workspace, passphrase: str) -> str:
    """Make the keys of a workspace and return the recovery key, which is kept nowhere.

    Raises InputError for a passphrase under 8 characters, RefusedError where keys exist already.
    """
    age = _age()
    path = workspace.path
    check_passphrase(passphrase)
    if (path / KEYS_FILE).exists():
        raise RefusedError(f"{path} has its keys already", "lock it: fieldlog lock")
    own, recovery = age.x25519.Identity.generate(), age.x25519.Identity.generate()
    recipients = [str(own.to_public()), str(recovery.to_public())]
    # The passphrase also vouches for whom the workspace is locked.
    kept = orjson.dumps({"identity": str(own), "recipients": recipients})
    try:
        workspace.disk.write_file(path / KEY_FILE, age.passphrase.encrypt(kept, passphrase))
        # Last: a workspace with this file can be locked, and key.age is there to open it again.
        _write_recipients(path, recipients, workspace.disk)
    except OSError as error:
        raise save_error(path, error) from error
    return str(recovery)


def lock(path: Path, disk: Disk | None = None) -> int:
    """Pack a workspace into ``locked.age`` and remove its plain files; return how many there were.

    Raises RefusedError where no keys were set up, SaveError where the disk does not take it (then
    the workspace is as before).
    """
    age, disk = _age(), disk or Disk()
    if is_locked(path):
        return _remove_plain(path, disk)
    recipients = [age.x25519.Recipient.from_str(text) for text in _recipients(path, disk)]
    with Workspace.open(path, disk=disk) as workspace, contextlib.ExitStack() as held:
        stores = workspace.stores()
        for store in stores:
            held.enter_context(store.writing())
        try:
            _pack(path, disk, age, recipients)
            for store in stores:
                # A process that still has the store open must not go on writing to a file without a name.
                store.retire()
        except OSError as error:
            raise save_error(path / LOCKED_FILE, error) from error
    return _remove_plain(path, disk)


def unlock(path: Path, secret: str, disk: Disk | None = None) -> int:
    """Unpack a locked workspace with its passphrase or recovery key; return the number of files.

    Raises InputError for a wrong passphrase or key, RefusedError where it is not locked, StoreError
    where ``locked.age`` is damaged (nothing is changed then).
    """
    age, disk = _age(), disk or Disk()
    if not is_locked(path):
        raise RefusedError(f"{path} is not locked")
    folder = path / UNPACKING
    try:
        identity = _identity(path, secret.strip(), age, disk)
        shutil.rmtree(folder, ignore_errors=True)
        files = _unpack(path / LOCKED_FILE, folder, identity, age)
        for file in files:
            disk.make_folder((path / file).parent)
            disk.replace(folder / file, path / file)
        for parent in {(path / file).parent for file in files}:
            disk.fsync_folder(parent)
        disk.remove(path / LOCKED_FILE)
        disk.fsync_folder(path)
        shutil.rmtree(folder, ignore_errors=True)
    except OSError as error:
        raise save_error(path, error) from error
    return len(files)


def _pack(path: Path, disk: Disk, age: Any, recipients: list[Any]) -> None:
    part = path / f".{LOCKED_FILE}.part"
    disk.remove(part)
    descriptor = disk.open_append(part)
    try:
        sink = _File(disk, descriptor)
        try:
            age.encrypt_io(Archive(path), sink, recipients)
        except age.EncryptError as error:
            raise sink.error or OSError(str(error)) from error
        disk.fsync(descriptor)
    finally:
        disk.close(descriptor)
    if _digest(part) != sink.digest.hexdigest():
        raise OSError(f"{part} does not read back as it was written")
    disk.replace(part, path / LOCKED_FILE)
    disk.fsync_folder(path)


def _remove_plain(path: Path, disk: Disk) -> int:
    files = [*plain_files(path)]
    shutil.rmtree(path / UNPACKING, ignore_errors=True)
    try:
        for file in files:
            disk.remove(path / file)
        for folder in sorted((p for p in path.rglob("*") if p.is_dir()), reverse=True):
            with contextlib.suppress(OSError):
                for leftover in folder.iterdir():
                    if leftover.is_file() and (is_leftover(leftover.name) or leftover.name == LOCK):
                        disk.remove(leftover)
                folder.rmdir()
        disk.fsync_folder(path)
    except OSError as error:
        raise StoreError(
            f"{path}: locked, but not every plain file could be removed ({error.strerror or error})",
            "run 'fieldlog lock' again",
        ) from error
    return len(files)


class _File:
    """The encrypted file while it is written, with the hash of what it should hold."""

    def __init__(self, disk: Disk, descriptor: int) -> None:
        self.digest = hashlib.sha256()
        self.error: OSError | None = None
        self._disk = disk
        self._descriptor = descriptor

    def write(self, data: bytes) -> int:
        data = bytes(data)
        try:
            self._disk.write_all(self._descriptor, data)
        except OSError as error:
            self.error = error
            raise
        self.digest.update(data)
        return len(data)

    def flush(self) -> None:
        """The caller flushes once, at the end."""


def _unpack(locked: Path, folder: Path, identity: Any, age: Any) -> list[str]:
    folder.mkdir()
    reading, writing = os.pipe()
    failures: list[Exception] = []

    def decrypt() -> None:
        with os.fdopen(writing, "wb") as sink, locked.open("rb") as source:
            try:
                age.decrypt_io(source, sink, [identity])
            except (age.DecryptError, OSError) as error:
                failures.append(error)

    worker = threading.Thread(target=decrypt)
    worker.start()
    files: list[str] = []
    try:
        with os.fdopen(reading, "rb") as stream, tarfile.open(fileobj=stream, mode="r|") as archive:
            for entry in archive:
                extract(archive, entry, folder)
                files.append(entry.name)
    except (tarfile.TarError, ValueError) as error:
        failures.append(error)
    finally:
        worker.join()
    if failures:
        shutil.rmtree(folder, ignore_errors=True)
        raise StoreError(f"{locked} is damaged ({failures[0]})", "take it from a backup; nothing was changed")
    return files


def _identity(path: Path, secret: str, age: Any, disk: Disk) -> Any:
    if secret.upper().startswith(RECOVERY_START):
        try:
            identity = age.x25519.Identity.from_str(secret.upper())
        except age.IdentityError:
            raise InputError("the recovery key is mistyped", "compare it with the paper") from None
        if str(identity.to_public()) not in _recipients(path, disk):
            raise InputError("this recovery key belongs to another workspace", "try the passphrase")
        return identity
    try:
        kept = orjson.loads(age.passphrase.decrypt(disk.read_file(path / KEY_FILE), secret))
    except FileNotFoundError:
        raise StoreError(f"{path / KEY_FILE} is missing", "use the recovery key") from None
    except age.DecryptError:
        raise InputError("the passphrase is wrong", "try again, or use the recovery key") from None
    # Whoever could write here may have added a key of their own for the next time.
    _write_recipients(path, kept["recipients"], disk)
    return age.x25519.Identity.from_str(kept["identity"])


def _write_recipients(path: Path, recipients: list[str], disk: Disk) -> None:
    body = orjson.dumps({"format": FORMAT, "recipients": recipients})
    disk.write_file(path / KEYS_FILE, body + b"\n")


def _recipients(path: Path, disk: Disk) -> list[str]:
    try:
        return [str(text) for text in orjson.loads(disk.read_file(path / KEYS_FILE))["recipients"]]
    except FileNotFoundError:
        raise RefusedError(f"{path} has no keys yet", "set them up: fieldlog lock --set-up") from None
    except (OSError, ValueError, KeyError, TypeError):
        raise StoreError(f"{path / KEYS_FILE} is damaged", "take it from a backup") from None


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _age() -> Any:
    try:
        return importlib.import_module("pyrage")
    except ImportError:
        raise RefusedError(
            "the library that locks is not installed", "pip install 'fieldlog[locked]'"
        ) from None
