"""``fieldlog check``: one rig check, judged."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from fieldlog.cli.output import json_option, print_json, print_line
from fieldlog.today import today

__all__ = ["check"]


@click.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE.json")
@click.option(
    "--save",
    is_flag=True,
    help="Store the check in the workspace, at the place named by --site. Default: only judge it. "
    'Example: --save --site "North hall"',
)
@click.option(
    "--site",
    metavar="NAME",
    help='The place, by name or id; needed with --save. Default: none. Example: --site "North hall"',
)
@json_option
@click.pass_obj
def check(workspace: str | None, file: Path, *, save: bool, site: str | None, as_json: bool) -> int:
    """Judge the rig check in FILE.json: torque (N·m), zero, hysteresis, angle (°) and speed (°/s).

    Status 0 for pass and conditional pass, 1 for conditional fail and fail. Example: fieldlog check
    opening.json --json
    """
    from fieldlog.records.rig_check import GOOD_VERDICTS

    if save != (site is not None):
        raise click.UsageError("--save and --site NAME go together")
    verdict = _saved(workspace, file, site or "") if save else _judged(file)
    if as_json:
        print_json(verdict)
    else:
        _print_verdict(verdict)
    return 0 if verdict["verdict"] in GOOD_VERDICTS else 1


def _judged(file: Path) -> dict[str, Any]:
    from fieldlog.fieldwork.rig_checks.check_file import named_after, read_check_file
    from fieldlog.fieldwork.rig_checks.check_judge import judge

    entry = read_check_file(file)
    with named_after(file):
        return judge(entry, today=today())


def _saved(location: str | None, file: Path, site: str) -> dict[str, Any]:
    from fieldlog.cli.location import open_workspace
    from fieldlog.fieldwork.rig_checks.checks import save_check_file

    with open_workspace(location) as workspace:
        saved = save_check_file(workspace, workspace.site_named(site), file, today=today())
    return saved.judged


def _print_verdict(verdict: dict[str, Any]) -> None:
    tolerance = verdict["tolerance"]
    print_line(f"rig {verdict['rig']} · {verdict['stage']} check, {verdict['state']}: {verdict['verdict']}")
    print_line(
        f"local g {verdict['local_gravity_m_s2']:.5f} m/s² · tolerance {tolerance['torque_pct']:g} % or "
        f"{tolerance['torque_floor_nm']:g} N·m ({tolerance['name']}), {verdict['decision']}"
    )
    print_line()
    print_line(
        "     mass  direction  run        reference    reading      error     ±U      k  tolerance  verdict"
    )
    print_line("       kg                             N·m        N·m        N·m    N·m               N·m")
    for point in verdict["torque"]["points"]:
        doubt = " (undecidable)" if point["undecidable"] else ""
        print_line(
            f"{point['mass_kg']:9.3f}  {point['direction']:<9}  {point['run']:<9} {point['reference_nm']:10.2f} "
            f"{point['reading_nm']:10.2f} {point['error_nm']:+10.2f} {point['u_expanded_nm']:6.2f} "
            f"{point['coverage_factor']:6.2f} {point['tolerance_nm']:10.2f}  {point['verdict']}{doubt}"
        )
    print_line()
    for direction, line in verdict["torque"]["lines"].items():
        if line:
            print_line(
                f"line {direction}: slope {line['slope']:.4f}{_plus_minus(line['u_slope'], 4)}, "
                f"intercept {line['intercept_nm']:+.2f}{_plus_minus(line['u_intercept_nm'], 2)} N·m "
                f"({line['points']} points, standard uncertainties)"
            )
    hysteresis = verdict["torque"]["hysteresis_pct"]
    if hysteresis is not None:
        print_line(f"hysteresis {hysteresis:.2f} %: {verdict['torque']['hysteresis_verdict']}")
    print_line(f"zero moved by {verdict['zero']['change_nm']:+.2f} N·m: {verdict['zero']['verdict']}")
    for name, unit in (("angle", "deg"), ("speed", "deg_s")):
        part = verdict[name]
        if part["verdict"] is None:
            print_line(f"{name}: not checked")
        else:
            largest = max((point[f"error_{unit}"] for point in part["points"]), key=abs)
            print_line(
                f"{name}: largest error {largest:+.2f}{'°' if unit == 'deg' else '°/s'}: {part['verdict']}"
            )
    for remark in verdict["remarks"]:
        print_line(f"- {remark}")


def _plus_minus(value: float | None, digits: int) -> str:
    return "" if value is None else f" ± {value:.{digits}f}"
