"""A count with its word."""

from __future__ import annotations

__all__ = ["counted"]


def counted(count: int, one: str, many: str = "") -> str:
    """Return a count with its word, such as ``1 file`` and ``3 files``; ``many`` where it is not ``one`` with an s."""
    return f"{count} {one if count == 1 else many or one + 's'}"
