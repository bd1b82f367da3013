"""``fieldlog person``: what is held on an athlete, given to them or erased."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from fieldlog.cli.location import open_workspace, who
from fieldlog.cli.output import json_option, print_json, print_line

__all__ = ["person"]


@click.group()
def person() -> None:
    """An athlete's right to see what is held on them, and to have it erased."""


@person.command()
@click.argument("code")
@click.option(
    "-o",
    "--output",
    "output",
    metavar="FILE.txt",
    type=click.Path(path_type=Path),
    required=True,
    help="The file to write, plain text; one that is there is replaced. No default. Example: -o r07.txt",
)
@json_option
@click.pass_obj
def copy(given: str | None, *, code: str, output: Path, as_json: bool) -> None:
    """Write everything held on the athlete CODE (or id) into one readable file.

    Data, answers, records with their history, and recordings.
    Example: fieldlog person copy R07 -o r07.txt
    """
    from fieldlog.errors import SaveError
    from fieldlog.fieldwork.athletes.person_copy import copy_person, copy_text

    with open_workspace(given) as workspace:
        held = copy_person(workspace, code)
    path = output.expanduser()
    try:
        path.write_text(copy_text(held), encoding="utf-8")
    except OSError as error:
        raise SaveError(f"{path}: {error.strerror or error}", "name a file that can be written") from error
    absent = sum(1 for data in held.recordings.values() if data is None)
    if as_json:
        print_json(
            {
                "file": str(path),
                "entries": len(held.persons),
                "records": len(held.records),
                "recordings": len(held.recordings),
                "recordings_elsewhere": absent,
            }
        )
        return
    print_line(
        f"{path}: {len(held.persons)} personal entries, {len(held.records)} records, "
        f"{len(held.recordings)} recordings"
    )
    if absent:
        print_line(
            f"{absent} recordings are not on this laptop; fetch them: fieldlog sync DEPOT --with-traces"
        )
    print_line("It holds personal data: hand it to the athlete, then delete it here.")


@person.command()
@click.argument("code")
@json_option
@click.pass_obj
def erase(given: str | None, *, code: str, as_json: bool) -> None:
    """Erase name, birth date, contacts and answers of the athlete CODE (or id), here for good.

    An erasure that travels does the same on every laptop and depot it reaches, and refuses their
    return. The code and the measurements stay. At a terminal the code has to be typed once more.
    Example: fieldlog person erase R07
    """
    from fieldlog.errors import RefusedError
    from fieldlog.fieldwork.athletes.person_copy import erase_person

    with open_workspace(given) as workspace:
        if sys.stdin.isatty() and not as_json:
            typed = click.prompt(
                f"This cannot be undone. Type {code} to erase", default="", show_default=False
            )
            if typed != code:
                raise RefusedError("nothing was erased", "the code typed was another one")
        count = erase_person(workspace, code, by=who())
    if as_json:
        print_json({"athlete": code, "erased_files": count})
        return
    print_line(f"{count} files of {code} were erased; the code and the measurements stay.")
    print_line(
        "Other laptops and depots follow at their next sync. Paper, exports and backups are not reached."
    )
