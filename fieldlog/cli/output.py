"""How a command prints: one JSON object, or lines of text that a terminal cannot be tricked by."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import Any

import click
import orjson

__all__ = ["json_option", "print_json", "print_line"]

json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print exactly one JSON object and nothing else. Example: --json"
)


def print_json(body: Mapping[str, Any]) -> None:
    """Print ``body`` as one line of JSON; NaN and infinities become null."""
    sys.stdout.write(orjson.dumps(body, option=orjson.OPT_SERIALIZE_NUMPY).decode() + "\n")


def print_line(text: str = "") -> None:
    """Print one line; control and escape characters of hostile names are shown as spaces."""
    shown = "".join(character if character.isprintable() else " " for character in text)
    print(shown.rstrip())
