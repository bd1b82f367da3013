"""Reading a column map from its file: one clear line where it is wrong."""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from fieldlog.errors import InputError
from fieldlog.fieldwork.json_file import read_json_file
from fieldlog.records.base import first_fault
from fieldlog.records.column_map import ColumnMap

__all__ = ["read_column_map"]

_LARGEST_MAP_KB = 256


def read_column_map(source: Path) -> ColumnMap:
    """Read a column map file (JSON). Raises InputError naming the file, the field and what is wrong."""
    body = read_json_file(source, source.name, kind="column map", largest_kb=_LARGEST_MAP_KB)
    if not isinstance(body, dict):
        raise InputError(
            f"{source.name}: holds no JSON object", "a column map is one object with time, angle and torque"
        )
    try:
        return ColumnMap.model_validate(body)
    except ValidationError as error:
        raise InputError(
            f"{source.name}: {first_fault(error)}", "correct that entry of the column map"
        ) from None
