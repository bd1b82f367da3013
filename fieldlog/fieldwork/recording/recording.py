"""One recording: read, weighed, analysed. The command and the screens ask these same functions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fieldlog.errors import InputError
from fieldlog.fieldwork.recording.recording_reader import Request, Table, read_bytes, read_table
from fieldlog.fieldwork.recording.recording_weight import remarks_on_file, weight_torque_of
from fieldlog.records.column_map import OWN_COLUMNS, AlreadyDone, ColumnMap
from fieldlog.records.recipe import TraceOptions

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from fieldlog.analysis.limb import WeightTorque
    from fieldlog.analysis.trace import SetMeasures

    Array = NDArray[np.float64]

__all__ = [
    "Analysed",
    "MovementCurve",
    "Recording",
    "TraceOptions",
    "analyse_batch",
    "analyse_recording",
    "analysed",
    "curves",
    "read_recording",
]

# A column said to be a magnitude may dip this far below zero by noise and zero drift.
_MAGNITUDE_NOISE_NM = 2.0
_MAGNITUDE_NOISE_SHARE = 0.05


@dataclass(frozen=True, eq=False)
class Recording:
    """A recording in our units and signs: seconds, degrees, degrees per second, newton metre."""

    name: str
    time_s: Array
    angle_deg: Array
    torque_nm: Array
    velocity_deg_s: Array | None = None
    torque_is_magnitude: bool = False
    already: AlreadyDone = field(default_factory=AlreadyDone)


@dataclass(frozen=True, eq=False)
class MovementCurve:
    """One movement for drawing: muscle torque after the low-pass, positive in the direction of the effort."""

    index: int
    direction: str
    time_s: Array
    angle_deg: Array
    torque_nm: Array
    in_load_range: NDArray[np.bool_]
    counted: bool


@dataclass(frozen=True, eq=False)
class Analysed:
    """A recording analysed once: its measures as the JSON object that is kept, and what its curves are drawn from."""

    body: dict[str, Any]
    measures: SetMeasures

    def curves(self) -> list[MovementCurve]:
        """Torque over angle of each movement (or hold) for drawing."""
        return _curves(self.measures)


def read_recording(source: Path | bytes, *, name: str = "", column_map: ColumnMap | None = None) -> Recording:
    """Read a recording file, or its bytes, through a column map (None: our own column names).

    ``name`` is how messages call it; a path's own name where empty. Raises InputError naming the file,
    the line and what is wrong.
    """
    if isinstance(source, Path):
        name, data = name or source.name, read_bytes(source)
    else:
        name, data = name or "recording", source
    shape = column_map or OWN_COLUMNS
    wanted = (shape.time.column, shape.angle.column, shape.torque.column)
    velocity = (shape.velocity.column,) if shape.velocity else ()
    request = Request(
        name,
        wanted + velocity if column_map else wanted,
        optional=() if column_map else velocity,
        separator=shape.separator,
        decimal=shape.decimal,
        skip_lines=shape.skip_lines,
        hint="correct the column map"
        if column_map
        else "name its columns in a column map: --columns MAP.json, or beside the file; fieldlog trace --help has one",
    )
    table = read_table(data, request)
    return _in_our_units(table, shape, name)


def analyse_recording(
    recording: Recording, options: TraceOptions | None = None, *, sweep: Recording | None = None
) -> dict[str, Any]:
    """Return the measures of a recording as the JSON object that ``fieldlog trace`` prints.

    ``sweep`` is a relaxed sweep both ways, read through the same column map. Raises InputError where
    the limb's weight would be counted twice, where a weight cannot be subtracted, and where nothing can be measured.
    """
    return analysed(recording, options, sweep=sweep).body


def analysed(
    recording: Recording, options: TraceOptions | None = None, *, sweep: Recording | None = None
) -> Analysed:
    """Return measures and curves of one analysis; raises as ``analyse_recording`` does."""
    from fieldlog.fieldwork.recording.trace_body import trace_body

    options = options or TraceOptions()
    weight, remarks = weight_torque_of(recording, options, sweep)
    measures = _measures(recording, options, weight)
    said = remarks + remarks_on_file(recording, weight)
    body = trace_body(recording, options, measures, said, weighed_by_sweep=sweep is not None)
    return Analysed(body, measures)


def curves(
    recording: Recording, options: TraceOptions | None = None, *, sweep: Recording | None = None
) -> list[MovementCurve]:
    """Return torque over angle of each movement (or hold) for drawing; raises as ``analyse_recording`` does."""
    options = options or TraceOptions()
    return _curves(_measures(recording, options, weight_torque_of(recording, options, sweep)[0]))


def _curves(measures: SetMeasures) -> list[MovementCurve]:
    import numpy as np

    from fieldlog.analysis.counting import counts

    motion = measures.signals
    drawn = []
    for movement in measures.movements:
        samples = slice(movement.first_sample, movement.last_sample + 1)
        sign = (1 if movement.direction == "up" else -1) * (1 if movement.mode == "concentric" else -1)
        numbers = np.arange(movement.first_sample, movement.last_sample + 1)
        first, last = movement.load_range_samples or (0, -1)
        drawn.append(
            MovementCurve(
                index=movement.index,
                direction=movement.direction,
                time_s=motion.time_s[samples],
                angle_deg=motion.angle_deg[samples],
                torque_nm=sign * measures.muscle_nm[samples],
                in_load_range=(numbers >= first) & (numbers <= last),
                counted=counts(movement.flags),
            )
        )
    for hold in measures.isometric.holds if measures.isometric else ():
        samples = slice(hold.first_sample, hold.last_sample + 1)
        drawn.append(
            MovementCurve(
                index=hold.index,
                direction=hold.direction,
                time_s=motion.time_s[samples],
                angle_deg=motion.angle_deg[samples],
                torque_nm=(1 if hold.direction == "up" else -1) * measures.muscle_nm[samples],
                in_load_range=np.ones(samples.stop - samples.start, dtype=np.bool_),
                counted=True,
            )
        )
    return drawn


def analyse_batch(
    sources: Iterable[tuple[str, Path | bytes]],
    options: TraceOptions | None = None,
    *,
    column_map: ColumnMap | None = None,
) -> Iterator[tuple[str, dict[str, Any] | InputError]]:
    """Analyse recordings one after another; each is forgotten before the next is read.

    Yields name and measures, or the error of that recording, so that one bad file stops nobody; progress is
    the number of items yielded.
    """
    for name, source in sources:
        try:
            yield name, analyse_recording(read_recording(source, name=name, column_map=column_map), options)
        except InputError as error:
            yield name, error


def _in_our_units(table: Table, shape: ColumnMap, name: str) -> Recording:
    from fieldlog.analysis.units import DEG_PER_UNIT, DEG_S_PER_UNIT, NM_PER_UNIT, S_PER_UNIT

    time, angle, torque, *rest = table.columns
    time_s = time * S_PER_UNIT[shape.time.unit]
    torque_nm = torque * (shape.torque.sign * NM_PER_UNIT[shape.torque.unit])
    velocity_deg_s = None
    if shape.velocity is not None and rest:
        # A velocity without a sign of its own turns with the angle it belongs to.
        sign = shape.velocity.sign or shape.angle.sign
        velocity_deg_s = rest[0] * (sign * DEG_S_PER_UNIT[shape.velocity.unit])
    _refuse_bad_time(table, time_s, name)
    magnitude = shape.torque_sign == "magnitude"
    if magnitude and float(torque.min()) < -max(
        _MAGNITUDE_NOISE_NM, _MAGNITUDE_NOISE_SHARE * float(torque.max())
    ):
        line = table.line_of(int(torque.argmin()))
        raise InputError(
            f"{name}, line {line}, {shape.torque.column}: {torque.min():g} is negative, but the map says magnitude",
            "set torque_sign to signed",
        )
    angle_deg = angle * (shape.angle.sign * DEG_PER_UNIT[shape.angle.unit]) + shape.angle.offset_deg
    _refuse_unreal_numbers(table, (time_s, angle_deg, torque_nm, velocity_deg_s), name)
    return Recording(
        name=name,
        time_s=time_s,
        angle_deg=angle_deg,
        torque_nm=torque_nm,
        velocity_deg_s=velocity_deg_s,
        torque_is_magnitude=magnitude,
        already=shape.already,
    )


def _refuse_unreal_numbers(table: Table, columns: tuple[Array | None, ...], name: str) -> None:
    import numpy as np

    from fieldlog.analysis.trace import LARGEST

    limits = (LARGEST[key] for key in ("time_s", "angle_deg", "torque_nm", "velocity_deg_s"))
    for position, (values, limit) in enumerate(zip(columns, limits, strict=True)):
        if values is not None and float(np.abs(values).max()) > limit:
            row = int(np.argmax(np.abs(values)))
            raise InputError(
                f"{name}, line {table.line_of(row)}, {table.names[position]}: {values[row]:g} is beyond anything a rig records",
                "check the unit, or cut the file there",
            )


def _refuse_bad_time(table: Table, time_s: Array, name: str) -> None:
    import numpy as np

    from fieldlog.analysis.trace import FEWEST_SAMPLES

    if time_s.size < FEWEST_SAMPLES:
        raise InputError(
            f"{name}: {time_s.size} samples, at least {FEWEST_SAMPLES} are needed",
            "export the whole recording",
        )
    steps = np.diff(time_s)
    if not (steps > 0.0).all():
        row = int(np.argmax(steps <= 0.0)) + 1
        what = "is the same as on the sample before" if steps[row - 1] == 0.0 else "runs backwards"
        raise InputError(
            f"{name}, line {table.line_of(row)}, {table.names[0]}: time {what} ({time_s[row]:g} s)",
            "export one recording a file, with time to the millisecond or finer",
        )


def _measures(recording: Recording, options: TraceOptions, weight: WeightTorque | None) -> SetMeasures:
    from fieldlog.analysis.trace import Trace, analyse

    try:
        trace = Trace(recording.time_s, recording.angle_deg, recording.torque_nm, recording.velocity_deg_s)
        return analyse(
            trace,
            speed_deg_s=options.speed_deg_s,
            weight_torque=weight,
            cutoff_hz=options.cutoff_hz,
            band_pct=options.band_pct,
            at_deg=options.at_deg,
            body_mass_kg=options.body_mass_kg,
            mode=options.mode,
            drop=options.drop,
            leave_out=options.leave_out,
            torque_is_magnitude=recording.torque_is_magnitude,
        )
    except ValueError as error:
        raise InputError(f"{recording.name}: {error}") from None
