"""``fieldlog lock`` and ``unlock`` with the passphrase on standard input."""

import io

import pytest

from fieldlog.cli.main import COMMANDS
from fieldlog.store.workspace import Workspace

pytest.importorskip("pyrage", reason="the optional library that locks is not installed")


def test_a_workspace_is_set_up_locked_and_unlocked(fieldlog, monkeypatch, tmp_path):
    monkeypatch.setitem(COMMANDS, "lock", ("lock", "lock"))
    monkeypatch.setitem(COMMANDS, "unlock", ("lock", "unlock"))
    path = tmp_path / "w"
    Workspace.create(path).close()

    def call(*arguments, typed=""):
        monkeypatch.setattr("sys.stdin", io.StringIO(typed))
        return fieldlog("--workspace", path, *arguments)

    assert "no keys" in call("lock").err
    made = call("lock", "--set-up", typed="four cold oars\n")
    assert made.status == 0
    assert "has lost the data" in made.out
    recovery = made.out.split("Recovery key: ")[1].split()[0]
    assert call("lock").status == 0
    refused = call("audit")
    assert (refused.status, refused.out) == (2, "")
    assert "unlock" in refused.err
    wrong = call("unlock", typed="five cold oars\n")
    assert (wrong.status, wrong.out) == (2, "")
    assert "passphrase is wrong" in wrong.err
    assert call("unlock", typed=f"{recovery}\n").status == 0
    assert call("audit").status == 0
