"""``fieldlog conflicts``: heads side by side, and how they are settled."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click
import orjson

from fieldlog.cli.location import open_workspace, who
from fieldlog.cli.output import json_option, print_json, print_line
from fieldlog.count_words import counted

if TYPE_CHECKING:
    from fieldlog.store.workspace import Workspace

__all__ = ["conflicts"]

SHOWN_CHARACTERS = 60


@click.command()
@click.option(
    "--take",
    "taken",
    metavar="REVISION",
    help="Settle a conflict with this head (the beginning of its id is enough). Default: only list. "
    "Example: --take 3f9a",
)
@click.option(
    "--field",
    "fields",
    metavar="NAME=REVISION",
    multiple=True,
    help="With --take: this field from another head; may be repeated. Default: all from the one taken. "
    "Example: --field note=77c1",
)
@click.option(
    "--combine",
    "combined",
    metavar="ID",
    help="Settle the conflict of this record where its heads changed different fields: each field from the "
    "head that changed it. Default: only list. Example: --combine 5d2f00c9a1b2c3d4e5f60718",
)
@click.option(
    "--join",
    "joined",
    metavar="ID ID",
    nargs=2,
    help="Record that two athletes are one person, by their ids. Default: only list. Example: --join 0a1b 2c3d",
)
@click.option(
    "--apart",
    "apart",
    metavar="ID ID",
    nargs=2,
    help="Record that two athletes who look alike are two. Default: only list. Example: --apart 0a1b 2c3d",
)
@click.option(
    "--why", default="", help="The reason, kept with the choice. Default: none. Example: --why 'asked Ana'"
)
@json_option
@click.pass_obj
def conflicts(
    given: str | None,
    *,
    taken: str | None,
    fields: tuple[str, ...],
    combined: str | None,
    joined: tuple[str, str] | None,
    apart: tuple[str, str] | None,
    why: str,
    as_json: bool,
) -> int:
    """List conflicts side by side, and athletes that may be one person; settle one where asked.

    Example: fieldlog conflicts --take 3f9a --why 'read again from the display'
    """
    chosen = [choice for choice in (taken, combined, joined, apart) if choice]
    if len(chosen) > 1:
        raise click.UsageError("one of --take, --combine, --join and --apart at a time")
    if fields and not taken:
        raise click.UsageError("--field goes with --take")
    from fieldlog.exchange.conflicts import combine, take
    from fieldlog.exchange.likeness import decide_kinship

    with open_workspace(given) as workspace:
        settled: str | None = None
        if taken:
            settled = take(workspace, taken, by=who(), why=why, fields=_fields(fields)).id
        elif combined:
            settled = combine(workspace, combined, by=who(), why=why).id
        elif joined or apart:
            one, other = joined or apart or ("", "")
            settled = decide_kinship(workspace, one, other, same=bool(joined), by=who(), why=why).revision.id
        body = _listing(workspace)
    if settled:
        body["settled"] = settled
    if as_json:
        print_json(body)
    else:
        _print(body)
    return 0


def _listing(workspace: Workspace) -> dict[str, Any]:
    from fieldlog.exchange.conflicts import open_conflicts
    from fieldlog.exchange.likeness import likenesses
    from fieldlog.exchange.notes import WorkspaceNotes

    laptops = WorkspaceNotes(workspace.path, workspace.disk).laptops
    return {
        "conflicts": [
            c.body(lambda device: laptops.get(device) or device[:8]) for c in open_conflicts(workspace)
        ],
        "alike": [
            {
                "athletes": [
                    {"id": athlete.id, "code": athlete.code} for athlete in (pair.first, pair.second)
                ],
                "reasons": list(pair.reasons),
            }
            for pair in likenesses(workspace)
        ],
    }


def _fields(given: tuple[str, ...]) -> dict[str, str]:
    found = {}
    for text in given:
        name, divider, revision = text.partition("=")
        if not (name and divider and revision):
            raise click.UsageError(f"--field {text!r}: write NAME=REVISION")
        found[name] = revision
    return found


def _print(body: dict[str, Any]) -> None:
    if body.get("settled"):
        print_line(f"settled with revision {body['settled'][:12]}")
    for conflict in body["conflicts"]:
        print_line(f"{conflict['site']}: {conflict['table']} {conflict['id']}")
        for head in conflict["heads"]:
            shown = "  (shown)" if head is conflict["heads"][0] else ""
            done = "deleted by" if head["deleted"] else "by"
            why = f": {head['why']}" if head["why"] else ""
            print_line(
                f"  {head['revision'][:12]}  {done} {head['by']} on {head['laptop']}, {head['at']}{why}{shown}"
            )
        for difference in conflict["fields"]:
            print_line(f"    {difference['field']}")
            for revision, value in difference["values"].items():
                mark = "*" if revision in difference["changed_by"] else " "
                print_line(f"      {revision[:12]} {mark} {_short(value)}")
        if conflict["combinable"]:
            print_line(f"  different fields (*): fieldlog conflicts --combine {conflict['id']}")
        print_line(
            f"  choose one:           fieldlog conflicts --take {conflict['heads'][0]['revision'][:12]}"
        )
    for pair in body["alike"]:
        one, other = pair["athletes"]
        print_line(f"perhaps one person: {one['code']} ({one['id']}) and {other['code']} ({other['id']})")
        print_line(f"  {', '.join(pair['reasons'])}")
        print_line(f"  fieldlog conflicts --join {one['id']} {other['id']}   (or --apart)")
    count = len(body["conflicts"])
    print_line(counted(count, "conflict") + (" open" if count else ""))


def _short(value: Any) -> str:
    text = value if isinstance(value, str) else orjson.dumps(value).decode()
    return text if len(text) <= SHOWN_CHARACTERS else text[: SHOWN_CHARACTERS - 1] + "…"
