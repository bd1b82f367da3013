"""The door: finds the command, and turns every error into one line and an exit status."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Sequence
from typing import Any

import click

from fieldlog import __version__
from fieldlog.errors import FieldlogError

__all__ = ["main"]

# name → (module under fieldlog.cli, attribute); a command's module is imported when it is called.
COMMANDS = {
    "audit": ("audit", "audit"),
    "base": ("base", "base"),
    "check": ("check", "check"),
    "conflicts": ("conflicts", "conflicts"),
    "export": ("export", "export"),
    "history": ("history", "history"),
    "lock": ("lock", "lock"),
    "new": ("workspace", "new"),
    "open": ("application", "open_workspace"),
    "person": ("person", "person"),
    "reliability": ("reliability", "reliability"),
    "sheet": ("sheet", "sheet"),
    "show": ("application", "show"),
    "site": ("workspace", "site"),
    "sync": ("sync", "sync"),
    "team": ("team", "team"),
    "tour": ("tour", "tour"),
    "trace": ("trace", "trace"),
    "unlock": ("lock", "unlock"),
}


class _StoppedError(Exception):
    """A person stopped a command with ctrl+c."""


class _Commands(click.Group):
    """Loads a command's module only when that command is named."""

    def invoke(self, ctx: click.Context) -> Any:
        # Click would print an empty line of its own before ours.
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            raise _StoppedError from None

    def list_commands(self, _ctx: click.Context) -> list[str]:
        return sorted(COMMANDS)

    def get_command(self, _ctx: click.Context | None, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module, attribute = COMMANDS[cmd_name]
        command = getattr(importlib.import_module(f"fieldlog.cli.{module}"), attribute)
        assert isinstance(command, click.Command)
        return command


@click.group(
    cls=_Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.option(
    "--workspace",
    "workspace",
    metavar="DIR",
    help="Folder with workspace.json. Default: FIELDLOG_WORKSPACE, then the platform's user data folder. "
    "Example: --workspace ~/testing",
)
@click.version_option(__version__, message="fieldlog %(version)s")
@click.pass_context
def fieldlog(ctx: click.Context, workspace: str | None) -> None:
    """A logbook for mobile strength-testing teams. Without a command it opens the application."""
    ctx.obj = workspace
    if ctx.invoked_subcommand is None:
        from fieldlog.cli.application import run_application

        run_application(workspace)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run one command and leave with its status: 0 fine, 1 the answer is no, 2 the input is wrong."""
    sys.exit(_run(list(sys.argv[1:] if arguments is None else arguments)))


def _run(arguments: list[str]) -> int:
    try:
        outcome: Any = fieldlog.main(args=arguments, prog_name="fieldlog", standalone_mode=False)
        sys.stdout.flush()
    except FieldlogError as error:
        return _say(str(error))
    except click.ClickException as error:
        return _say(_call_error(error, arguments))
    except (click.Abort, _StoppedError):
        return _say("stopped; nothing was changed by the step that was interrupted")
    except BrokenPipeError:
        # The reader of a pipe went away; give the interpreter a place to flush to.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        name = error.filename if isinstance(error.filename, str) else "the disk"
        return _say(f"{name}: {error.strerror or error}")
    return outcome if isinstance(outcome, int) else 0


def _call_error(error: click.ClickException, arguments: list[str]) -> str:
    message = error.format_message().rstrip(".")
    if isinstance(error, click.exceptions.NoArgsIsHelpError):
        group = error.ctx.command
        commands = group.list_commands(error.ctx) if isinstance(group, click.Group) else []
        message = f"one of its commands is missing: {', '.join(commands)}"
    elif isinstance(error, click.BadParameter):
        message = message.replace("is not a valid float", "is no number (a point for decimals, no unit)")
        message = message.replace("is not a valid integer", "is no whole number")
    if isinstance(error, click.UsageError) and error.ctx:
        command = error.ctx.command_path
    else:  # click does not say at which command an option was left without its value
        command = " ".join(["fieldlog", *(word for word in arguments if word in COMMANDS)][:2])
    return f"{message}; see '{command} --help'"


def _say(line: str) -> int:
    shown = "".join(character if character.isprintable() else " " for character in line)
    print(f"fieldlog: {' '.join(shown.split())}", file=sys.stderr)
    return 2
