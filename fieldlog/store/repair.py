"""Healing a workspace from another copy: a backup, another laptop's workspace, or a folder depot.

Everything taken from the copy is checked against its name or checksum first, so a bad copy can do
no harm; and since truth only grows, healing twice is the same as healing once.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterable
from pathlib import Path

import orjson

from fieldlog.errors import FieldlogError, InputError
from fieldlog.records.base import new_id
from fieldlog.store.disk import Disk
from fieldlog.store.journal import ACTIVE, ASIDE, save_error
from fieldlog.store.lines import FORMAT, Header, LineError, Revision, read_commit, unframe
from fieldlog.store.persons import PERSON_NAME, PERSONS, Persons
from fieldlog.store.scan import first_line
from fieldlog.store.sealed import SEALED, SEALED_NAME
from fieldlog.store.store import STORE_FILE, Store, read_store_file
from fieldlog.store.traces import TRACE_NAME
from fieldlog.store.workspace import TEAM, WORKSPACE_FILE, Workspace

__all__ = ["repair"]


def repair(workspace: Workspace, source: Path) -> list[str]:
    """Heal what ``source`` has whole; return in words what was done.

    Raises InputError where ``source`` is no folder, SaveError where the disk does not take it.
    """
    if not source.is_dir():
        raise InputError(f"{source} is no folder", "name another copy of the workspace, or a depot")
    copy = _Copy(source, workspace.disk)
    done = []
    try:
        if workspace.fault:
            body = orjson.dumps({"format": FORMAT, "id": new_id()})
            workspace.disk.write_file(workspace.path / WORKSPACE_FILE, body + b"\n")
            workspace.fault = ""
            done.append(f"{WORKSPACE_FILE}: written anew")
        for name in _folders(workspace):
            folder = workspace.path / name
            done += [f"{name}/{text}" for text in _heal_store_file(folder, workspace.disk, copy)]
            done += [f"{name}/{text}" for text in _heal_store(folder, workspace, copy)]
    except OSError as error:
        raise save_error(workspace.path, error) from error
    return done


class _Copy:
    """What a folder tree offers: files whose names say what they are."""

    def __init__(self, source: Path, disk: Disk) -> None:
        self._disk = disk
        self._named: dict[str, list[Path]] = {}
        self.active: list[Path] = []
        self.store_ids: set[str] = set()
        for folder, _, files in os.walk(source):
            for name in files:
                if name == ACTIVE:
                    self.active.append(Path(folder) / name)
                elif name == STORE_FILE:
                    self._note_store(Path(folder))
                elif SEALED_NAME.fullmatch(name) or TRACE_NAME.fullmatch(name) or PERSON_NAME.fullmatch(name):
                    self._named.setdefault(name, []).append(Path(folder) / name)

    def versions(self, name: str) -> Iterable[bytes]:
        for path in self._named.get(name, ()):
            yield self.read(path)

    def sealed(self) -> list[str]:
        return sorted(name for name in self._named if SEALED_NAME.fullmatch(name))

    def line_files(self) -> Iterable[bytes]:
        for path in self.active:
            yield self.read(path)
        for name in self.sealed():
            yield from self.versions(name)

    def _note_store(self, folder: Path) -> None:
        with contextlib.suppress(FieldlogError):
            self.store_ids.add(read_store_file(folder, self._disk)[0])

    def read(self, path: Path) -> bytes:
        try:
            return self._disk.read_file(path)
        except OSError:
            return b""


def _folders(workspace: Workspace) -> list[str]:
    names = {name for name, _ in workspace.store_folders()} | {TEAM}
    for name in workspace.disk.names(workspace.path):
        if (workspace.path / name / ACTIVE).is_file() or (workspace.path / name / SEALED).is_dir():
            names.add(name)
    return sorted(names)


def _heal_store_file(folder: Path, disk: Disk, copy: _Copy) -> list[str]:
    """Write ``store.json`` anew from what the files of the store say of themselves."""
    owners = _owners(folder, disk)
    try:
        known = read_store_file(folder, disk)[0]
    except FieldlogError:
        owner = TEAM if folder.name == TEAM else next(iter(owners), None)
    else:
        # An id that no file of the store agrees with was damaged, if the copy has the other one.
        strange = known not in owners and len(owners) == 1 and owners <= copy.store_ids
        owner = next(iter(owners)) if strange else None
    if owner is None:
        return []
    body = {"format": FORMAT, "id": owner, "kind": "team" if folder.name == TEAM else "site"}
    disk.write_file(folder / STORE_FILE, orjson.dumps(body) + b"\n")
    return [f"{STORE_FILE}: written anew"]


def _owners(folder: Path, disk: Disk) -> set[str]:
    owners = set()
    for path in [folder / ACTIVE, *(folder / SEALED / name for name in disk.names(folder / SEALED))]:
        try:
            descriptor = disk.open_read(path)
        except OSError:
            continue
        try:
            header = first_line(disk, descriptor)[0]
        finally:
            disk.close(descriptor)
        if header is not None and header.format <= FORMAT:
            owners.add(header.store)
    return owners


def _heal_store(folder: Path, workspace: Workspace, copy: _Copy) -> list[str]:
    done = _patch_active(folder, workspace, copy)
    try:
        store = Store(folder, device=workspace.device, disk=workspace.disk)
    except FieldlogError:
        return done
    with store:
        if any(problem.kind == "torn" for problem in store.problems()):
            with store.writing():
                done.append(f"{ACTIVE}: the torn end was set aside")
        done += _bring_sealed(store, copy)
        done += _bring_active(store, copy)
        done += _bring_traces(store, copy)
        done += _heal_aside(store, workspace.disk, copy)
        if store.kind == "team":
            done += _bring_persons(Persons(store, disk=workspace.disk), copy)
    return done


def _patch_active(folder: Path, workspace: Workspace, copy: _Copy) -> list[str]:
    """Write damaged lines of the active file anew in place, from a copy that has them whole."""
    try:
        store = Store(folder, device=workspace.device, disk=workspace.disk)
    except FieldlogError:
        return []
    with store:
        stretches = store.damaged_stretches()
        if not stretches:
            return []
        with store.writing():
            data = workspace.disk.read_file(folder / ACTIVE)
            patches = _patches(data, stretches, copy.line_files())
            if patches:
                descriptor = workspace.disk.open_patch(folder / ACTIVE)
                try:
                    for offset, line in patches.items():
                        workspace.disk.write_at(descriptor, offset, line)
                    workspace.disk.fsync(descriptor)
                finally:
                    workspace.disk.close(descriptor)
    return [f"{ACTIVE}: the line at byte {offset} was healed" for offset in patches]


def _patches(data: bytes, stretches: list[tuple[int, int]], candidates: Iterable[bytes]) -> dict[int, bytes]:
    """Return whole lines for damaged stretches, from files that agree with ``data`` everywhere else."""
    found: dict[int, bytes] = {}
    for candidate in candidates:
        for offset, length in stretches:
            line = candidate[offset : offset + length]
            if offset in found or not line.endswith(b"\n") or not _agrees(data, candidate, stretches):
                continue
            try:
                unframe(line[:-1])
            except LineError:
                continue
            found[offset] = line
    return found


def _agrees(data: bytes, candidate: bytes, stretches: list[tuple[int, int]]) -> bool:
    position, agreed = 0, 0
    for offset, length in [*stretches, (min(len(data), len(candidate)), 0)]:
        if data[position:offset] != candidate[position:offset]:
            return False
        agreed += max(offset - position, 0)
        position = offset + length
    return agreed > 0


def _bring_sealed(store: Store, copy: _Copy) -> list[str]:
    done = []
    hurt = {
        problem.file.removeprefix(f"{SEALED}/") for problem in store.problems() if problem.kind == "damaged"
    }
    for name in copy.sealed():
        if name in store.sealed_names() and name not in hurt:
            continue
        for data in copy.versions(name):
            try:
                store.receive(name, data)
            except InputError:
                continue
            done.append(f"{SEALED}/{name}: {'healed' if name in hurt else 'brought'}")
            break
    return done


def _bring_active(store: Store, copy: _Copy) -> list[str]:
    """Bring what only the copy's active files hold, as a sealed file."""
    done = []
    for path in copy.active:
        header, lines, revisions = _whole_lines(copy.read(path))
        if header is None or header.store != store.id or header.format > FORMAT:
            continue
        fresh = sum(1 for revision in revisions if store.revision(revision.id) is None)
        if fresh:
            data = b"".join(lines)
            name = hashlib.sha256(data).hexdigest() + ".jsonl"
            store.receive(name, data)
            done.append(f"{SEALED}/{name}: {fresh} lost changes were brought")
    return done


def _whole_lines(data: bytes) -> tuple[Header | None, list[bytes], list[Revision]]:
    header: Header | None = None
    lines: list[bytes] = []
    revisions: list[Revision] = []
    for number, line in enumerate(data.split(b"\n")[:-1]):
        try:
            payload = unframe(line)
            if number == 0:
                header = Header.read(payload)
            elif payload.startswith(b"["):
                revisions += read_commit(payload)
        except LineError:
            continue
        lines.append(line + b"\n")
    return header, lines, revisions


def _bring_traces(store: Store, copy: _Copy) -> list[str]:
    from fieldlog.store.audit import trace_problems

    done = []
    for problem in [*store.traces.problems(), *trace_problems(store)]:
        file = problem.file.rpartition("/")[2]
        if problem.kind not in ("damaged", "missing_trace"):
            continue
        for packed in copy.versions(file):
            try:
                store.traces.receive(file.removesuffix(".csv.gz"), packed)
            except FieldlogError:
                continue
            done.append(f"{problem.file}: {'healed' if problem.kind == 'damaged' else 'brought'}")
            break
    return done


def _bring_persons(persons: Persons, copy: _Copy) -> list[str]:
    done = []
    for problem in persons.problems():
        name = problem.file.removeprefix(f"{PERSONS}/")
        if problem.kind != "damaged":
            continue
        for data in copy.versions(name):
            try:
                kept = persons.receive(name, data)
            except InputError:
                continue
            if kept:
                done.append(f"{problem.file}: healed")
            break
    return done


def _heal_aside(store: Store, disk: Disk, copy: _Copy) -> list[str]:
    """Put what was set aside damaged to rest once every record of it is here."""
    done = []
    folder = store.path / ASIDE
    for name in disk.names(folder):
        if not name.startswith("damaged-"):
            continue
        data = copy.read(folder / name)
        stretches = _bad_stretches(data)
        patches = _patches(data, stretches, copy.line_files())
        revisions = [r for line in patches.values() for r in _revisions(line)]
        if len(patches) == len(stretches) and all(store.revision(revision.id) for revision in revisions):
            disk.replace(folder / name, folder / name.replace("damaged-", "healed-", 1))
            done.append(f"{ASIDE}/{name}: all its records are here")
    return done


def _bad_stretches(data: bytes) -> list[tuple[int, int]]:
    found, offset = [], 0
    for line in data.split(b"\n")[:-1]:
        try:
            unframe(line)
        except LineError:
            found.append((offset, len(line) + 1))
        offset += len(line) + 1
    return found


def _revisions(line: bytes) -> list[Revision]:
    payload = unframe(line[:-1])
    return read_commit(payload) if payload.startswith(b"[") else []
