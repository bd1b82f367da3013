"""The kept texts of the rooms as they stand in the README; ``python -m tests.screens.pictures`` renews them."""

from __future__ import annotations

from pathlib import Path

__all__ = ["README", "in_readme", "section"]

GOLDENS = Path(__file__).parent / "goldens"
README = Path(__file__).parents[2] / "README.md"
BEGIN, END = "<!-- rooms -->\n", "<!-- end of rooms -->"
ROOMS = {
    "places": "Places: where to, and is anything left undone?",
    "check": "A check under way: the next mass, and am I still inside?",
    "bench": "Bench: ninety seconds between two athletes",
    "set": "A set: the verdict while the athlete is still strapped in",
    "day_3": "Day, the third of its five stages: who is next",
    "rig_log": "Rig log: can it be trusted?",
    "touched_results": "What a failed check touches",
    "people": "Squad: who changed, and by more than error alone",
    "shared": "Exchange: what is not yet shared",
    "settings": "Settings: what holds on this laptop",
}


def section() -> str:
    """Return the rooms at 80×24, each under its title in a block of text, and the keys of a whole visit."""
    parts = []
    for room, title in ROOMS.items():
        picture = _short((GOLDENS / f"{room}_80x24.txt").read_text(encoding="utf-8"))
        parts.append(f"{title}\n```text\n{picture}\n```\n")
    visit = (GOLDENS / "visit_by_keys.txt").read_text(encoding="utf-8").rstrip()
    parts.append(f"A whole visit by keys alone, as a test presses them\n```text\n{visit}\n```\n")
    return "\n".join(parts)


def in_readme(text: str) -> str:
    """Return the README with the section as the rooms look now."""
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}{section()}{END}{after}"


def _short(picture: str) -> str:
    """Take the empty lines out of a picture: on paper nobody has to see how tall the terminal is."""
    return "\n".join(line for line in picture.rstrip().splitlines() if line.strip())


if __name__ == "__main__":
    README.write_text(in_readme(README.read_text(encoding="utf-8")), encoding="utf-8")
