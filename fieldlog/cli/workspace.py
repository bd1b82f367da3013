"""``fieldlog new`` and ``fieldlog site add``: a workspace, and the places in it."""

from __future__ import annotations

from pathlib import Path

import click

from fieldlog.cli.location import open_workspace, who
from fieldlog.cli.output import json_option, print_json, print_line
from fieldlog.errors import InputError

__all__ = ["new", "site"]


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@json_option
def new(folder: Path, as_json: bool) -> None:
    """Make an empty workspace in DIR, which must be new or empty.

    Example: fieldlog new ~/testing
    """
    from fieldlog.store.workspace import Workspace

    folder = folder.expanduser()
    if (folder / "workspace.json").exists():
        raise InputError(f"{folder} is a workspace already", f"open it: fieldlog open {folder}")
    with Workspace.create(folder) as workspace:
        if as_json:
            print_json({"workspace": str(workspace.path), "id": workspace.id})
        else:
            print_line(f"{workspace.path} is a workspace now.")
            print_line(
                f"Next, a place: fieldlog --workspace {workspace.path} site add NAME --latitude D --height M"
            )
            print_line(
                f"Or, where a stick holds the team's records: fieldlog --workspace {workspace.path} sync /media/stick"
            )


@click.group()
def site() -> None:
    """The places in a workspace."""


@site.command()
@click.argument("name")
@click.option(
    "--latitude",
    "latitude_deg",
    type=float,
    required=True,
    help="Latitude in degrees, north positive, from -90 to 90; local gravity follows from it. No default. "
    "Example: --latitude 52.52",
)
@click.option(
    "--height",
    "height_m",
    type=float,
    required=True,
    help="Height above sea level in metres. No default. Example: --height 34",
)
@json_option
@click.pass_obj
def add(given: str | None, *, name: str, latitude_deg: float, height_m: float, as_json: bool) -> None:
    """Add the site NAME to the workspace.

    Example: fieldlog site add Boathouse --latitude 52.5 --height 34
    """
    from fieldlog.fieldwork.visit.sites import enter_site

    with open_workspace(given) as workspace:
        store = enter_site(workspace, name, latitude_deg=latitude_deg, height_m=height_m, by=who())
        if as_json:
            print_json({"site": name.strip(), "id": store.id, "folder": store.name})
        else:
            print_line(f"{name.strip()} is a site now (id {store.id}, folder {store.name}).")
