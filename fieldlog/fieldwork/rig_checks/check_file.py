"""Reading a check file: every fault is one line that names the file, the field and what to do."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from fieldlog.errors import InputError
from fieldlog.records.base import first_fault
from fieldlog.records.rig_check import CheckEntry

__all__ = ["MAX_CHECK_FILE_BYTES", "read_check_entry", "read_check_file"]

MAX_CHECK_FILE_BYTES = 5_000_000
LONGEST_SAID = 300  # a hostile key may be a file long; what is said of it is not

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

    Raises InputError (file, line or field, what is wrong, what to do) for anything that is no check file,
    OSError where the file cannot be read.
    """
    name = str(path)
    with path.open("rb") as stream:
        content = stream.read(MAX_CHECK_FILE_BYTES + 1)
    if len(content) > MAX_CHECK_FILE_BYTES:
        raise InputError(f"{name}: larger than a check file ever is", "name the JSON file of one rig check")
    if not content.strip():
        raise InputError(f"{name}: the file is empty", "name the JSON file of one rig check")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"{name}: line {line} is no UTF-8 text", "save the check file as UTF-8 JSON"
        ) from None
    return read_check_entry(_parse(text, name), name)


def read_check_entry(body: Any, name: str) -> CheckEntry:
    """Return the check in the JSON value ``body``; ``name`` is what faults are reported under."""
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


def _parse(text: str, name: str) -> Any:
    def unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        body = dict(pairs)
        if len(body) != len(pairs):
            keys = [key for key, _ in pairs]
            twice = next(key for key in keys if keys.count(key) > 1)
            raise InputError(
                f"{name}: {twice[:LONGEST_SAID]} stands twice in one object", "keep the right one"
            )
        return body

    try:
        return json.loads(text, object_pairs_hook=unique)
    except json.JSONDecodeError as error:
        raise InputError(
            f"{name}: line {error.lineno}, column {error.colno}: {error.msg}", "correct the JSON there"
        ) from None
    except (RecursionError, ValueError):
        raise InputError(
            f"{name}: nested or written beyond reason", "name the JSON file of one rig check"
        ) from None
