"""A JSON file that somebody hands over → its value, or one line that says what is wrong with it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from fieldlog.errors import InputError

__all__ = ["read_json_file"]

_LONGEST_SAID = 300  # a hostile key may be a file long; what is said of it is not


def read_json_file(path: Path, name: str, *, kind: str, largest_kb: int) -> Any:
    """Return the JSON value in ``path``: UTF-8, with or without byte order mark, no key twice in an object.

    ``name`` is what messages call the file, ``kind`` what it should be ("rig check"). Raises InputError
    naming file and line for anything else, and for a file larger than ``largest_kb`` kilobytes.
    """
    hint = f"name the JSON file of one {kind}"
    try:
        with path.open("rb") as stream:
            content = stream.read(largest_kb * 1024 + 1)
    except OSError as error:
        raise InputError(f"{name}: {error.strerror or error}", hint) from None
    if len(content) > largest_kb * 1024:
        raise InputError(f"{name}: larger than {largest_kb} KB, as no {kind} is", hint)
    if not content.strip():
        raise InputError(f"{name}: the file is empty", hint)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise InputError(f"{name}, line {line}: the text is not UTF-8", "save it as JSON in UTF-8") from None
    return _parsed(text, name, hint)


def _parsed(text: str, name: str, hint: str) -> Any:
    def unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        body = dict(pairs)
        if len(body) != len(pairs):
            keys = [key for key, _ in pairs]
            twice = next(key for key in keys if keys.count(key) > 1)
            raise InputError(
                f"{name}: {twice[:_LONGEST_SAID]} stands twice in one object", "keep the right one"
            )
        return body

    try:
        return json.loads(text, object_pairs_hook=unique)
    except json.JSONDecodeError as error:
        raise InputError(
            f"{name}, line {error.lineno}, column {error.colno}: not JSON ({error.msg})",
            "correct the JSON there",
        ) from None
    except (RecursionError, ValueError):
        raise InputError(f"{name}: nested or written beyond reason", hint) from None
