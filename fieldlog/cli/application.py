"""``fieldlog``, ``fieldlog open`` and ``fieldlog show``: the application, and its rooms as plain text."""

from __future__ import annotations

import sys

import click

from fieldlog.cli.location import open_workspace as workspace_at
from fieldlog.cli.location import who, workspace_path
from fieldlog.errors import InputError
from fieldlog.today import now, today

__all__ = ["open_workspace", "run_application", "show"]


def run_application(given: str | None) -> None:
    """Open the application on the workspace ``given``, or on the default one.

    Raises InputError where there is no such workspace, or no terminal to draw on.
    """
    if not (workspace_path(given) / "workspace.json").is_file():
        workspace_at(given).close()
    today()
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise InputError(
            "the application needs a terminal",
            "run it in one, or use 'fieldlog show places' and the other commands",
        )
    from fieldlog.screens.app import FieldlogApp
    from fieldlog.screens.settings import read_settings, settings_path

    settings = read_settings(settings_path())
    # The first room is painted before the workspace is open: what opening takes, nobody waits for in the dark.
    app = FieldlogApp(
        lambda: workspace_at(given),
        by=who(),
        clock=now,
        theme=settings.theme,
        keymap=dict(settings.keys),
        ascii_only=settings.ascii_only,
        shown=settings.shown,
    )
    app.run()
    if app.is_open:
        app.workspace.close()
    if app.failure is not None:
        raise app.failure


@click.command("open")
@click.argument("folder", metavar="DIR")
def open_workspace(folder: str) -> None:
    """Open the application on the workspace in DIR.

    Example: fieldlog open ~/testing
    """
    run_application(folder)


@click.command()
@click.argument("room", metavar="ROOM")
@click.option(
    "--site",
    metavar="NAME",
    help="The place, by name or id, for the rooms of one place. Default: the only one there is. Example: --site Lowfield",
)
@click.option(
    "--visit",
    metavar="DATE",
    help="The day, year-month-day. Default: the latest. Example: --visit 2031-05-04",
)
@click.option(
    "--athlete",
    metavar="CODE",
    help="The athlete, for the bench. Default: the first of the batch. Example: --athlete R07",
)
@click.option(
    "--rig",
    metavar="ID",
    help='The rig, by id or name, for the rig log. Default: the only one there is. Example: --rig "rig A"',
)
@click.option(
    "--width",
    metavar="CHARACTERS",
    type=click.IntRange(60, 400),
    default=100,
    help="Width in characters, 60 to 400. Default: 100. Example: --width 80",
)
@click.pass_obj
def show(
    given: str | None,
    *,
    room: str,
    site: str | None,
    visit: str | None,
    athlete: str | None,
    rig: str | None,
    width: int,
) -> None:
    """Print ROOM (places, day, bench, rig-log, squad, exchange, settings) as plain text, for screen readers and scripts.

    Example: fieldlog show day --site Lowfield
    """
    from fieldlog.cli.output import print_line
    from fieldlog.screens.text_view import room_lines

    today()
    with workspace_at(given) as workspace:
        lines = room_lines(
            workspace,
            room,
            clock=now,
            by=who(),
            site=site,
            visit=visit,
            athlete=athlete,
            rig=rig,
            width=width,
        )
        for line in lines:
            print_line(line)
