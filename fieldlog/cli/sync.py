"""``fieldlog sync``: laptops, sticks and the team base agree."""

from __future__ import annotations

import sys
from typing import Any

import click

from fieldlog.cli.location import open_workspace
from fieldlog.cli.output import json_option, print_json, print_line

__all__ = ["sync"]


@click.command()
@click.argument("address", metavar="DEPOT")
@click.option(
    "--site",
    "sites",
    metavar="NAME",
    multiple=True,
    help="Only this site, by name or id, and what belongs to the team; may be repeated. "
    "Default: all sites here and in the depot. Example: --site Boathouse",
)
@click.option(
    "--with-traces",
    is_flag=True,
    help="Fetch all recordings too. Default: yours are brought, others' stay in the depot until asked for. "
    "Example: --with-traces",
)
@click.option(
    "--verify",
    is_flag=True,
    help="Hash every file in the depot. Default: those whose size or time changed. Example: --verify",
)
@json_option
@click.pass_obj
def sync(
    given: str | None, *, address: str, sites: tuple[str, ...], with_traces: bool, verify: bool, as_json: bool
) -> int:
    """Exchange records with DEPOT: a folder (a stick), postgresql://… (the team base), or another URL.

    A folder is made if its parent exists. May be stopped at any time and run again. Leaves with 1
    where records came that conflict. Example: fieldlog sync /media/stick/team
    """
    from fieldlog.exchange.locked_depot import reach_depot
    from fieldlog.exchange.sync import sync as exchange

    with open_workspace(given) as workspace:
        depot = reach_depot(address, workspace.path)
        try:
            report = exchange(
                workspace,
                depot,
                sites=sites,
                with_traces=with_traces,
                verify=verify,
                progress=_Progress() if sys.stderr.isatty() else _silent,
            )
        finally:
            depot.close()
    body = report.body()
    if as_json:
        print_json(body)
    else:
        _print(body)
    return 1 if body["conflicts"] else 0


def _print(body: dict[str, Any]) -> None:
    for site, count in body["by_site"].items():
        print_line(f"{site:<28} {count['sent']:>6} sent {count['received']:>6} received")
    for entry in body["missing"]:
        print_line(f"missing     {entry['site']}: {entry['text']} ({entry['file']})")
    for entry in body["set_aside"]:
        print_line(f"set aside   {entry['site']}: {entry['text']} ({entry['file']})")
    for note in body["notes"]:
        print_line(f"note        {note}")
    for conflict in body["conflicts"]:
        writers = " and ".join(f"{head['by']} ({head['at']})" for head in conflict["heads"])
        print_line(f"conflict    {conflict['site']}: {conflict['table']} {conflict['id']}: {writers}")
    files = f"{body['sent']} files sent, {body['received']} received"
    if body["conflicts"]:
        print_line(f"{files}; see the new conflicts side by side: fieldlog conflicts")
    else:
        print_line(f"{files}; no new conflict.")


def _silent(_what: str, _done: int, _of: int) -> None:
    """Say nothing: nobody is watching."""


class _Progress:
    """One line on standard error that is written over, a hundred times a stage at most."""

    def __init__(self) -> None:
        self._shown = ("", -1)

    def __call__(self, what: str, done: int, of: int) -> None:
        now = (what, 100 * done // max(of, 1))
        if now != self._shown:
            self._shown = now
            shown = "".join(character if character.isprintable() else " " for character in what)
            end = "\r" if done + 1 < of else "\r\x1b[K"
            sys.stderr.write(f"\r\x1b[K{shown}: {done + 1} of {of}{end}")
            sys.stderr.flush()
