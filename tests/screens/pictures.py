"""The kept texts of the rooms as a section of markdown: ``python -m tests.screens.pictures [SIZE]``."""

from __future__ import annotations

import sys
from pathlib import Path

__all__ = ["section"]

GOLDENS = Path(__file__).parent / "goldens"
ROOMS = {
    "places": "Places: where to, and is anything left undone?",
    "day_2": "Day, opening check",
    "check": "A check under way: the next mass, and am I still inside?",
    "bench": "Bench: ninety seconds between two athletes",
    "set": "A set: the verdict while the athlete is still strapped in",
    "rig_log": "Rig log: can it be trusted?",
    "touched_results": "What a failed check touches",
    "people": "Squad: who changed, and by more than error alone",
    "shared": "Exchange: what is not yet shared",
    "settings": "Settings: what holds on this laptop",
}


def section(size: str = "80x24") -> str:
    """Return the rooms that are kept at ``size``, each under its title in a block of text."""
    parts = []
    for room, title in ROOMS.items():
        path = GOLDENS / f"{room}_{size}.txt"
        if path.is_file():
            parts.append(f"### {title}\n\n```text\n{path.read_text(encoding='utf-8').rstrip()}\n```\n")
    visit = (GOLDENS / "visit_by_keys.txt").read_text(encoding="utf-8").rstrip()
    parts.append(f"### A whole visit by keys alone\n\n```text\n{visit}\n```\n")
    return "\n".join(parts)


if __name__ == "__main__":
    sys.stdout.write(section(*sys.argv[1:2]))
