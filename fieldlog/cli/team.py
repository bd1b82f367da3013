"""``fieldlog team admit``: whose laptops' files are taken in."""

from __future__ import annotations

import click

from fieldlog.cli.location import open_workspace, who
from fieldlog.cli.output import json_option, print_json, print_line

__all__ = ["team"]


@click.group()
def team() -> None:
    """The team's laptops."""


@team.command()
@click.argument("laptops", metavar="[LAPTOP]…", nargs=-1)
@click.option(
    "--why", default="", help="The reason, kept with the record. Default: none. Example: --why 'new tester'"
)
@json_option
@click.pass_obj
def admit(given: str | None, *, laptops: tuple[str, ...], why: str, as_json: bool) -> int:
    """Admit laptops by name, id or fingerprint ('this' is the one at hand); without one, list them.

    From the first admission on, files of laptops that are not admitted are set aside by a sync. The
    first one always includes this laptop. Compare the fingerprint with the one its owner reads out.
    Example: fieldlog team admit kestrel
    """
    from fieldlog.exchange.laptops import admit as admit_laptops
    from fieldlog.exchange.laptops import known_laptops

    with open_workspace(given) as workspace:
        kept = admit_laptops(workspace, laptops, by=who(), why=why) if laptops else []
        known = known_laptops(workspace)
    if as_json:
        print_json(
            {
                "admitted": [one.record.id for one in kept],
                "laptops": [
                    {
                        "fingerprint": laptop.fingerprint,
                        "name": laptop.name,
                        "device": laptop.device,
                        "admitted": laptop.admitted,
                        "this": laptop.this,
                    }
                    for laptop in known
                ],
            }
        )
        return 0
    for laptop in known:
        word = "admitted" if laptop.admitted else "not admitted"
        print_line(f"{laptop.fingerprint}  {word:<13} {laptop.name}{'  (this one)' if laptop.this else ''}")
    if kept:
        print_line("The others learn of it with their next sync.")
    elif not any(laptop.admitted for laptop in known):
        print_line("Nobody is admitted yet, so files of every laptop are taken in.")
    return 0
