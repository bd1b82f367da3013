"""The house keeps its floors, its tidiness at the top, and its quick start."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def test_an_import_never_goes_up() -> None:
    from importlinter.application.use_cases import read_user_options  # noqa: F401 (fails early where it is missing)

    outcome = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert outcome.returncode == 0, outcome.stdout + outcome.stderr


def test_the_top_level_holds_only_what_belongs_there() -> None:
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "fieldlog",
        "tests",
        "sample_sites",
        "dist",
        "build",
    }
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    found = {name for name in found if not name.endswith(".egg-info") and name != "__pycache__"}
    assert found <= allowed


HEAVY = ("numpy", "scipy", "reportlab", "textual", "xlsxwriter", "psycopg", "fsspec")


@pytest.mark.parametrize(
    ("start", "unwanted"),
    [
        ("import fieldlog.cli.main", (*HEAVY, "pydantic", "tinydb")),
        ("import fieldlog.cli.main as m; m.fieldlog.get_command(None, 'trace')", HEAVY),
        ("import fieldlog.cli.main as m; m.fieldlog.get_command(None, 'check')", HEAVY),
        ("import fieldlog.analysis.gravity", (*HEAVY, "pydantic", "tinydb")),
        ("import fieldlog.records.visit, fieldlog.store.workspace, fieldlog.fieldwork.visit.visits", HEAVY),
        ("import fieldlog.screens.app", tuple(name for name in HEAVY if name != "textual")),
    ],
)
def test_nothing_heavy_is_loaded_before_it_is_needed(start: str, unwanted: tuple[str, ...]) -> None:
    code = f"import sys\n{start}\nprint(' '.join(name for name in {unwanted!r} if name in sys.modules))"
    outcome = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert outcome.stdout.split() == []
