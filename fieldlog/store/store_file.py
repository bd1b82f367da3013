"""``store.json``: what makes a folder a store, its id and whether it is the team's or a site's."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import orjson

from fieldlog.errors import InputError, NewerSchemaError, StoreError
from fieldlog.store.disk import Disk
from fieldlog.store.lines import FORMAT

__all__ = ["STORE_FILE", "Kind", "read_store_file", "write_store_file"]

STORE_FILE = "store.json"

Kind = Literal["team", "site"]


def write_store_file(path: Path, store_id: str, kind: Kind, disk: Disk) -> None:
    """Make a folder a store."""
    body = orjson.dumps({"format": FORMAT, "id": store_id, "kind": kind})
    disk.write_file(path / STORE_FILE, body + b"\n")


def read_store_file(path: Path, disk: Disk) -> tuple[str, Kind]:
    """Return id and kind of the store in a folder.

    Raises InputError where it is none, StoreError where the file is damaged, NewerSchemaError where
    a newer fieldlog made it.
    """
    file = path / STORE_FILE
    try:
        body = orjson.loads(disk.read_file(file))
        layout, store_id, kind = body["format"], body["id"], body["kind"]
    except FileNotFoundError:
        raise InputError(f"{path} is no store of a workspace", f"there is no {STORE_FILE} in it") from None
    except OSError as error:
        raise StoreError(f"{file}: {error.strerror or error}") from error
    except (ValueError, KeyError, TypeError):
        raise StoreError(f"{file} is damaged", "heal it: fieldlog audit --repair-from another copy") from None
    if isinstance(layout, int) and layout > FORMAT:
        raise NewerSchemaError(f"{path} was made by a newer fieldlog", "use that one, or a newer one")
    if layout != FORMAT or not isinstance(store_id, str) or not store_id or kind not in ("team", "site"):
        raise StoreError(f"{file} is damaged", "heal it: fieldlog audit --repair-from another copy")
    return store_id, kind
