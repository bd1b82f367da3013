"""ctrl+c in a command: one line says so, and nothing else is written."""

import pytest

from fieldlog.cli.main import main
from fieldlog.store.workspace import Workspace


def test_a_command_that_is_stopped_says_so_in_one_line(tmp_path, monkeypatch, capsys):
    def press_ctrl_c(*_arguments, **_options):
        raise KeyboardInterrupt

    monkeypatch.setattr(Workspace, "create", press_ctrl_c)
    with pytest.raises(SystemExit) as ended:
        main(["new", str(tmp_path / "w")])
    assert ended.value.code == 2
    written = capsys.readouterr()
    assert written.out == ""
    assert written.err.splitlines() == [
        "fieldlog: stopped; nothing was changed by the step that was interrupted"
    ]
