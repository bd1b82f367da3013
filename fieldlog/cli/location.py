"""Which workspace a command works on, and who is at the keyboard."""

from __future__ import annotations

import getpass
import os
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fieldlog.store.workspace import Workspace

__all__ = ["open_workspace", "who", "workspace_path"]


def workspace_path(given: str | None) -> Path:
    """Return the workspace folder: ``given``, else FIELDLOG_WORKSPACE, else the platform's user data folder."""
    named = given or os.environ.get("FIELDLOG_WORKSPACE")
    if named:
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("fieldlog", appauthor=False) / "workspace"


def open_workspace(given: str | None) -> Workspace:
    """Open the workspace a command works on; InputError where the folder is none."""
    from fieldlog.store.workspace import Workspace

    return Workspace.open(workspace_path(given))


def who() -> str:
    """Return who is at the keyboard: FIELDLOG_BY, else the system's user name."""
    named = os.environ.get("FIELDLOG_BY", "").strip()
    if named:
        return named[:200]
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "unknown"
