"""The files of a locked workspace, and how to tell that one is locked."""

from __future__ import annotations

from pathlib import Path

__all__ = ["KEYS_FILE", "KEY_FILE", "LOCKED_FILE", "is_locked"]

LOCKED_FILE = "locked.age"
KEY_FILE = "key.age"
KEYS_FILE = "keys.json"


def is_locked(path: Path) -> bool:
    """Tell whether a folder is a locked workspace."""
    return (path / LOCKED_FILE).is_file()
