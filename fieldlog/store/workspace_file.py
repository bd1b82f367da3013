"""``workspace.json`` and ``device.json``: what makes a folder a workspace, and what this copy of it is called."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import orjson

from fieldlog.errors import InputError, NewerSchemaError, StoreError
from fieldlog.store.disk import Disk
from fieldlog.store.lines import FORMAT
from fieldlog.store.lock_files import is_locked

__all__ = [
    "DEVICE_FILE",
    "WORKSPACE_FILE",
    "read_device",
    "read_workspace_file",
    "write_device",
    "write_workspace_file",
]

WORKSPACE_FILE = "workspace.json"
DEVICE_FILE = "device.json"


def write_workspace_file(path: Path, identity: str, disk: Disk) -> None:
    """Make a folder a workspace of this id."""
    disk.write_file(path / WORKSPACE_FILE, orjson.dumps({"format": FORMAT, "id": identity}) + b"\n")


def read_workspace_file(path: Path, disk: Disk) -> str | None:
    """Return the id of the workspace in a folder, None where the file is damaged: the stores do not need it.

    Raises InputError where the folder is no workspace, StoreError where it is locked or cannot be read,
    NewerSchemaError where a newer fieldlog made it.
    """
    if is_locked(path):
        raise StoreError(f"{path} is locked", f"unlock it: fieldlog --workspace {path} unlock")
    body = _read_json(path / WORKSPACE_FILE, disk)
    if body is None:
        raise InputError(f"{path} is no workspace", f"make one: fieldlog new {path}")
    layout, identity = body.get("format"), body.get("id")
    if isinstance(layout, int) and layout > FORMAT:
        raise NewerSchemaError(f"{path} was made by a newer fieldlog", "use that one, or a newer one")
    return identity if layout == FORMAT and isinstance(identity, str) else None


def write_device(path: Path, device: str, disk: Disk) -> None:
    """Name this laptop's copy of a workspace."""
    disk.write_file(path / DEVICE_FILE, orjson.dumps({"format": FORMAT, "device": device}) + b"\n")


def read_device(path: Path, disk: Disk) -> str | None:
    """Return the name of this laptop's copy of a workspace, None where it has none yet."""
    device = (_read_json(path / DEVICE_FILE, disk) or {}).get("device")
    return device if isinstance(device, str) and device else None


def _read_json(file: Path, disk: Disk) -> dict[str, Any] | None:
    try:
        body = orjson.loads(disk.read_file(file))
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as error:
        raise StoreError(f"{file}: {error.strerror or error}") from error
    except ValueError:
        return {}
    return body if isinstance(body, dict) else {}
