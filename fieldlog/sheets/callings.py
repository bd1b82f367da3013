"""How a page calls an athlete: by code, or by name where names were chosen."""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["Callings"]


class Callings:
    """Names by code; a code without a name stands for itself."""

    def __init__(self, names: Mapping[str, str]) -> None:
        self._names = names

    def __call__(self, code: str) -> str:
        """The name of a code, or the code."""
        return self._names.get(code, code)
