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


def test_a_stick_is_locked_while_empty_and_opened_once_on_every_laptop(fieldlog, monkeypatch, tmp_path):
    monkeypatch.setattr("fieldlog.exchange.depot_keys.SCRYPT_N", 1 << 10)
    ours, theirs, stick = tmp_path / "ours", tmp_path / "theirs", tmp_path / "stick"
    for path in (ours, theirs):
        Workspace.create(path).close()

    def call(workspace, *arguments, typed=""):
        monkeypatch.setattr("sys.stdin", io.StringIO(typed))
        return fieldlog("--workspace", workspace, *arguments)

    both = call(ours, "lock", "--set-up", "--depot", stick)
    assert (both.status, both.out) == (2, "")
    made = call(ours, "lock", "--depot", stick, typed="four cold oars\n")
    assert made.status == 0
    assert "has lost the data" in made.out
    assert call(ours, "sync", stick).status == 0
    refused = call(theirs, "sync", stick)
    assert refused.out == ""
    assert f"fieldlog unlock --depot {stick}" in refused.err
    wrong = call(theirs, "unlock", "--depot", stick, typed="five cold oars\n")
    assert (wrong.status, wrong.out) == (2, "")
    assert call(theirs, "unlock", "--depot", stick, typed="four cold oars\n").status == 0
    assert call(theirs, "sync", stick).status == 0
