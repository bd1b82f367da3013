"""Making a page at the command line: where it goes, which files it has, what is printed of it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from fieldlog.cli.output import print_json, print_line

if TYPE_CHECKING:
    from fieldlog.fieldwork.pages.subjects import SheetKind
    from fieldlog.sheets.handing_out import HandedOut
    from fieldlog.sheets.making import Made

__all__ = ["checked_output", "day_given", "files_of", "make_of_visit", "tell"]


def make_of_visit(
    given: str | None,
    kind: SheetKind,
    *,
    site: str,
    day: str | None,
    output: Path,
    paper: str,
    text: bool,
    as_json: bool,
    athlete: str | None = None,
    rig: str | None = None,
    names: bool = False,
) -> None:
    """Make one page of a visit, write it and tell so."""
    from fieldlog.cli.location import open_workspace, who
    from fieldlog.fieldwork.visit.visits import find_visit
    from fieldlog.sheets.handing_out import hand_out
    from fieldlog.sheets.making import make_sheet, subject_of

    output = checked_output(output, with_text=text)
    with open_workspace(given) as workspace:
        store = workspace.site_named(site)
        found = find_visit(store, day_given(day))
        subject = subject_of(workspace, store, found.record, kind, athlete=athlete, rig=rig, named=names)
        made = make_sheet(workspace, subject, paper=paper)
        handed = hand_out(made, files_of(made, output, with_text=text), by=who())
    tell(made, handed, as_json=as_json)


def checked_output(output: Path, *, with_text: bool) -> Path:
    """Return where the PDF is to go. Raises InputError where it cannot."""
    from fieldlog.errors import InputError

    output = output.expanduser()
    if output.is_dir() or not output.name:
        raise InputError(f"{output} is a folder", "name a file with -o, for example coach.pdf")
    if with_text and output.suffix in (".md", ".csv"):
        raise InputError(f"{output}: its text form would have the same name", "name the PDF with -o FILE.pdf")
    if not output.parent.is_dir():
        raise InputError(f"{output.parent} is no folder", "make it first, or name another place with -o")
    return output


def files_of(made: Made, output: Path, *, with_text: bool) -> dict[Path, bytes]:
    """Return the files of a page by where they go: the PDF, and its text forms where wanted."""
    files = {output: made.pdf}
    if with_text:
        from fieldlog.sheets.text_forms import sheet_csv, sheet_markdown

        files[output.with_suffix(".md")] = sheet_markdown(made.sheet, made.stamp).encode()
        files[output.with_suffix(".csv")] = sheet_csv(made.sheet, made.stamp).encode()
    return files


def tell(made: Made, handed: HandedOut, *, as_json: bool) -> None:
    """Print what was made and where it lies."""
    record = made.issue.record
    if as_json:
        print_json(
            {
                "sheet": record.kind,
                "number": record.number,
                "revision": record.revision,
                "date": record.date.isoformat(),
                "digest": record.digest,
                "files": [str(file) for file in handed.files],
                "changes": list(made.issue.changes),
                "in_ledger": not handed.why_not,
                "remark": handed.why_not or None,
            }
        )
        return
    for file in handed.files:
        print_line(str(file))
    print_line(f"{record.number}, revision {record.revision}, {record.date.isoformat()}")
    for change in made.issue.changes:
        print_line(f"  {change}")
    if handed.remark:
        print_line(handed.remark)


def day_given(day: str | None, option: str = "--visit") -> dt.date | None:
    """Return a day given as an option, None where none was. Raises InputError for none."""
    from fieldlog.fieldwork.entry import parse_day

    return None if day is None else parse_day(day, option)
