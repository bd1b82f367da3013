"""``fieldlog sheet``: the printed pages, and whether one still holds."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fieldlog.cli.output import json_option, print_json, print_line
from fieldlog.cli.sheet_output import checked_output, day_given, files_of, make_of_visit, tell

if TYPE_CHECKING:
    pass

__all__ = ["sheet"]

_site = click.option(
    "--site",
    metavar="NAME",
    required=True,
    help="The place, by name or id. No default. Example: --site Boathouse",
)
_visit = click.option(
    "--visit",
    "day",
    metavar="DATE",
    help="Day of the visit, as YYYY-MM-DD. Default: the latest with results. Example: --visit 2031-05-04",
)
_output = click.option(
    "-o",
    "--output",
    metavar="FILE.pdf",
    type=click.Path(path_type=Path),
    required=True,
    help="The PDF to write; one that is there is replaced. No default. Example: -o coach.pdf",
)
_paper = click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", help="Default: a4. Example: --paper letter"
)
_text = click.option(
    "--text",
    is_flag=True,
    help="Also write the page as Markdown and as CSV beside the PDF (FILE.md, FILE.csv). Example: --text",
)
_names = click.option(
    "--names", is_flag=True, help="Print names from the persons files in place of codes. Example: --names"
)


def _common(command: Callable[..., Any]) -> Callable[..., Any]:
    for option in (json_option, _text, _paper, _output, _visit, _site):
        command = option(command)
    return click.pass_obj(command)


@click.group()
def sheet() -> None:
    """Make a printed page, or tell whether one still holds.

    Example: fieldlog sheet coach --site Boathouse -o coach.pdf
    """


@sheet.command()
@_names
@_common
def coach(given: str | None, **options: Any) -> None:
    """Make the coach's page of a visit: a line an athlete and side, and what to do next.

    Torque in N·m/kg, changes in %. Example: fieldlog sheet coach --site Boathouse -o coach.pdf
    """
    make_of_visit(given, "coach", **options)


@sheet.command()
@click.option(
    "--athlete",
    metavar="CODE",
    required=True,
    help="The athlete, by code or id. No default. Example: --athlete R07",
)
@_names
@_common
def athlete(given: str | None, **options: Any) -> None:
    """Make an athlete's own page: today's curve over the last, and the figures over the visits.

    Torque in N·m, angle in degrees. Example: fieldlog sheet athlete --site Boathouse --athlete R07 -o r07.pdf
    """
    make_of_visit(given, "athlete", **options)


@sheet.command()
@_names
@_site
@_visit
@click.option(
    "-o",
    "--into",
    "folder",
    metavar="DIR",
    type=click.Path(path_type=Path),
    required=True,
    help="Folder for the PDFs, made if missing; each is called by its number. No default. Example: -o pages",
)
@_paper
@json_option
@click.pass_obj
def athletes(
    given: str | None, *, site: str, day: str | None, folder: Path, paper: str, names: bool, as_json: bool
) -> None:
    """Make the own page of every athlete of a visit, telling each as it is done.

    Torque in N·m, angle in degrees. Example: fieldlog sheet athletes --site Boathouse -o pages
    """
    from fieldlog.cli.location import open_workspace, who
    from fieldlog.errors import InputError
    from fieldlog.fieldwork.visit.visits import find_visit
    from fieldlog.sheets.handing_out import hand_out
    from fieldlog.sheets.making import make_athlete_sheets

    folder = folder.expanduser()
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder} is a file", "name a folder with -o")
    files: list[Path] = []
    with open_workspace(given) as workspace:
        store = workspace.site_named(site)
        found = find_visit(store, day_given(day)).record
        for count, of, made in make_athlete_sheets(workspace, store, found, paper=paper, named=names):
            folder.mkdir(parents=True, exist_ok=True)
            handed = hand_out(made, {folder / f"{made.stamp.number}.pdf": made.pdf}, by=who())
            files += handed.files
            if not as_json:
                print_line(f"{count} of {of}  {handed.words}")
    if as_json:
        print_json({"files": [str(file) for file in files]})


@sheet.command()
@click.option(
    "--rig",
    metavar="ID",
    help="The rig, by id or name. Default: the rig of that visit. Example: --rig 'rig A'",
)
@_common
def rig(given: str | None, **options: Any) -> None:
    """Make the rig's page of a visit: checks with points, uncertainty, decision rule and verdict.

    Torque in N·m. Example: fieldlog sheet rig --site Boathouse -o rig.pdf
    """
    make_of_visit(given, "rig", **options)


@sheet.command()
@_common
def visit(given: str | None, **options: Any) -> None:
    """Make the record of a visit: everything of the day, for the file.

    Example: fieldlog sheet visit --site Boathouse --visit 2031-05-04 -o visit.pdf
    """
    make_of_visit(given, "visit", **options)


@sheet.command()
@click.option(
    "--squad",
    metavar="NAME",
    required=True,
    help="The squad, as it stands in the squad list. No default. Example: --squad 'Skarvik rowers'",
)
@click.option(
    "--from",
    "first_day",
    metavar="DATE",
    help="First day of the season, as YYYY-MM-DD. Default: 365 days before the last. Example: --from 2030-09-01",
)
@click.option(
    "--to",
    "last_day",
    metavar="DATE",
    help="Last day of the season, as YYYY-MM-DD. Default: the squad's latest with results. Example: --to 2031-06-30",
)
@_names
@_output
@_paper
@_text
@json_option
@click.pass_obj
def season(
    given: str | None,
    *,
    squad: str,
    first_day: str | None,
    last_day: str | None,
    names: bool,
    output: Path,
    paper: str,
    text: bool,
    as_json: bool,
) -> None:
    """Make a squad's season page over all sites: who changed beyond error, the squad by day, retests due.

    Torque in N·m, changes in %. Example: fieldlog sheet season --squad 'Skarvik rowers' -o season.pdf
    """
    from fieldlog.cli.location import open_workspace, who
    from fieldlog.errors import InputError
    from fieldlog.sheets.handing_out import hand_out
    from fieldlog.sheets.making import make_sheet, season_subject

    output = checked_output(output, with_text=text)
    days = day_given(first_day, "--from"), day_given(last_day, "--to")
    if days[0] and days[1] and days[1] < days[0]:
        raise InputError("--to is before --from", "give the first day first")
    with open_workspace(given) as workspace:
        subject = season_subject(workspace, squad, *days, named=names)
        made = make_sheet(workspace, subject, paper=paper)
        handed = hand_out(made, files_of(made, output, with_text=text), by=who())
    tell(made, handed, as_json=as_json)


@sheet.command()
@click.argument("file", metavar="FILE.pdf", type=click.Path(path_type=Path))
@json_option
@click.pass_obj
def verify(given: str | None, *, file: Path, as_json: bool) -> int:
    """Tell whether FILE.pdf still holds: status 0 current, 1 superseded, 2 unknown.

    Example: fieldlog sheet verify coach.pdf
    """
    from fieldlog.cli.location import open_workspace
    from fieldlog.errors import InputError
    from fieldlog.sheets.making import sheet_standing
    from fieldlog.sheets.marker import read_marker

    marker = read_marker(file.expanduser())
    with open_workspace(given) as workspace:
        standing = sheet_standing(workspace, marker)
    if standing.word == "unknown":
        raise InputError(f"{file}: {standing.text}", "verify it in the workspace it was made in")
    if as_json:
        print_json(
            {
                "file": str(file),
                "sheet": marker["kind"],
                "number": marker["number"],
                "revision": marker["revision"],
                "date": marker["date"],
                "digest": marker["digest"],
                "standing": standing.word,
                "in_ledger": standing.record is not None,
                "changes": list(standing.changes),
            }
        )
    else:
        print_line(f"{marker['number']}, revision {marker['revision']}, {marker['date']}: {standing.text}")
        for change in standing.changes:
            print_line(f"  {change}")
        if standing.word == "superseded":
            print_line("superseded; make the sheet anew and tell those who have this one")
    return 1 if standing.word == "superseded" else 0
