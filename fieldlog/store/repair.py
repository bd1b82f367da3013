"""Healing a workspace from another copy: a backup, another laptop's workspace, or a folder depot.

Everything taken from the copy is checked against its name or checksum first, so a bad copy can do
no harm; and since truth only grows, healing twice is the same as healing once.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from fieldlog.errors import FieldlogError, InputError
from fieldlog.records.base import new_id
from fieldlog.store.audit import trace_problems
from fieldlog.store.copies import Copy, bad_stretches, fitting_lines, revisions_of, whole_lines
from fieldlog.store.disk import Disk
from fieldlog.store.journal import ACTIVE, ASIDE, save_error
from fieldlog.store.lines import FORMAT
from fieldlog.store.persons import PERSONS, Persons
from fieldlog.store.scan import first_line
from fieldlog.store.sealed import SEALED, sealed_name
from fieldlog.store.store import Store
from fieldlog.store.store_file import STORE_FILE, read_store_file, write_store_file
from fieldlog.store.traces import trace_of_file
from fieldlog.store.workspace import TEAM, Workspace
from fieldlog.store.workspace_file import WORKSPACE_FILE, write_workspace_file

__all__ = ["repair"]


def repair(workspace: Workspace, source: Path) -> list[str]:
    """Heal what ``source`` has whole; return in words what was done.

    Raises InputError where ``source`` is no folder, SaveError where the disk does not take it.
    """
    if not source.is_dir():
        raise InputError(f"{source} is no folder", "name another copy of the workspace, or a depot")
    copy = Copy(source, workspace.disk)
    done = []
    try:
        if workspace.fault:
            write_workspace_file(workspace.path, new_id(), workspace.disk)
            workspace.fault = ""
            done.append(f"{WORKSPACE_FILE}: written anew")
        for name in workspace.all_folders():
            folder = workspace.path / name
            done += [f"{name}/{text}" for text in _heal_store_file(folder, workspace.disk, copy)]
            done += [f"{name}/{text}" for text in _heal_store(folder, workspace, copy)]
    except OSError as error:
        raise save_error(workspace.path, error) from error
    return done


def _heal_store_file(folder: Path, disk: Disk, copy: Copy) -> list[str]:
    """Write ``store.json`` anew from what the files of the store say of themselves."""
    owners = _owners(folder, disk)
    try:
        known = read_store_file(folder, disk)[0]
    except FieldlogError:
        owner = TEAM if folder.name == TEAM else next(iter(owners), None)
    else:
        # An id that no file of the store agrees with was damaged, if the copy has the other one.
        strange = known not in owners and len(owners) == 1 and set(owners) <= copy.store_ids
        owner = owners[0] if strange else None
    if owner is None:
        return []
    write_store_file(folder, owner, "team" if folder.name == TEAM else "site", disk)
    return [f"{STORE_FILE}: written anew"]


def _owners(folder: Path, disk: Disk) -> list[str]:
    """Return the stores that the headers of a store's files name, the one named most often first."""
    owners: Counter[str] = Counter()
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
            owners[header.store] += 1
    return [owner for owner, _ in owners.most_common()]


def _heal_store(folder: Path, workspace: Workspace, copy: Copy) -> list[str]:
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


def _patch_active(folder: Path, workspace: Workspace, copy: Copy) -> list[str]:
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
            fitting = fitting_lines(data, stretches, copy.line_files())
            if fitting:
                descriptor = workspace.disk.open_patch(folder / ACTIVE)
                try:
                    for offset, line in fitting.items():
                        workspace.disk.write_at(descriptor, offset, line)
                    workspace.disk.fsync(descriptor)
                finally:
                    workspace.disk.close(descriptor)
    return [f"{ACTIVE}: the line at byte {offset} was healed" for offset in fitting]


def _bring_sealed(store: Store, copy: Copy) -> list[str]:
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


def _bring_active(store: Store, copy: Copy) -> list[str]:
    """Bring what only the copy's active files hold, as a sealed file."""
    done = []
    for path in copy.active:
        header, lines, revisions = whole_lines(copy.read(path))
        if header is None or header.store != store.id or header.format > FORMAT:
            continue
        fresh = sum(1 for revision in revisions if store.revision(revision.id) is None)
        if fresh:
            data = b"".join(lines)
            name = sealed_name(data)
            store.receive(name, data)
            done.append(f"{SEALED}/{name}: {fresh} lost changes were brought")
    return done


def _bring_traces(store: Store, copy: Copy) -> list[str]:
    done = []
    for problem in [*store.traces.problems(), *trace_problems(store)]:
        file = problem.file.rpartition("/")[2]
        if problem.kind not in ("damaged", "missing_trace"):
            continue
        for packed in copy.versions(file):
            try:
                store.traces.receive(trace_of_file(file), packed)
            except FieldlogError:
                continue
            done.append(f"{problem.file}: {'healed' if problem.kind == 'damaged' else 'brought'}")
            break
    return done


def _bring_persons(persons: Persons, copy: Copy) -> list[str]:
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


def _heal_aside(store: Store, disk: Disk, copy: Copy) -> list[str]:
    """Put what was set aside damaged to rest once every record of it is here."""
    done = []
    folder = store.path / ASIDE
    for name in disk.names(folder):
        if not name.startswith("damaged-"):
            continue
        data = copy.read(folder / name)
        stretches = bad_stretches(data)
        fitting = fitting_lines(data, stretches, copy.line_files())
        revisions = [r for line in fitting.values() for r in revisions_of(line)]
        if len(fitting) == len(stretches) and all(store.revision(revision.id) for revision in revisions):
            disk.replace(folder / name, folder / name.replace("damaged-", "healed-", 1))
            done.append(f"{ASIDE}/{name}: all its records are here")
    return done
