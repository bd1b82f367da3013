"""``fieldlog tour``: the sample workspace, to look at or gone through as one whole visit."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Literal

import click

import fieldlog
from fieldlog.cli.output import print_line
from fieldlog.errors import InputError

__all__ = ["tour"]

RAW_FOLDER = "recordings"
SHEETS: tuple[Literal["coach", "rig", "visit"], ...] = ("coach", "rig", "visit")


@click.command()
@click.option(
    "--into",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="New or empty folder the sample is copied to. Default: a new folder among the temporary files. "
    "Example: --into ~/fieldlog-tour",
)
@click.option(
    "--unattended",
    is_flag=True,
    help="Go through one whole visit from its raw recordings and print each step. Default: open the "
    "application. Example: --unattended",
)
def tour(into: Path | None, *, unattended: bool) -> None:
    """Copy the sample workspace and open it. The sample is invented and its days are fixed.

    Example: fieldlog tour --unattended --into /tmp/tour
    """
    folder = _copy_sample(into)
    attended = sys.stdin.isatty() and sys.stdout.isatty()
    # The sample's own day, so that "today" in the rooms is the day of the visit that waits there.
    from fieldlog.cli.sample_script import read_visit

    raw = read_visit(folder / RAW_FOLDER)
    os.environ["FIELDLOG_TODAY"] = raw.date.isoformat()
    if unattended or not attended:
        _go_through(folder)
        return
    from fieldlog.cli.application import run_application

    run_application(str(folder))
    print_line(f"The copy of the sample lies in {folder}; look around in it again: fieldlog open {folder}")


def _copy_sample(into: Path | None) -> Path:
    source = _sample_folder()
    if into is None:
        folder = Path(tempfile.mkdtemp(prefix="fieldlog-tour-"))
    else:
        folder = into.expanduser()
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise InputError(f"{folder} is not empty", "name a new folder for the tour")
    shutil.copytree(source, folder, dirs_exist_ok=True)
    return folder


def _sample_folder() -> Path:
    package = Path(fieldlog.__file__).resolve().parent
    # Installed, the sample lies in the package; in a checkout beside it.
    for folder in (package / "sample_sites", package.parent / "sample_sites"):
        if (folder / "workspace.json").is_file():
            return folder
    raise InputError("the sample workspace is missing from this installation", "install fieldlog again")


def _go_through(folder: Path) -> None:
    from fieldlog.cli.sample_script import read_visit
    from fieldlog.cli.sample_visit import play
    from fieldlog.fieldwork.pages.sheet_ledger import enter
    from fieldlog.fieldwork.results.result_rows import check_rows, repetition_rows, result_rows
    from fieldlog.fieldwork.visit.visits import find_visit
    from fieldlog.sheets.exports import write_export, write_whole
    from fieldlog.sheets.making import make_sheet, subject_of
    from fieldlog.store.workspace import Workspace

    raw = read_visit(folder / RAW_FOLDER)
    out = folder / "out"
    out.mkdir()
    print_line(f"sample         the day is {raw.date}, fixed by the sample. {raw.about}")
    with Workspace.open(folder) as workspace:
        for line in play(workspace, folder / RAW_FOLDER, raw):
            print_line(line)
        store = workspace.site_named(raw.site)
        visit = find_visit(store, raw.date).record
        for kind in SHEETS:
            made = make_sheet(workspace, subject_of(workspace, store, visit, kind))
            enter(made.subject, made.issue, by=raw.tester)
            for file in write_whole({out / f"{kind}.pdf": made.pdf}):
                print_line(
                    f"sheet          {made.issue.record.number}, revision {made.issue.record.revision}: {file}"
                )
        rows = {
            "results": list(result_rows(workspace)),
            "repetitions": list(repetition_rows(workspace)),
            "checks": list(check_rows(workspace)),
        }
        for form in ("csv", "json"):
            for file in write_export(out, rows, form):
                print_line(f"export         {file}")
    print_line(f"done           look around in it with: fieldlog open {folder}")
