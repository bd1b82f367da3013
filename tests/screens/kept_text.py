"""Rooms as text, held against what was looked at and kept in ``goldens/``."""

import os
from pathlib import Path

GOLDENS = Path(__file__).parent / "goldens"


def assert_as_kept(name: str, text: str) -> None:
    """Hold a room's text against its kept form; FIELDLOG_WRITE_GOLDENS=1 writes it first, to be looked at."""
    path = GOLDENS / name
    text = "\n".join(line.rstrip() for line in text.splitlines()).rstrip() + "\n"
    if os.environ.get("FIELDLOG_WRITE_GOLDENS"):
        path.write_text(text, encoding="utf-8")
    assert text == path.read_text(encoding="utf-8")
