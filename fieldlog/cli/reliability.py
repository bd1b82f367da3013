"""``fieldlog reliability``: how well a measure repeats."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from fieldlog.cli.output import json_option, print_json, print_line

__all__ = ["reliability"]


@click.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE.csv")
@json_option
def reliability(file: Path, *, as_json: bool) -> int:
    """Tell how well the tests in FILE.csv repeat: one row an athlete, one column a visit, any one unit.

    Figures are in the unit of the table. An empty cell is a missing test; athletes with every visit count.
    Example: fieldlog reliability knee.csv --json
    """
    from fieldlog.fieldwork.change.reliability_file import read_score_table
    from fieldlog.fieldwork.change.reliability_report import reliability_of

    report = reliability_of(read_score_table(file), str(file))
    if as_json:
        print_json(report)
    else:
        _print_report(report)
    return 0


def _print_report(report: dict[str, Any]) -> None:
    print_line(f"{report['n']} athletes, {report['visits']} visits (figures in the unit of the table)")
    print_line(
        f"typical error {report['typical_error']:.4g} ({report['typical_error_dof']} degrees of freedom), "
        f"as coefficient of variation {_or_dash(report['typical_error_cv_pct'])} %, "
        f"robust {report['robust_typical_error']:.4g}"
    )
    print_line(f"detectable change {report['mdc90']:.4g} (90 %), {report['mdc95']:.4g} (95 %)")
    print_line(f"smallest worthwhile change {_or_dash(report['swc'])}")
    print_line(f"mean change, last minus first, {report['mean_change']:+.4g}")
    for step in report["from_visit_to_visit"]:
        print_line(
            f"  {step['first']} to {step['second']}: {step['change']:+.4g} ({step['low']:+.4g} to "
            f"{step['high']:+.4g}), typical error {step['typical_error']:.4g}"
        )
    agreement = report["limits_of_agreement"]
    if agreement:
        print_line(
            f"limits of agreement {agreement['low']:+.4g} to {agreement['high']:+.4g}, "
            f"bias {agreement['bias']:+.4g}, SD {agreement['sd']:.4g}"
        )
    print_line()
    print_line("intraclass correlation      value   95 % limits           F   df         p")
    names = {
        "icc1": "(1,1)",
        "icc2": "(2,1)",
        "icc3": "(3,1)",
        "icc1k": "(1,k)",
        "icc2k": "(2,k)",
        "icc3k": "(3,k)",
    }
    for key, form in report["icc"].items():
        limits = f"{_or_dash(form['low'], '.3f')} to {_or_dash(form['high'], '.3f')}"
        print_line(
            f"  {names[key]:<20} {_or_dash(form['value'], '.3f'):>10}   {limits:<16} {_or_dash(form['f'], '.2f'):>7}"
            f"   {form['df1']}, {form['df2']:<5} {_or_dash(form['p'], '.2g')}"
        )
    for remark in report["remarks"]:
        print_line(f"- {remark}")


def _or_dash(value: float | None, form: str = ".4g") -> str:
    return "–" if value is None else format(value, form)
