"""A typed set: peak torque by repetition read off a display, where no recording can be had.

It is kept like a recording, as what was typed, and says everywhere that it was typed: there is no curve, and
filter, load range and weight are not known.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fieldlog.errors import InputError
from fieldlog.fieldwork.entry import parse_quantity
from fieldlog.records.protocol import Direction, Mode

__all__ = ["TYPED", "TypedPeaks", "is_typed", "read_peaks", "typed_measures", "typed_text"]

TYPED = "typed"
LARGEST_NM = 2_000.0
MOST_REPETITIONS = 200
_LARGEST_CV_PCT = 15.0

TypedPeaks = Mapping[Direction, Sequence[float]]
"""Peak torques in N·m by direction, in the order of the repetitions, positive in the direction of the effort."""

# A comma between digits is a decimal sign; one that a blank follows stands between two numbers.
_BETWEEN = re.compile(r"[;\t\r\n|]|,(?=\s|$)|\s+(?=[-+−]?[.,]?\d)")


@dataclass(frozen=True)
class _Peak:
    index: int
    direction: Direction
    torque_nm: float
    flags: tuple[str, ...]

    @property
    def counts(self) -> bool:
        return "left_out" not in self.flags


def read_peaks(text: str) -> tuple[float, ...]:
    """Return the peak torques that were typed or pasted, one a repetition, in N·m.

    Between numbers stand blanks, semicolons, lines or commas with a blank; a comma within a number is a decimal
    sign; units such as ``lbf.ft`` are taken. Raises InputError naming the repetition that cannot be one.
    """
    words = [word.strip() for word in _BETWEEN.split(text) if word.strip()]
    if len(words) > MOST_REPETITIONS:
        raise InputError(
            f"{len(words)} numbers are more than a set has repetitions", "paste one direction of one set"
        )
    peaks = []
    for number, word in enumerate(words, start=1):
        peak_nm = parse_quantity(word, "nm", f"repetition {number}")
        if not 0.0 < peak_nm <= LARGEST_NM:
            raise InputError(
                f"repetition {number}: {peak_nm:g} N·m is no peak torque",
                f"type what the display shows, above 0 and at most {LARGEST_NM:g} N·m",
            )
        peaks.append(peak_nm)
    return tuple(peaks)


def is_typed(measures: Mapping[str, Any]) -> bool:
    """Whether a set's figures were typed and not measured from a recording."""
    return bool(measures["recipe"].get(TYPED))


def typed_text(peaks: TypedPeaks, *, at: dt.datetime, by: str) -> bytes:
    """Return what is kept in place of a recording: the numbers as they were typed, by whom and when."""
    who = " ".join(by.split())
    lines = [f"# typed by {who} at {at.isoformat()}; no recording", "direction,repetition,peak_torque_nm"]
    lines += [
        f"{direction},{number},{peak_nm!r}"
        for direction, values in peaks.items()
        for number, peak_nm in enumerate(values, start=1)
    ]
    return ("\n".join(lines) + "\n").encode()


def typed_measures(
    peaks: TypedPeaks,
    *,
    mode: Mode,
    speed_deg_s: float,
    body_mass_kg: float | None = None,
    left_out: Sequence[int] = (),
) -> dict[str, Any]:
    """Return the measures of typed peaks in the shape of those of a recording; what is not known is None.

    Repetitions are numbered as they are done: first of the one direction, first of the other, and so on.
    """
    listed = _in_order(peaks, left_out)
    figures = {
        direction: _figures(
            [peak for peak in listed if peak.direction == direction and peak.counts], body_mass_kg
        )
        for direction in ("up", "down")
    }
    up, down = (figures[direction]["best_peak_torque_nm"] for direction in ("up", "down"))
    holds = mode == "isometric"
    return {
        "file": TYPED,
        "samples": 0,
        "rate_hz": None,
        "duration_s": None,
        "mode": mode,
        "set_speed_deg_s": speed_deg_s or None,
        "set_speed_source": "given",
        "recipe": {
            "version": 1,
            TYPED: True,
            "cutoff_hz": None,
            "band_pct": None,
            "gravity": "unknown",
            "leave_out": list(left_out),
            "body_mass_kg": body_mass_kg,
        },
        "weight_torque": None,
        "movements": [] if holds else [_movement(peak, mode) for peak in listed],
        "set": {
            **(figures if not holds else {"up": _figures([], None), "down": _figures([], None)}),
            "down_up_peak_ratio_pct": 100.0 * down / up if up and down and not holds else None,
        },
        "isometric": {"holds": [_hold(peak) for peak in listed], "rtd_cutoff_hz": None} if holds else None,
        "quality": _quality(figures, listed),
    }


def _in_order(peaks: TypedPeaks, left_out: Sequence[int]) -> list[_Peak]:
    turns = sorted(
        (number, place, direction, peak_nm)
        for place, direction in enumerate(peaks)
        for number, peak_nm in enumerate(peaks[direction])
    )
    return [
        _Peak(index, direction, peak_nm, (TYPED, "left_out") if index in left_out else (TYPED,))
        for index, (_, _, direction, peak_nm) in enumerate(turns, start=1)
    ]


def _figures(peaks: Sequence[_Peak], body_mass_kg: float | None) -> dict[str, Any]:
    from dataclasses import asdict

    import numpy as np

    from fieldlog.analysis.set_figures import SetFigures, variation_pct

    values = sorted(peak.torque_nm for peak in peaks)
    best = values[-1] if values else None
    return asdict(
        SetFigures(
            movements=len(values),
            best_peak_torque_nm=best,
            best_peak_torque_nm_kg=best / body_mass_kg if best and body_mass_kg else None,
            mean_peak_torque_nm=math.fsum(values) / len(values) if values else None,
            mean_best_three_nm=math.fsum(values[-3:]) / 3.0 if len(values) >= 3 else None,
            peak_torque_cv_pct=variation_pct(
                np.asarray([peak.torque_nm for peak in peaks], dtype=np.float64)
            ),
        )
    )


def _movement(peak: _Peak, mode: Mode) -> dict[str, Any]:
    from fieldlog.fieldwork.recording.trace_body import MOVEMENT_KEYS

    return {
        **dict.fromkeys(MOVEMENT_KEYS),
        "index": peak.index,
        "direction": peak.direction,
        "mode": mode,
        "peak_torque_nm": peak.torque_nm,
        "torque_at_nm": {},
        "flags": list(peak.flags),
    }


def _hold(peak: _Peak) -> dict[str, Any]:
    from fieldlog.fieldwork.recording.trace_body import HOLD_KEYS

    return {
        **dict.fromkeys(HOLD_KEYS),
        "index": peak.index,
        "direction": peak.direction,
        "peak_torque_nm": peak.torque_nm,
        "flags": list(peak.flags),
    }


def _quality(figures: Mapping[str, Mapping[str, Any]], listed: Sequence[_Peak]) -> list[dict[str, Any]]:
    from dataclasses import asdict

    from fieldlog.analysis.quality import remark

    remarks = [remark(TYPED)]
    widest = max((each["peak_torque_cv_pct"] or 0.0 for each in figures.values()), default=0.0)
    if widest > _LARGEST_CV_PCT:
        remarks.append(remark("high_variation"))
    out = [peak.index for peak in listed if not peak.counts]
    if out:
        remarks.append(remark("left_out", where=f"movement {', '.join(map(str, out))}"))
    return [asdict(each) for each in remarks]
