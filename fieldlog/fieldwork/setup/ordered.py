"""Parts in order, each under a key of its own: steps of a plan, questions of a form."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from typing import Protocol, TypeVar

from fieldlog.errors import InputError

__all__ = ["Keyed", "moved", "new_key", "put", "read_yes_no", "without"]

LONGEST_KEY = 40


class Keyed(Protocol):
    """A part with a key."""

    @property
    def key(self) -> str:
        """What the part is found by."""
        ...


K = TypeVar("K", bound=Keyed)


def moved(parts: Sequence[K], key: str, by: int) -> tuple[K, ...]:
    """Return the parts with the one under ``key`` moved by places, as far as there are any."""
    place = next(index for index, part in enumerate(parts) if part.key == key)
    others = [part for part in parts if part.key != key]
    others.insert(min(max(place + by, 0), len(others)), parts[place])
    return tuple(others)


def without(parts: Sequence[K], key: str) -> tuple[K, ...]:
    """Return the parts without the one under ``key``."""
    return tuple(part for part in parts if part.key != key)


def put(parts: Sequence[K], part: K, *, after: str | None) -> tuple[K, ...]:
    """Return the parts with this one in the place of the one of its key, or as a new one after another."""
    if any(each.key == part.key for each in parts):
        return tuple(part if each.key == part.key else each for each in parts)
    place = next((index + 1 for index, each in enumerate(parts) if each.key == after), len(parts))
    return (*parts[:place], part, *parts[place:])


def new_key(label: str, taken: Collection[str]) -> str:
    """Return a key made from a label that none of ``taken`` is."""
    words = re.sub(r"[^a-z0-9]+", "_", label.casefold()).strip("_")
    stem = words if words[:1].isalpha() else f"step_{words}".strip("_")
    stem = stem[: LONGEST_KEY - 4]
    number, key = 1, stem
    while key in taken:
        number += 1
        key = f"{stem}_{number}"
    return key


def read_yes_no(typed: str, what: str) -> bool:
    """Return a typed yes or no; nothing is no. Raises InputError where it is neither."""
    word = typed.strip().casefold()
    if word in ("yes", "y"):
        return True
    if word in ("no", "n", "-", ""):
        return False
    raise InputError(f"{what}: {typed.strip()[:20]!r} is neither yes nor no", "type yes or no")
