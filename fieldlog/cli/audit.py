"""``fieldlog audit``: every file and line verified; healed from another copy where asked."""

from __future__ import annotations

from pathlib import Path

import click

from fieldlog.cli.location import open_workspace
from fieldlog.cli.output import json_option, print_json, print_line

__all__ = ["audit"]


@click.command()
@click.option(
    "--repair-from",
    "source",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Heal damaged and missing files from DIR first: another copy of the workspace, or a folder depot. "
    "Default: nothing is changed. Example: --repair-from /media/stick/testing",
)
@json_option
@click.pass_obj
def audit(given: str | None, source: Path | None, as_json: bool) -> int:
    """Verify every file, line and recording of the workspace. Leaves with 1 where something is wrong.

    Example: fieldlog audit --json
    """
    from fieldlog.store.audit import audit as verify
    from fieldlog.store.repair import repair

    with open_workspace(given) as workspace:
        healed = repair(workspace, source.expanduser()) if source is not None else []
        found = verify(workspace)
    if source is not None:
        found["repaired"] = healed
    if as_json:
        print_json(found)
        return 0 if found["ok"] else 1
    for text in healed:
        print_line(f"repaired       {text}")
    for problem in found["problems"]:
        print_line(f"{problem['kind']:<14} {problem['file']}: {problem['text']}")
    for note in found["notes"]:
        print_line(f"note           {note}")
    print_line(f"{found['stores']} stores, {found['records']} records: {_verdict(len(found['problems']))}")
    return 0 if found["ok"] else 1


def _verdict(count: int) -> str:
    if not count:
        return "all whole"
    return f"{count} problem{'s' if count > 1 else ''}; heal with --repair-from another copy"
