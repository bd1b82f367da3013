"""What identifies a person, apart from everything else, so that erasing it really erases it.

One file a version, named by the SHA-256 of its bytes; a random salt in it keeps the name from
telling whether a guessed name and birth date are right. An erasure is a record that travels: it
deletes the files on every laptop it reaches and refuses their return.
"""

from __future__ import annotations

import hashlib
import re
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any

import orjson

from fieldlog.errors import InputError, RefusedError, StoreError
from fieldlog.store.disk import Disk, is_leftover
from fieldlog.store.journal import save_error
from fieldlog.store.lines import Change, body_bytes
from fieldlog.store.scan import Problem
from fieldlog.store.store import Store

__all__ = ["ERASURE", "PERSONS", "PERSON_NAME", "Persons"]

PERSONS = "persons"
ERASURE = "erasure"
SUFFIX = ".json"
SALT = "salt"
PERSON_NAME = re.compile(r"[0-9a-f]{64}\.json")
MAX_PERSON_BYTES = 1 << 20


class Persons:
    """The persons files of a team store. A body names its athlete under ``athlete_id``."""

    def __init__(
        self,
        team: Store,
        *,
        disk: Disk | None = None,
        random_text: Callable[[int], str] = secrets.token_hex,
    ) -> None:
        self.folder = team.path / PERSONS
        self._team = team
        self._disk = disk or Disk()
        self._random_text = random_text
        # A name stands for its content, so what was read once need not be read again.
        self._known: dict[str, tuple[str, bytes]] = {}

    def put(self, body: dict[str, Any]) -> str:
        """Keep a person's data durably; return the file's name (hash). The same body again adds nothing.

        Raises RefusedError where the athlete was erased, InputError without an ``athlete_id``.
        """
        athlete_id = body.get("athlete_id")
        if not isinstance(athlete_id, str) or not athlete_id:
            raise InputError("a person's data name their athlete_id")
        if self.erased(athlete_id):
            raise RefusedError("this person's data were erased and may not come back", "enter a new athlete")
        for name, known in self._files(athlete_id):
            if known == body:
                return name.removesuffix(SUFFIX)
        data = body_bytes({**body, SALT: self._random_text(16)})
        if len(data) > MAX_PERSON_BYTES:
            raise InputError(f"a person's data are larger than {MAX_PERSON_BYTES >> 20} MiB")
        name = hashlib.sha256(data).hexdigest()
        self._write(name + SUFFIX, data)
        return name

    def for_athlete(self, athlete_id: str) -> list[dict[str, Any]]:
        """Return everything held on an athlete here, undamaged files only, in no order."""
        return [body for _, body in self._files(athlete_id)]

    def all(self) -> list[dict[str, Any]]:
        """Return all persons' data here."""
        return [body for _, body in self._files()]

    def drop(self, name: str) -> None:
        """Remove one file (an older version of a person's data) for good."""
        if not PERSON_NAME.fullmatch(name + SUFFIX):
            raise InputError(f"{name[:80]!r} is no persons file")
        self._remove(name + SUFFIX)

    def erase(self, athlete_id: str, *, by: str) -> list[str]:
        """Delete an athlete's files here for good and leave the erasure that travels; return their names.

        The erasure is made durable first: a crash in between is finished by ``apply_erasures``.
        """
        names = [name for name, _ in self._files(athlete_id)]
        if not self.erased(athlete_id):
            body = {"schema_version": 1, "id": athlete_id, "files": [n.removesuffix(SUFFIX) for n in names]}
            self._team.commit([Change(ERASURE, athlete_id, body)], by=by, why="erasure")
        self.apply_erasures()
        return [name.removesuffix(SUFFIX) for name in names]

    def erased(self, athlete_id: str) -> bool:
        """Tell whether an erasure was ever made; undoing one is not possible."""
        return self._team.shown(ERASURE, athlete_id) is not None

    def erased_files(self) -> set[str]:
        """Return the names of files that erasures name, for depots to delete."""
        found: set[str] = set()
        for athlete_id in self._team.ids(ERASURE):
            for revision in self._team.history(ERASURE, athlete_id):
                files = (revision.body or {}).get("files")
                found |= (
                    {name for name in files if isinstance(name, str)} if isinstance(files, list) else set()
                )
        return found

    def apply_erasures(self) -> int:
        """Delete every file of an erased athlete, and what ended processes left half-written; return how many."""
        named = self.erased_files()
        erased = set(self._team.ids(ERASURE))
        leftovers, doomed = [], []
        for name in self._disk.names(self.folder):
            if is_leftover(name):
                leftovers.append(name)
            elif erased and (name.removesuffix(SUFFIX) in named or self._speaks_of(name, erased)):
                doomed.append(name)
        if leftovers or doomed:
            # The lock: a part file that somebody is writing right now is no leftover.
            with self._team.writing():
                for name in [*leftovers, *doomed]:
                    self._remove(name)
        return len(doomed)

    def receive(self, name: str, data: bytes) -> bool:
        """Keep a file that came from elsewhere; False where an erasure refuses it.

        Raises InputError where its content does not match its name or is no person's data.
        """
        body = _read(name, data)
        if body is None:
            raise InputError(f"{name}: it is no undamaged persons file")
        if self.erased(body["athlete_id"]) or name.removesuffix(SUFFIX) in self.erased_files():
            return False
        self._write(name, data)
        return True

    def names(self) -> list[str]:
        """Return the file names, sorted."""
        return [name for name in self._disk.names(self.folder) if PERSON_NAME.fullmatch(name)]

    def problems(self) -> list[Problem]:
        """Verify every file."""
        found = []
        for name in self._disk.names(self.folder):
            file = f"{PERSONS}/{name}"
            if is_leftover(name):
                continue
            if not PERSON_NAME.fullmatch(name):
                found.append(Problem("foreign", file, "no persons file has such a name"))
            elif _read(name, self._data(name)) is None:
                found.append(Problem("damaged", file, "its content does not match its name"))
        return found

    def _files(self, athlete_id: str | None = None) -> list[tuple[str, dict[str, Any]]]:
        """Return names and bodies, of one athlete or of all; each file is read and checked once."""
        names = self.names()
        for name in self._known.keys() - set(names):
            del self._known[name]
        found = []
        for name in names:
            known = self._known.get(name)
            if known is None:
                data = self._data(name)
                body = _read(name, data)
                if body is None:
                    continue
                known = self._known[name] = (body["athlete_id"], data)
            if athlete_id in (None, known[0]) and not self.erased(known[0]):
                body = orjson.loads(known[1])
                body.pop(SALT, None)
                found.append((name, body))
        return found

    def _data(self, name: str) -> bytes:
        try:
            return self._disk.read_file(self.folder / name)
        except OSError:
            return b""

    def _speaks_of(self, name: str, erased: set[str]) -> bool:
        data = self._data(name)
        body = _read(name, data)
        if body is not None:
            return body["athlete_id"] in erased
        # A damaged file can no longer be read as JSON, but it may still hold the name.
        return any(athlete_id.encode() in data for athlete_id in erased)

    def _write(self, name: str, data: bytes) -> None:
        path = self.folder / name
        with self._team.writing():
            try:
                self._disk.write_file(path, data)
            except OSError as error:
                raise save_error(path, error) from error

    def _remove(self, name: str) -> None:
        path: Path = self.folder / name
        try:
            self._disk.remove(path)
            self._disk.fsync_folder(self.folder)
        except OSError as error:
            raise StoreError(f"{path}: it could not be deleted ({error.strerror or error})") from error


def _read(name: str, data: bytes) -> dict[str, Any] | None:
    if hashlib.sha256(data).hexdigest() + SUFFIX != name or len(data) > MAX_PERSON_BYTES:
        return None
    try:
        body = orjson.loads(data)
    except ValueError:
        return None
    return body if isinstance(body, dict) and isinstance(body.get("athlete_id"), str) else None
