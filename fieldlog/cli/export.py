"""``fieldlog export``: results, repetitions and checks as open files."""

from __future__ import annotations

from pathlib import Path

import click

from fieldlog.cli.output import json_option, print_json, print_line

__all__ = ["export"]


@click.command()
@click.option(
    "--as",
    "form",
    type=click.Choice(["csv", "json", "xlsx", "schema"]),
    required=True,
    help="csv: three files. json: three files. xlsx: one workbook with three sheets. "
    "schema: what the columns mean, as JSON. No default. Example: --as csv",
)
@click.option(
    "-o",
    "--into",
    "folder",
    metavar="DIR",
    type=click.Path(path_type=Path),
    required=True,
    help="Folder for the files, made if missing; files of an earlier export there are replaced. No default. "
    "Example: -o out",
)
@json_option
@click.pass_obj
def export(given: str | None, *, form: str, folder: Path, as_json: bool) -> None:
    """Write results (a row a set and direction), repetitions (a row a movement) and checks, over all sites.

    Athletes are named by code only. Units stand in the column names. Example: fieldlog export --as csv -o out
    """
    from fieldlog.cli.location import open_workspace
    from fieldlog.fieldwork.results.result_rows import check_rows, repetition_rows, result_rows
    from fieldlog.sheets.exports import write_export

    with open_workspace(given) as workspace:
        rows = {
            "results": list(result_rows(workspace)),
            "repetitions": list(repetition_rows(workspace)),
            "checks": list(check_rows(workspace)),
        }
    files = write_export(folder.expanduser(), rows, form)
    if as_json:
        print_json(
            {"files": [str(file) for file in files], "rows": {name: len(of) for name, of in rows.items()}}
        )
        return
    for file in files:
        print_line(str(file))
    if form != "schema":
        print_line(", ".join(f"{len(of)} {name}" for name, of in rows.items()))
