"""Which movements and holds count. Loads nothing, so that what is kept can be asked without the numbers."""

from __future__ import annotations

from collections.abc import Collection

__all__ = ["OUT", "counts"]

OUT = frozenset(("dropped", "left_out"))
"""Flags of what is listed and counts in no figure of a set."""


def counts(flags: Collection[str]) -> bool:
    """Tell from its flags whether a movement or hold counts in the figures of a set."""
    return OUT.isdisjoint(flags)
