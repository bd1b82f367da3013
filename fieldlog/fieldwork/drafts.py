"""Drafts: what was typed and is no record yet, kept beside the stores so that a killed program loses nothing."""

from __future__ import annotations

import contextlib
import hashlib
import os
from pathlib import Path
from typing import Any

import orjson

__all__ = ["Drafts"]


class Drafts:
    """One small file a draft in the ``drafts`` folder of a workspace. No record is ever made from it unasked."""

    def __init__(self, workspace_path: Path) -> None:
        self.folder = workspace_path / "drafts"

    def save(self, name: str, body: dict[str, Any]) -> None:
        """Keep ``body`` under ``name``; it is on disk before this returns. Raises OSError where it cannot be."""
        self.folder.mkdir(exist_ok=True)
        path = self._path(name)
        other = path.with_suffix(".new")
        with other.open("wb") as file:
            file.write(orjson.dumps({"draft": path.stem, "body": body}))
            file.flush()
            os.fsync(file.fileno())
        other.replace(path)

    def load(self, name: str) -> dict[str, Any] | None:
        """The draft kept under ``name``, or ``None`` where there is none that can be read."""
        for path in (self._path(name), self._path(name).with_suffix(".new")):
            try:
                kept = orjson.loads(path.read_bytes())
            except (OSError, ValueError):
                continue
            if (
                isinstance(kept, dict)
                and kept.get("draft") == path.stem
                and isinstance(kept.get("body"), dict)
            ):
                body: dict[str, Any] = kept["body"]
                return body
        return None

    def drop(self, name: str) -> None:
        """Forget the draft: it has become a record, or is not wanted."""
        for path in (self._path(name), self._path(name).with_suffix(".new")):
            with contextlib.suppress(FileNotFoundError):
                path.unlink()

    def _path(self, name: str) -> Path:
        return self.folder / f"{hashlib.sha256(name.encode(errors='surrogatepass')).hexdigest()[:24]}.json"
