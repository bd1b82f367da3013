"""The measures that are compared over time and over a squad: name, unit, and the scale their error lives on."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal

from fieldlog.analysis.counting import counts
from fieldlog.errors import NotFoundError
from fieldlog.fieldwork.results.results import DirectionResult
from fieldlog.records.protocol import Direction, Protocol

__all__ = [
    "MEASURES",
    "PEAK",
    "Measure",
    "counted_movements",
    "main_directions",
    "main_speed_deg_s",
    "measure_named",
    "value_of",
]

PEAK = "best_peak_torque_nm"
_AT_ANGLE = re.compile(r"torque_at_nm:(-?\d{1,3}(?:\.\d{1,2})?)")


@dataclass(frozen=True)
class Measure:
    """A measure that scores are made of.

    ``scale``: errors of torque, work and power grow with them, so they are judged on logarithms; ratios,
    differences and angles as they are. ``best``: the figure is a pick from the repetitions, so that more
    repetitions alone raise it. ``of``: one direction, both directions of a set, or both sides. ``of_best``: the
    key is one of the movement that holds the best peak torque, not of the set. ``family``: what shares one
    typical error.
    """

    key: str
    name: str
    unit: str
    family: str
    scale: Literal["log", "plain"] = "log"
    decimals: int = 1
    best: bool = False
    of: Literal["direction", "set", "sides"] = "direction"
    of_best: bool = False

    @property
    def change_unit(self) -> str:
        """Unit of a change: percent of the earlier value, or the measure's own."""
        return "%" if self.scale == "log" else "points" if self.unit == "%" else self.unit

    def judged(self, value: float) -> float:
        """The value on the scale its error is judged on."""
        return math.log(value) if self.scale == "log" else value


MEASURES: Mapping[str, Measure] = MappingProxyType(
    {
        measure.key: measure
        for measure in (
            Measure(PEAK, "peak torque, best", "N·m", "peak torque", best=True),
            Measure("mean_best_three_nm", "peak torque, mean of three best", "N·m", "peak torque", best=True),
            Measure("mean_peak_torque_nm", "peak torque, mean", "N·m", "peak torque"),
            Measure(
                "best_peak_torque_nm_kg",
                "peak torque a kilogram",
                "N·m/kg",
                "peak torque a kilogram",
                decimals=2,
                best=True,
            ),
            Measure("mean_work_j", "work a repetition", "J", "work"),
            Measure("mean_power_w", "mean power", "W", "power", decimals=0),
            Measure("peak_torque_angle_deg", "angle of peak torque", "°", "angle", "plain", 0, of_best=True),
            Measure("ratio_pct", "ratio", "%", "ratio", "plain", 0, best=True, of="set"),
            Measure(
                "side_difference_pct", "right−left", "%", "side difference", "plain", 0, best=True, of="sides"
            ),
        )
    }
)


def measure_named(key: str) -> Measure:
    """The measure of a key; ``torque_at_nm:30`` is the mean torque at 30°.

    Raises NotFoundError naming the keys there are.
    """
    if key in MEASURES:
        return MEASURES[key]
    at = _AT_ANGLE.fullmatch(key)
    if at:
        return Measure(key, f"torque at {float(at[1]):g}°", "N·m", "peak torque")
    raise NotFoundError(f"no measure is called {key[:60]!r}", f"there are: {', '.join(MEASURES)}")


def main_speed_deg_s(protocol: Protocol) -> float:
    """The slowest speed of the protocol's counted sets (of all its sets where none counts)."""
    counted = [each.speed_deg_s for each in protocol.sets if each.purpose == "counted"]
    return min(counted or [each.speed_deg_s for each in protocol.sets])


def main_directions(protocol: Protocol) -> tuple[Direction, ...]:
    """Directions whose best peak torque at the main speed are the protocol's main measures: two at most."""
    return protocol.efforts[:2]


def value_of(measure: Measure, result: DirectionResult) -> float | None:
    """The measure of one direction of a set; None where it was not to be had or cannot be right."""
    value = _raw_value(measure, result)
    if value is None or not math.isfinite(value):
        return None
    # A torque, work or power of zero or less in the direction of the effort has no logarithm and no meaning.
    return None if measure.scale == "log" and value <= 0.0 else value


def _raw_value(measure: Measure, result: DirectionResult) -> float | None:
    if measure.key == "mean_power_w":
        return result.mean_power_w
    if measure.of_best:
        return (result.best_movement or {}).get(measure.key)
    at = _AT_ANGLE.fullmatch(measure.key)
    if at or measure.key == "mean_work_j":
        angle = f"{float(at[1]):g}" if at else ""
        mean = _mean(
            [
                movement["torque_at_nm"].get(angle) if at else movement.get("work_j")
                for movement in counted_movements(result)
            ]
        )
        return None if mean is None or result.is_withheld else result.factor * mean
    value = result.figures.get(measure.key)
    return None if value is None else float(value)


def counted_movements(result: DirectionResult) -> list[dict[str, Any]]:
    """The movements or holds of this direction that count, of full range."""
    return [
        movement
        for movement in result.movements
        if counts(movement["flags"]) and "range_differs" not in movement["flags"]
    ]


def _mean(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return math.fsum(known) / len(known) if known else None
