"""``fieldlog trace``: one recording → measures."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from fieldlog.cli.output import json_option, print_json
from fieldlog.errors import InputError

__all__ = ["trace"]


# Field of the options → how it is called on the command line, where that differs from ``--field``.
_CALLED = {
    "speed_deg_s": "--speed",
    "cutoff_hz": "--cutoff",
    "band_pct": "--band",
    "at_deg": "--at",
    "body_mass_kg": "--body-mass",
}


def _named_by_option(error: InputError) -> InputError:
    """Call a field by the option a person typed: ``at_deg[0]: …`` becomes ``--at: …``."""
    place, _, what = error.message.partition(": ")
    name = place.partition("[")[0]
    option = _CALLED.get(name, "--" + name.replace("_", "-"))
    return InputError(f"{option}: {what}", f"see 'fieldlog trace --help' for an example of {option}")


def _numbers(text: str | None, option: str, what: str) -> tuple[float, ...]:
    if text is None:
        return ()
    try:
        return tuple(float(part) for part in text.split(","))
    except ValueError:
        raise InputError(
            f"{option}: {text!r} is not {what}", f"see 'fieldlog trace --help' for an example of {option}"
        ) from None


@click.command("trace", short_help="One recording: torque, work, power, fatigue, quality.")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--columns",
    metavar="MAP.json",
    type=click.Path(path_type=Path),
    help="Column map of a foreign file: names, units, signs, decimal sign. Default: our own columns time_s, angle_deg, "
    "velocity_deg_s (optional), torque_nm. Example: --columns hall_rig.json",
)
@click.option(
    "--speed",
    "speed_deg_s",
    metavar="DEG_S",
    type=float,
    help="Set speed in degrees per second. Default: estimated from the recording. Example: --speed 60",
)
@click.option(
    "--gravity",
    "sweep",
    metavar="SWEEP.csv",
    type=click.Path(path_type=Path),
    help="Relaxed sweep both ways with the same columns; its weight torque is subtracted. Default: none. "
    "Example: --gravity sweep.csv",
)
@click.option(
    "--gravity-fit",
    metavar="COS,SIN,OFFSET",
    help="Weight torque in N·m as coefficients of cosine, sine and offset. Default: none. Example: --gravity-fit 11.6,-2.1,0.4",
)
@click.option(
    "--cutoff",
    "cutoff_hz",
    metavar="HZ",
    type=float,
    default=15.0,
    show_default=False,
    help="Cut-off of the zero-lag low-pass in Hz; 0 for none. Default: 15. Example: --cutoff 10",
)
@click.option(
    "--band",
    "band_pct",
    metavar="PCT",
    type=float,
    default=5.0,
    help="How far the speed may be from the set speed in the load range, in percent. Default: 5. Example: --band 10",
)
@click.option(
    "--at",
    "at",
    metavar="DEG,DEG…",
    help="Angles in degrees at which torque is read, inside the load range. Default: none. Example: --at 30,60",
)
@click.option(
    "--body-mass",
    "body_mass_kg",
    metavar="KG",
    type=float,
    help="Body mass in kg, for torque per kilogram. Default: none. Example: --body-mass 71.5",
)
@click.option(
    "--mode",
    metavar="MODE",
    type=click.Choice(["concentric", "eccentric", "isometric"]),
    help="concentric, eccentric or isometric; wins over what torque and motion say. Default: found out. Example: --mode eccentric",
)
@click.option(
    "--drop",
    metavar="N",
    type=int,
    default=0,
    help="Number of leading movements per direction that do not count. Default: 0. Example: --drop 1",
)
@click.option(
    "--leave-out",
    metavar="I,J…",
    help="Numbers of movements that do not count. Default: none. Example: --leave-out 3,4",
)
@json_option
def trace(
    file: Path,
    columns: Path | None,
    sweep: Path | None,
    *,
    gravity_fit: str | None,
    at: str | None,
    leave_out: str | None,
    as_json: bool,
    **plain: Any,
) -> None:
    """Measure the recording FILE (CSV) and say how far it can be trusted.

    Torque is positive in the direction of the effort. Angles in degrees, torque in N·m, work in J.

    A file with other columns needs a column map, a JSON file such as:

    \b
      {"time": {"column": "t", "unit": "ms"},
       "angle": {"column": "pos", "unit": "deg", "sign": -1},
       "torque": {"column": "M", "unit": "nm"},
       "decimal": ",", "separator": ";", "skip_lines": 1}

    Units: time s, ms; angle deg, rad; torque nm, lbf_ft, lbf_in, kgf_m. "sign": -1 turns a direction round:
    torque must be positive where it acts towards larger angles. "skip_lines" counts the lines above the column
    names. The application takes the map that lies beside the recording.
    """  # noqa: D301 (click reads the backspace as: keep these lines)
    from fieldlog.fieldwork.recording.column_maps import read_column_map
    from fieldlog.fieldwork.recording.recording import analyse_recording, read_recording
    from fieldlog.fieldwork.recording.trace_options import trace_options

    fit = _numbers(gravity_fit, "--gravity-fit", "three numbers in N·m with commas between")
    if gravity_fit is not None and len(fit) != 3:
        raise InputError(
            f"--gravity-fit: {gravity_fit!r} is not three numbers", "for example --gravity-fit 11.6,-2.1,0.4"
        )
    left_out = _numbers(leave_out, "--leave-out", "movement numbers with commas between")
    if not all(number.is_integer() for number in left_out):
        raise InputError(f"--leave-out: {leave_out!r} is not movement numbers", "for example --leave-out 3,4")
    at_deg = _numbers(at, "--at", "angles in degrees with commas between")
    try:
        options = trace_options(
            **plain, gravity_fit=fit or None, at_deg=at_deg, leave_out=tuple(int(n) for n in left_out)
        )
    except InputError as error:
        raise _named_by_option(error) from None
    column_map = read_column_map(columns) if columns else None
    recording = read_recording(file, column_map=column_map)
    body = analyse_recording(
        recording, options, sweep=read_recording(sweep, column_map=column_map) if sweep else None
    )
    if as_json:
        print_json(body)
    else:
        from fieldlog.cli.trace_text import print_trace

        print_trace(body)
