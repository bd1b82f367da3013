"""The application in a real pseudo-terminal, driven by a terminal multiplexer."""

import os
import shutil
import subprocess
import sys
import time

import pytest

TMUX = shutil.which("tmux")
pytestmark = pytest.mark.skipif(TMUX is None, reason="tmux is not installed")


class Terminal:
    def __init__(self, socket, command, environment, size):
        self.socket = socket
        assignments = " ".join(f"{name}='{value}'" for name, value in environment.items())
        width, height = map(str, size)
        script = f"env {assignments} {command}; echo left with $?; sleep 60"
        self.tmux("new-session", "-d", "-s", "it", "-x", width, "-y", height, script)

    def tmux(self, *arguments):
        done = subprocess.run(
            [TMUX, "-S", self.socket, *arguments], capture_output=True, text=True, check=True
        )
        return done.stdout

    @property
    def text(self):
        return self.tmux("capture-pane", "-p", "-t", "it")

    def press(self, *keys):
        self.tmux("send-keys", "-t", "it", *keys)

    def wait_for(self, words, seconds=20):
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            if words in self.text:
                return
            time.sleep(0.1)
        raise AssertionError(f"{words!r} does not come:\n{self.text}")


@pytest.fixture
def terminal(tmp_path_factory, sample_folder):
    # The path of a socket must be short.
    socket = str(tmp_path_factory.mktemp("t") / "s")
    opened = []

    def open_terminal(**environment):
        environment |= {
            "FIELDLOG_TODAY": "2026-05-06",
            "FIELDLOG_BY": "Kim",
            "FIELDLOG_SETTINGS": str(sample_folder / "none.toml"),
            "PYTHONPATH": os.pathsep.join(entry for entry in sys.path if entry),
        }
        program = "import sys; from fieldlog.cli.main import main; main(sys.argv[1:])"
        command = f'{sys.executable} -c "{program}" open {sample_folder}'
        opened.append(Terminal(socket, command, environment, (80, 24)))
        return opened[-1]

    yield open_terminal
    for each in opened:
        each.tmux("kill-server")


@pytest.mark.parametrize("environment", [{}, {"NO_COLOR": "1"}])
def test_a_check_is_begun_broken_off_and_found_again_in_a_terminal(terminal, environment):
    session = terminal(**environment)
    session.wait_for("Skarvik boathouse")
    session.wait_for("3 sites")
    session.press("Enter", "a", "2", "Enter")
    session.wait_for("opening check, as-found")
    session.press("Enter", "Enter", "7.2", "Enter", "44,2", "Enter")
    session.wait_for("1 of 14 points")
    assert "+0.18" in session.text
    session.press("Escape")
    session.wait_for("go on: 1 of 14 points")
    session.press("Escape")
    session.wait_for("3 sites")
    session.press("Q")
    session.wait_for("left with 0")
