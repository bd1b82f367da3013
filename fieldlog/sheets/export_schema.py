"""What the exported columns mean: a table schema (Frictionless Table Schema, JSON) for each table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

__all__ = ["TABLES", "Field", "fields_of", "missing_values", "schema_body"]

Kind = Literal["string", "integer", "number", "date", "datetime"]

# The ending of a column's name is its unit; longer endings come first.
UNITS = (
    ("_m_s2", "m/s²"),
    ("_deg_s", "°/s"),
    ("_nm_kg", "N·m/kg"),
    ("_nm_s", "N·m/s"),
    ("_nms", "N·m·s"),
    ("_nm", "N·m"),
    ("_deg", "°"),
    ("_pct", "%"),
    ("_kg", "kg"),
    ("_hz", "Hz"),
    ("_s", "s"),
    ("_j", "J"),
    ("_w", "W"),
    ("_m", "m"),
    ("_c", "°C"),
)


@dataclass(frozen=True)
class Field:
    """One column: its name, its type and what it holds. The unit is the ending of the name."""

    name: str
    kind: Kind
    text: str = ""

    @property
    def unit(self) -> str:
        """The unit as printed, empty where the column has none."""
        if self.kind not in ("number", "integer"):
            return ""
        return next((unit for ending, unit in UNITS if self.name.endswith(ending)), "")


_WHERE = (
    Field("site", "string", "name of the place"),
    Field("visit", "date", "day of the visit, as written there"),
    Field("athlete", "string", "code of the athlete; never a name"),
)
_WHICH = (
    Field("protocol", "string", "id of the protocol"),
    Field("set", "integer", "number of the set among the athlete's sets of the visit"),
)

TABLES: dict[str, tuple[Field, ...]] = {
    "results": (
        *_WHERE,
        *_WHICH,
        Field("direction", "string", "up: angle increasing; down: angle decreasing"),
        Field("mode", "string", "concentric, eccentric, isometric or mixed"),
        Field("set_speed_deg_s", "number", "speed the rig was set to"),
        Field("peak_torque_nm", "number", "largest muscle torque of the counted movements in the load range"),
        Field("peak_torque_angle_deg", "number", "angle where it was reached"),
        Field("work_j", "number", "work of the counted movements together"),
        Field("mean_power_w", "number", "work of the counted movements over their time in motion"),
        Field("peak_torque_cv_pct", "number", "coefficient of variation of peak torque over the movements"),
        Field("quality", "string", "good, note, warning or stop: the worst remark on the recording"),
        Field("cover", "string", "what the rig's checks say: confirmed, provisional, suspect, unverified"),
        Field("recipe", "string", "how the figures were computed"),
        Field("side", "string", "left, right or both"),
        Field("standing", "string", "counted, familiarisation, redone or stopped"),
        Field("cover_remark", "string", "what is to be said of the cover"),
        Field("best_mean_torque_nm", "number", "holds: largest mean torque over one second"),
        Field("best_rtd_50_nm_s", "number", "holds: largest rate of torque development, onset to 50 ms"),
        Field("best_rtd_100_nm_s", "number", "holds: the same, onset to 100 ms"),
        Field("best_rtd_200_nm_s", "number", "holds: the same, onset to 200 ms"),
    ),
    "repetitions": (
        *_WHERE,
        *_WHICH,
        Field("side", "string", "left, right or both"),
        Field("index", "integer", "number of the movement in the recording, from 1"),
        Field("direction", "string", "up: angle increasing; down: angle decreasing"),
        Field("mode", "string", "concentric, eccentric or isometric"),
        Field("start_s", "number", "where the movement begins"),
        Field("end_s", "number", "where it ends"),
        Field("start_deg", "number", "angle there"),
        Field("end_deg", "number", "angle there"),
        Field("range_deg", "number", "angle gone through"),
        Field("load_range_deg", "number", "angle gone through at the set speed"),
        Field("load_range_start_deg", "number", "angle where the load range begins"),
        Field("load_range_end_deg", "number", "angle where it ends"),
        Field("load_range_share_pct", "number", "share of the load range in the movement"),
        Field("load_range_speed_deg_s", "number", "mean speed in the load range"),
        Field("mean_speed_deg_s", "number", "mean speed of the movement"),
        Field("peak_torque_nm", "number", "largest muscle torque in the load range"),
        Field("peak_torque_angle_deg", "number", "angle where it was reached"),
        Field("time_to_peak_s", "number", "time from the movement's start to it"),
        Field("work_j", "number", "work over the movement"),
        Field("load_range_work_j", "number", "work over the load range"),
        Field("mean_power_w", "number", "work over movement time"),
        Field("peak_power_w", "number", "largest power"),
        Field("impulse_nms", "number", "torque over time"),
        Field(
            "flags",
            "string",
            "remarks on this movement, separated by blanks; dropped and left_out do not count",
        ),
        Field("mean_torque_nm", "number", "hold: largest mean torque over one second"),
        Field("rtd_50_nm_s", "number", "hold: rate of torque development, onset to 50 ms"),
        Field("rtd_100_nm_s", "number", "hold: the same, onset to 100 ms"),
        Field("rtd_200_nm_s", "number", "hold: the same, onset to 200 ms"),
    ),
    "checks": (
        Field("site", "string", "name of the place"),
        Field("at", "datetime", "when the check was taken, with offset"),
        Field("rig", "string", "name of the rig"),
        Field("stage", "string", "opening, closing or interim"),
        Field("state", "string", "as-found or as-left"),
        Field("verdict", "string", "pass, conditional pass, conditional fail or fail"),
        Field("points", "integer", "number of torque points"),
        Field("hysteresis_pct", "number", "largest difference of unloading and loading / largest reference"),
        Field("zero_change_nm", "number", "zero after less zero before"),
        Field("local_gravity_m_s2", "number", "gravity the references were computed with"),
        Field("up_slope", "number", "slope of tared reading on reference, up; 1 is right"),
        Field("up_intercept_nm", "number", "intercept of that line"),
        Field("down_slope", "number", "slope of tared reading on reference, down; 1 is right"),
        Field("down_intercept_nm", "number", "intercept of that line"),
        Field("remarks", "string", "what is to be said of the check"),
    ),
}


def fields_of(table: str, rows: Sequence[Mapping[str, Any]]) -> list[Field]:
    """The columns of a table in order; what rows carry beyond the schema follows at the end."""
    fields = list(TABLES[table])
    known = {field.name for field in fields}
    for row in rows:
        for name, value in row.items():
            if name not in known:
                known.add(name)
                number = isinstance(value, int | float) and not isinstance(value, bool)
                fields.append(Field(name, "number" if number else "string"))
    return fields


def missing_values() -> list[str]:
    """What stands for no value in the CSV."""
    return [""]


def schema_body() -> dict[str, Any]:
    """The schema of all three tables as one JSON object, a table schema under each name."""
    return {
        name: {
            "fields": [
                {
                    "name": field.name,
                    "type": field.kind,
                    "description": field.text,
                    **({"unit": field.unit} if field.unit else {}),
                }
                for field in fields
            ],
            "missingValues": missing_values(),
        }
        for name, fields in TABLES.items()
    }
