"""Reading a check file: every fault is one line that names the file, the field and what to do."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from fieldlog.errors import InputError
from fieldlog.fieldwork.json_file import read_json_file
from fieldlog.records.base import first_fault
from fieldlog.records.check_entry import CheckEntry

__all__ = ["named_after", "read_check_entry", "read_check_file"]

LARGEST_CHECK_KB = 5_000

_HINTS = {
    "extra_forbidden": "take the field out or correct its name",
    "finite_number": "write the number the display showed",
    "too_short": "give at least one point with a mass on the lever",
    "missing": "add the field",
    "float_type": "write a plain number with a decimal point and no quotes",
    "greater_than": "correct the number; it must be above zero",
}


def read_check_file(path: Path) -> CheckEntry:
    """Return the check in the JSON file ``path``.

    Raises InputError (file, line or field, what is wrong, what to do) for anything that is no check file.
    """
    name = str(path)
    return read_check_entry(read_json_file(path, name, kind="rig check", largest_kb=LARGEST_CHECK_KB), name)


def read_check_entry(body: Any, name: str) -> CheckEntry:
    """Return the check in the JSON value ``body``.

    Raises InputError with ``name`` (of the file), the first wrong field, what is wrong and what to do.
    """
    if not isinstance(body, dict):
        raise InputError(f"{name}: holds no JSON object", "a check file is one object with rig, at, torque …")
    try:
        return CheckEntry.model_validate(body)
    except ValidationError as error:
        fault = error.errors(include_url=False, include_context=False, include_input=False)[0]
        place = first_fault(error).replace(".@name", "").replace(".@numbers", "")
        raise InputError(
            f"{name}: {place}", _HINTS.get(fault["type"], "correct it and run the check again")
        ) from None


@contextmanager
def named_after(path: Path) -> Iterator[None]:
    """Name the check file in a fault that shows only when its check is judged, as an unknown tolerance set."""
    try:
        yield
    except InputError as error:
        raise InputError(f"{path}: {error.message}", error.hint) from None
