"""What many tests start from: a copy of the invented sample workspace, and a command run in this process."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import orjson
import pytest

from fieldlog.store.workspace import Workspace

SAMPLE = Path(__file__).resolve().parents[1] / "sample_sites"


@dataclass(frozen=True)
class Outcome:
    """What a command left: its status and what it printed."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> dict:
        return orjson.loads(self.out)


@pytest.fixture
def fieldlog(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Outcome]:
    """Run ``fieldlog ARGUMENT …`` and give status, standard output and standard error."""
    from fieldlog.cli.main import main

    monkeypatch.setenv("FIELDLOG_BY", "tester 1")

    def run(*arguments: object) -> Outcome:
        capsys.readouterr()
        with pytest.raises(SystemExit) as left:
            main([str(argument) for argument in arguments])
        printed = capsys.readouterr()
        return Outcome(int(left.value.code or 0), printed.out, printed.err)

    return run


@pytest.fixture
def sample_folder(tmp_path: Path) -> Path:
    """A copy of the sample workspace."""
    return Path(shutil.copytree(SAMPLE, tmp_path / "sample"))


@pytest.fixture
def sample(sample_folder: Path) -> Iterator[Workspace]:
    """The copy of the sample workspace, open."""
    with Workspace.open(sample_folder) as workspace:
        yield workspace
