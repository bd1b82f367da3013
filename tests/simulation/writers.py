"""Samples as CSV text: in fieldlog's own columns, or as some other rig would write them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.simulation.acquisition import Samples

#: One SI-side unit (s, deg, deg/s, N·m) is this many of the named unit. Exact definitions:
#: 1 lbf = 4.4482216152605 N, 1 ft = 0.3048 m, 1 kgf = 9.80665 N.
PER_UNIT = {
    "s": 1.0, "ms": 1000.0,
    "deg": 1.0, "rad": np.pi / 180,
    "deg/s": 1.0, "rad/s": np.pi / 180,
    "nm": 1.0, "lbf_ft": 1 / (4.4482216152605 * 0.3048), "lbf_in": 12 / (4.4482216152605 * 0.3048),
    "kgf_m": 1 / 9.80665,
}  # fmt: skip


def own_columns(
    samples: Samples, *, velocity: bool = True, decimals: tuple[int, int, int, int] = (4, 2, 2, 3)
) -> str:
    """CSV text in fieldlog's own columns; ``decimals`` for time, angle, velocity, torque."""
    columns = {
        "time_s": (samples.time_s, decimals[0]),
        "angle_deg": (samples.angle_deg, decimals[1]),
        "velocity_deg_s": (samples.velocity_deg_s, decimals[2]),
        "torque_nm": (samples.torque_nm, decimals[3]),
    }
    if not velocity:
        del columns["velocity_deg_s"]
    return _table(columns, separator=",", decimal=".")


@dataclass(frozen=True)
class Channel:
    """One column of a foreign file: its header, unit and decimals; ``sign`` and ``offset_deg`` as a map undoes them.

    The column map says: our value = sign · value in our unit + offset; the writer goes the other way.
    """

    header: str
    unit: str
    decimals: int
    sign: int = 1
    offset_deg: float = 0.0

    def written(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        return self.sign * (values - self.offset_deg) * PER_UNIT[self.unit]


@dataclass(frozen=True)
class ForeignFormat:
    """How another rig's software writes a recording; ``column_map`` is what a user would declare for it."""

    time: Channel
    angle: Channel
    torque: Channel
    velocity: Channel | None = None
    magnitude: bool = False
    decimal: str = ","
    separator: str = ";"
    preamble: tuple[str, ...] = ()

    def text(self, samples: Samples) -> str:
        torque = self.torque.written(samples.torque_nm)
        columns = {
            self.time.header: (self.time.written(samples.time_s), self.time.decimals),
            self.angle.header: (self.angle.written(samples.angle_deg), self.angle.decimals),
        }
        if self.velocity:
            columns[self.velocity.header] = (
                self.velocity.written(samples.velocity_deg_s),
                self.velocity.decimals,
            )
        columns[self.torque.header] = (np.abs(torque) if self.magnitude else torque, self.torque.decimals)
        table = _table(columns, separator=self.separator, decimal=self.decimal)
        return "".join(f"{line}\n" for line in self.preamble) + table

    def column_map(self) -> dict[str, Any]:
        def entry(channel: Channel) -> dict[str, Any]:
            return {"column": channel.header, "unit": channel.unit, "sign": channel.sign}

        return {
            "time": {"column": self.time.header, "unit": self.time.unit},
            "angle": {**entry(self.angle), "offset_deg": self.angle.offset_deg},
            "velocity": entry(self.velocity) if self.velocity else None,
            "torque": entry(self.torque),
            "torque_sign": "magnitude" if self.magnitude else "signed",
            "already": {"weight_corrected": "no", "filtered": "no", "load_range_only": "no"},
            "decimal": self.decimal,
            "separator": self.separator,
            "skip_lines": len(self.preamble),
        }


#: German headers, decimal commas, semicolons, milliseconds and three lines before the header.
GERMAN = ForeignFormat(
    time=Channel("Zeit [ms]", "ms", 0),
    angle=Channel("Winkel [°]", "deg", 1),
    velocity=Channel("Geschwindigkeit [°/s]", "deg/s", 1),
    torque=Channel("Drehmoment [Nm]", "nm", 1),
    preamble=("Messung einer erfundenen Person (Simulation)", "Anlage A", "Datum 04.03.2026"),
)

#: Seconds, radians, pound-force feet with the opposite sign, tabs.
POUND_FEET = ForeignFormat(
    time=Channel("elapsed", "s", 4),
    angle=Channel("position", "rad", 5, sign=-1, offset_deg=90.0),
    torque=Channel("moment", "lbf_ft", 3, sign=-1),
    decimal=".",
    separator="\t",
)


def _table(columns: dict[str, tuple[NDArray[np.float64], int]], *, separator: str, decimal: str) -> str:
    texts = []
    for values, decimals in columns.values():
        # + 0.0 turns a rounded −0.0 into 0.0, which would print a sign
        texts.append(
            [f"{value:.{decimals}f}".replace(".", decimal) for value in np.round(values, decimals) + 0.0]
        )
    rows = [separator.join(columns), *(separator.join(row) for row in zip(*texts, strict=True))]
    return "\n".join(rows) + "\n"
