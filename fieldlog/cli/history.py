"""``fieldlog history``: the rig's life over all sites."""

from __future__ import annotations

import click

from fieldlog.cli.output import json_option, print_json, print_line
from fieldlog.errors import InputError

__all__ = ["history"]


@click.command()
@click.option(
    "--rig", "rig_name", metavar="ID", required=True, help='The rig, by id or name. Example: --rig "rig A"'
)
@click.option(
    "--rules",
    metavar="N,N",
    default="1,4",
    show_default=True,
    help="Run rules to look at: 1 to 4 of Western Electric, 5 and 6 for trends. Example: --rules 1,2,3,4",
)
@json_option
@click.pass_obj
def history(location: str | None, *, rig_name: str, rules: str, as_json: bool) -> int:
    """Print a rig's checks over all sites: lines, control charts, drift and the next check due.

    Errors in %, references in N·m. Example: fieldlog history --rig "rig A" --json
    """
    from fieldlog.cli.location import open_workspace
    from fieldlog.fieldwork.rig_life.life import rig_life

    life = rig_life(open_workspace(location), rig_name, rules=_rules(rules))
    if as_json:
        print_json(life)
        return 0
    print_line(f"{life['rig']}: {len(life['checks'])} checks")
    for check in life["checks"]:
        print_line(
            f"  {check['at']}  {check['site']:<24} {check['stage']:<8} {check['state']:<9} {check['verdict']}"
        )
    for point in life["points"]:
        print_line(f"{point['mass_kg']:g} kg {point['direction']}, reference {point['reference_nm']:.2f} N·m")
        print_line("  errors % " + "  ".join(f"{error:+.2f}" for error in point["errors_pct"]))
        for signal in point["signals"]:
            print_line(f"  {signal['text']}")
        drift = point["drift"] or {}
        if drift.get("slope_pct_per_day") is not None:
            reaches = drift["crosses_on"] or "not within two years"
            print_line(f"  drift {drift['slope_pct_per_day']:+.4f} % a day; reaches tolerance: {reaches}")
    print_line(f"next check due on {life['due_on'] or 'no date yet'}")
    return 0


def _rules(typed: str) -> tuple[int, ...]:
    from fieldlog.fieldwork.rig_life.life import run_rules

    try:
        return run_rules(typed)
    except InputError as error:
        raise InputError(f"--rules: {error.message}", error.hint) from None
