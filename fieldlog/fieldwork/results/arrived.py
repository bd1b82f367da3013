"""A recording that arrived by itself: what it is like, which set of the turn it is, and taking it in.

The guess is a guess: it is said, and undone like everything that was saved.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from fieldlog.fieldwork.batch.run_of_sets import RunRow
from fieldlog.fieldwork.batch.turn import turn_rows
from fieldlog.fieldwork.books import of_team
from fieldlog.fieldwork.recording.recording_files import Sweep, map_for, maps_beside
from fieldlog.fieldwork.results.imports import Import, JudgedImport, analyse_import
from fieldlog.fieldwork.results.keep_set import KeptSet, Seat, keep_set, occasion_at
from fieldlog.fieldwork.results.sets import sets_of
from fieldlog.records.athlete import Athlete
from fieldlog.records.column_map import ColumnMap
from fieldlog.records.protocol import Mode, Side
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store

if TYPE_CHECKING:
    from fieldlog.fieldwork.recording.recording import Recording

__all__ = [
    "Arrived",
    "Guess",
    "guess_set",
    "import_like",
    "judge_arrived",
    "last_maps",
    "read_arrived",
    "rows_now",
    "take_arrived",
]

_SPEED_SHARE = 0.2
_SPEED_FLOOR_DEG_S = 5.0


@dataclass(frozen=True)
class Arrived:
    """A recording as it arrived, byte for byte, and what can be told of it without knowing whose it is.

    ``speed_deg_s`` is estimated, 0 for holds; ``repetitions`` the larger count of both directions. ``relaxed``:
    it reads like a limb moved both ways without effort.
    """

    path: Path
    data: bytes
    column_map: ColumnMap | None
    speed_deg_s: float
    holds: bool
    repetitions: int
    relaxed: bool
    recording: Recording = field(repr=False, compare=False)

    @property
    def digest(self) -> str:
        """The name its content has in the store."""
        return hashlib.sha256(self.data).hexdigest()

    def grew_from(self, earlier: Arrived) -> bool:
        """Whether this is the same file, written on since."""
        return (
            self.path == earlier.path
            and len(self.data) > len(earlier.data)
            and self.data.startswith(earlier.data)
        )


@dataclass(frozen=True)
class Guess:
    """The set a recording is taken for, or a sweep that weighs the limb, or why it is not taken in unasked."""

    row: RunRow | None = None
    sweep: bool = False
    against: str = ""


def last_maps(store: Store, visit: Visit) -> tuple[ColumnMap, ...]:
    """The column maps the recordings of a visit came through, the latest first."""
    bodies = [kept.record.column_map for kept in reversed(sets_of(store, visit.id))]
    maps = [ColumnMap.model_validate(body) for body in bodies if body]
    return tuple(each for place, each in enumerate(maps) if each not in maps[:place])


def read_arrived(path: Path, data: bytes, *, maps: Sequence[ColumnMap] = ()) -> Arrived:
    """Return a recording with what can be told of it; ``maps`` are tried after those that lie beside it.

    Raises InputError where it cannot be read or nothing in it can be measured.
    """
    from fieldlog.analysis.limb_sweep import weigh_sweep
    from fieldlog.fieldwork.recording.recording import analyse_recording

    column_map, recording = map_for(data, path.name, (*maps_beside(path), *maps))
    measures = analyse_recording(recording)
    holds = len((measures["isometric"] or {}).get("holds", ()))
    moved = max(measures["set"][direction]["movements"] for direction in ("up", "down"))
    try:
        weighed = weigh_sweep(
            recording.time_s, recording.angle_deg, recording.torque_nm, recording.velocity_deg_s
        )
        relaxed = not recording.torque_is_magnitude and not weighed.remarks
    except ValueError:
        relaxed = False
    return Arrived(
        path=path,
        data=data,
        column_map=column_map,
        speed_deg_s=measures["set_speed_deg_s"] or 0.0,
        holds=measures["mode"] == "isometric",
        repetitions=holds or moved,
        relaxed=relaxed,
        recording=recording,
    )


def guess_set(seat: Seat, rows: Sequence[RunRow], arrived: Arrived, *, weighed: Sequence[Side] = ()) -> Guess:
    """Return which set of the turn a recording is.

    That is the first open one of its speed; where a set for practice and one that counts are alike in that, the
    one whose repetitions are nearer, and else the one that counts. ``weighed`` are the sides whose sweep is
    there already. A name with another athlete's code in it is not taken in unasked, nor a speed that no open
    set has.
    """
    named = _names_somebody_else(seat, arrived.path.stem)
    if named:
        return Guess(against=f"its name says {named}")
    unfinished = [row for row in rows if row.state in ("next", "open")]
    side = unfinished[0].place[0] if unfinished else None
    if arrived.relaxed and side and seat.protocol.weight_correction == "sweep" and side not in weighed:
        return Guess(sweep=True)
    fitting = [row for row in unfinished if _fits(row, arrived)]
    if not fitting:
        what = "a hold" if arrived.holds else f"{arrived.speed_deg_s:.0f}°/s"
        return Guess(against=f"{what} fits no set that is open" if unfinished else "every set is done")
    first = fitting[0]
    alike = [
        row
        for row in fitting
        if (row.place[0], row.planned.speed_deg_s, row.planned.mode)
        == (first.place[0], first.planned.speed_deg_s, first.planned.mode)
    ]
    return Guess(
        row=min(
            alike,
            key=lambda row: (
                abs(row.planned.repetitions - arrived.repetitions),
                row.planned.purpose != "counted",
            ),
        )
    )


def import_like(seat: Seat, row: RunRow, *, body_mass_kg: float | None, sweep: Sweep | None) -> Import:
    """What is known of a set before its recording: whose side, speed and mode it is, and how the limb was weighed."""
    mode: Mode = row.planned.mode
    return Import(
        name="",
        data=b"",
        side=row.place[0],
        mode=mode,
        speed_deg_s=row.planned.speed_deg_s,
        body_mass_kg=body_mass_kg,
        sweep=sweep.data if sweep else None,
        angles_deg=seat.protocol.angles_deg,
    )


def judge_arrived(
    seat: Seat,
    row: RunRow,
    arrived: Arrived,
    *,
    body_mass_kg: float | None,
    sweep: Sweep | None,
    at: dt.datetime,
) -> JudgedImport:
    """What a recording would be as this set; raises as ``analyse_import`` does."""
    like = import_like(seat, row, body_mass_kg=body_mass_kg, sweep=sweep)
    import_ = replace(like, name=arrived.path.name, data=arrived.data, column_map=arrived.column_map)
    occasion = occasion_at(seat, row.place[0], at)
    return analyse_import(import_, occasion=occasion, recording=arrived.recording)


def take_arrived(
    seat: Seat,
    row: RunRow,
    arrived: Arrived,
    *,
    body_mass_kg: float | None,
    sweep: Sweep | None,
    at: dt.datetime,
    by: str,
) -> KeptSet:
    """Keep a recording as this set, through the same gate as one that was chosen by hand; raises as that does."""
    judged = judge_arrived(seat, row, arrived, body_mass_kg=body_mass_kg, sweep=sweep, at=at)
    return keep_set(seat, judged, row.planned, at=at, by=by)


def rows_now(seat: Seat) -> tuple[RunRow, ...]:
    """The sets of the turn as they are on disk now."""
    return turn_rows(seat.workspace, seat.store, seat.visit, seat.athlete_id, seat.protocol)


def _fits(row: RunRow, arrived: Arrived) -> bool:
    if arrived.holds or row.planned.mode == "isometric":
        return arrived.holds and row.planned.mode == "isometric"
    planned = row.planned.speed_deg_s
    return abs(arrived.speed_deg_s - planned) <= max(_SPEED_SHARE * planned, _SPEED_FLOOR_DEG_S)


def _names_somebody_else(seat: Seat, stem: str) -> str:
    """The code of another athlete of the batch that a file's name holds, where it does not hold this one's."""
    words = {word for word in re.split(r"[^0-9a-z]+", stem.casefold()) if word}
    team = of_team(seat.workspace, Athlete)
    codes = {}
    for entry in seat.batch.record.entries:
        kept = team.get(entry.athlete_id)
        if kept is not None:
            codes[entry.athlete_id] = kept.record.code
    if codes.get(seat.athlete_id, "").casefold() in words:
        return ""
    return next((code for code in codes.values() if code.casefold() in words), "")
