"""Disks that refuse: read-only, full, broken at the call that the test names, or taking half a write."""

import errno
import os

from fieldlog.store.disk import Disk


class HastyDisk(Disk):
    """Flushes nothing, for the parts of a test whose durability is not looked at."""

    def fsync(self, descriptor):
        pass

    def fsync_folder(self, path):
        pass


class ReadOnlyDisk(Disk):
    """A medium with its tab set to read-only."""

    def _refuse(self, *_arguments):
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    open_append = open_patch = write = truncate = replace = remove = write_file = _refuse


class FailingDisk(HastyDisk):
    """Counts its calls and fails at one of them, or at it and every one after.

    ``kind`` is an errno, or ``"short"``: the write takes half of its bytes and the next one fails
    with a full disk.
    """

    CALLS = (
        "open_append",
        "open_read",
        "size",
        "read_at",
        "write",
        "fsync",
        "fsync_folder",
        "truncate",
        "replace",
        "remove",
        "names",
        "read_file",
        "make_folder",
        "lock",
    )

    def __init__(self):
        self.count = 0
        self.fail_at = None
        self.kind = errno.EIO
        self.lasting = False
        self.log = []

    def arm(self, fail_at, kind, *, lasting=False):
        self.count, self.fail_at, self.kind, self.lasting = 0, fail_at, kind, lasting

    def disarm(self):
        self.fail_at = None

    def due(self, name):
        self.count += 1
        self.log.append(name)
        if self.fail_at is None:
            return False
        return self.count == self.fail_at or (self.lasting and self.count > self.fail_at)

    def write(self, descriptor, data):
        if not self.due("write"):
            return super().write(descriptor, data)
        if self.kind == "short":
            self.kind = errno.ENOSPC
            self.fail_at = self.count + 1
            return super().write(descriptor, data[: len(data) // 2])
        raise OSError(self.kind, os.strerror(self.kind))


def _failing(name):
    original = getattr(HastyDisk, name)

    def call(self, *arguments):
        if self.due(name):
            number = errno.ENOSPC if self.kind == "short" else self.kind
            raise OSError(number, os.strerror(number))
        return original(self, *arguments)

    return call


for _name in FailingDisk.CALLS:
    if _name != "write":
        setattr(FailingDisk, _name, _failing(_name))
