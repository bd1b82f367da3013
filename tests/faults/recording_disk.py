"""A disk that remembers every call, and every state a power cut could have left behind.

The model is the strict one: a file's bytes are durable after its fsync, a name after the fsync of
its folder. What was not flushed may be there, be missing, be torn at any byte, have arrived in
another order, or be followed by old garbage.
"""

from __future__ import annotations

import itertools
import os
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.failing_disk import HastyDisk

GARBAGE = b'\0\0\0\0"],["old bytes of another file\n\0\0'


@dataclass
class File:
    """One file: its durable bytes, and the calls on it that were not flushed since."""

    durable: bytes = b""
    pending: list = field(default_factory=list)

    def apply(self, calls):
        data = bytearray(self.durable)
        for call in calls:
            if call[0] == "truncate":
                del data[call[1] :]
                data.extend(bytes(call[1] - len(data)))
            else:
                _, offset, written = call
                data.extend(bytes(max(offset - len(data), 0)))
                data[offset : offset + len(written)] = written
        return bytes(data)


class RecordingDisk(HastyDisk):
    """Does the calls and logs them; ``mark`` puts the test's own events into the log."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.log: list[tuple] = []
        self._paths: dict[int, Path] = {}

    def mark(self, event):
        self.log.append(("mark", event))

    def open_append(self, path):
        fresh = not path.exists()
        descriptor = super().open_append(path)
        self._paths[descriptor] = path
        if fresh:
            self.log.append(("create", self._name(path)))
        return descriptor

    def open_patch(self, path):
        descriptor = super().open_patch(path)
        self._paths[descriptor] = path
        return descriptor

    def write(self, descriptor, data):
        append = self._paths[descriptor]
        offset = os.fstat(descriptor).st_size
        count = super().write(descriptor, data)
        self.log.append(("write", self._name(append), offset, bytes(data[:count])))
        return count

    def fsync(self, descriptor):
        if descriptor in self._paths:
            self.log.append(("fsync", self._name(self._paths[descriptor])))

    def fsync_folder(self, path):
        self.log.append(("fsync_folder", self._name(path)))

    def truncate(self, descriptor, length):
        super().truncate(descriptor, length)
        self.log.append(("truncate", self._name(self._paths[descriptor]), length))

    def replace(self, source, target):
        super().replace(source, target)
        self.log.append(("replace", self._name(source), self._name(target)))

    def remove(self, path):
        super().remove(path)
        self.log.append(("remove", self._name(path)))

    def _name(self, path):
        return path.relative_to(self.root).as_posix()


class Media:
    """What the calls of a log leave on the medium, and what a power cut may make of it."""

    def __init__(self):
        self.names: dict[str, File] = {}
        self.durable_names: dict[str, File] = {}
        self.pending_names: list[tuple] = []

    def do(self, call):
        match call:
            case ("create", name):
                self.names[name] = File()
                self.pending_names.append(("link", name, self.names[name]))
            case ("write", name, offset, data):
                self.names[name].pending.append(("write", offset, data))
            case ("truncate", name, length):
                self.names[name].pending.append(("truncate", length))
            case ("fsync", name):
                file = self.names[name]
                file.durable, file.pending = file.apply(file.pending), []
            case ("replace", source, target):
                self.names[target] = self.names.pop(source)
                self.pending_names.append(("move", source, target, self.names[target]))
            case ("remove", name):
                if self.names.pop(name, None) is not None:
                    self.pending_names.append(("unlink", name))
            case ("fsync_folder", folder):
                inside = [step for step in self.pending_names if _folder(step) == folder]
                self.durable_names = _named(self.durable_names, inside)
                self.pending_names = [step for step in self.pending_names if _folder(step) != folder]

    def cuts(self):
        """Yield every state a power cut right now could leave, as names and bytes."""
        for kept in _subsets(self.pending_names):
            names = _named(self.durable_names, kept)
            open_files = [file for file in {id(f): f for f in names.values()}.values() if file.pending]
            choices = [_survivals(file) for file in open_files]
            for chosen in itertools.product(*choices):
                content = {id(file): data for file, data in zip(open_files, chosen, strict=True)}
                yield {name: content.get(id(file), file.durable) for name, file in names.items()}

    def torn(self, name):
        """Yield the states a power cut within the last write to a file could leave, byte by byte."""
        file = self.names[name]
        *before, (_, offset, data) = file.pending
        for length in range(len(data)):
            for tail in (b"", GARBAGE, bytes(len(data) - length)):
                torn = file.apply([*before, ("write", offset, data[:length] + tail)])
                yield {n: torn if f is file else f.apply(f.pending) for n, f in self.names.items()}


def _survivals(file):
    """Return what may be left of a file's unflushed calls: each subset, and garbage beyond its end."""
    found = {file.apply(kept) for kept in _subsets(file.pending)}
    return [*found, file.apply(file.pending) + GARBAGE]


def _subsets(calls):
    calls = list(calls)
    if len(calls) > 4:  # more never lie unflushed for long; then all prefixes do
        return [calls[:length] for length in range(len(calls) + 1)]
    return [
        [call for call, kept in zip(calls, flags, strict=True) if kept]
        for flags in itertools.product((False, True), repeat=len(calls))
    ]


def _named(names, steps):
    after = dict(names)
    for step in steps:
        if step[0] == "link":
            after[step[1]] = step[2]
        elif step[0] == "move":
            after.pop(step[1], None)
            after[step[2]] = step[3]
        else:
            after.pop(step[1], None)
    return after


def _folder(step):
    return Path(step[1]).parent.as_posix()


def lay_out(state, folder):
    """Write a state into an empty folder."""
    for name, data in state.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
