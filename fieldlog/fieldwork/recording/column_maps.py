"""Reading a column map, or options, from what a person wrote: one clear line where it is wrong."""

from __future__ import annotations

from pathlib import Path

import orjson
from pydantic import ValidationError

from fieldlog.errors import InputError
from fieldlog.records.base import first_fault
from fieldlog.records.column_map import ColumnMap

__all__ = ["read_column_map"]

_LARGEST_MAP_BYTES = 256 * 1024


def read_column_map(source: Path) -> ColumnMap:
    """Read a column map file (JSON). Raises InputError naming the file, the field and what is wrong."""
    try:
        with source.open("rb") as file:
            data = file.read(_LARGEST_MAP_BYTES + 1)
    except OSError as error:
        raise InputError(
            f"{source}: {error.strerror or error}", "name a column map that can be read"
        ) from None
    if len(data) > _LARGEST_MAP_BYTES:
        raise InputError(f"{source.name}: larger than 256 KB", "this is no column map")
    try:
        body = orjson.loads(data.removeprefix(b"\xef\xbb\xbf"))
    except orjson.JSONDecodeError as error:
        raise InputError(
            f"{source.name}, line {error.lineno}: not JSON ({error.msg})", "write it as JSON in UTF-8"
        ) from None
    try:
        return ColumnMap.model_validate(body)
    except ValidationError as error:
        raise InputError(f"{source.name}: {first_fault(error)}", "see 'fieldlog trace --help'") from None
