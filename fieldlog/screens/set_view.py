"""A set's measures as rows and words: repetitions, figures by direction, and the verdict with what to do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from textwrap import wrap
from typing import Any

from rich.cells import cell_len

from fieldlog.fieldwork.batch.turn import ratio_pct
from fieldlog.fieldwork.results.holds import measured_efforts, measured_figures
from fieldlog.fieldwork.results.results import quality_word
from fieldlog.records.effort_set import LeaveOut
from fieldlog.records.protocol import Protocol
from fieldlog.screens.table import Cell, Column, Row, Span
from fieldlog.screens.words import measured, number, sentence, unit_shown, verdict_span

__all__ = ["figure_lines", "quality_lines", "quality_span", "repetition_columns", "repetition_rows"]

GAP = 3
_LEVEL_ROLES = {"stop": "bad", "warning": "warn", "note": ""}


def repetition_columns() -> tuple[Column, ...]:
    """Return the columns of repetitions, the peak in the unit results are shown in."""
    return (
        Column("rep", 4, "right"),
        Column("", 12),
        Column(f"peak {unit_shown('N·m')}", 11, "right"),
        Column("at °", 6, "right"),
        Column("work J", 8, "right"),
        Column("power W", 8, "right"),
        Column(""),
    )


def repetition_rows(
    measures: Mapping[str, Any],
    protocol: Protocol,
    left_out: tuple[LeaveOut, ...] = (),
    *,
    unsigned: bool = False,
) -> list[Row]:
    """Return a row for each movement or hold, those that do not count marked as such.

    ``unsigned``: the rig writes torque without its sign.
    """
    reasons = {entry.index: entry.reason for entry in left_out}
    rows = []
    for movement in measures["movements"]:
        reason = reasons.get(movement["index"])
        flags = [flag.replace("_", " ") for flag in movement["flags"] if flag != "left_out"]
        word = Span(f"left out: {reason}", "warn") if reason else Span(", ".join(flags), "quiet")
        rows.append(
            Row(
                str(movement["index"]),
                (
                    str(movement["index"]),
                    protocol.direction_name(movement["direction"]),
                    measured(movement["peak_torque_nm"], 1, "N·m", with_unit=False),
                    number(movement["peak_torque_angle_deg"], 0),
                    number(movement["work_j"]),
                    number(movement["mean_power_w"], 0),
                    word,
                ),
                role="quiet" if reason or "dropped" in movement["flags"] else "",
            )
        )
    efforts = measured_efforts(measures, protocol.efforts, unsigned=unsigned)
    for hold in efforts[len(measures["movements"]) :]:
        reason = reasons.get(hold["index"])
        noted = ", ".join(flag.replace("_", " ") for flag in hold["flags"] if flag != "left_out")
        rate = hold["rtd_200_nm_s"]
        words = [
            Span(f"RTD 200 ms {number(rate, 0)} N·m/s" if rate is not None else ""),
            Span(f" left out: {reason}" if reason else f" {noted}", "warn" if reason else "quiet"),
        ]
        rows.append(
            Row(
                str(hold["index"]),
                (
                    str(hold["index"]),
                    protocol.direction_name(hold["direction"]),
                    measured(hold["peak_torque_nm"], 1, "N·m", with_unit=False),
                    number(hold["angle_deg"], 0),
                    "–",
                    "–",
                    words,
                ),
                role="quiet" if reason else "",
            )
        )
    return rows


def figure_lines(
    measures: Mapping[str, Any],
    protocol: Protocol,
    width: int,
    left_out: tuple[LeaveOut, ...] = (),
    *,
    unsigned: bool = False,
) -> list[Cell]:
    """Return the best peak torque of each direction, of movements or of holds, their ratio and the verdict.

    What does not fit into ``width`` goes on in the next line.
    """
    lines: list[list[Span]] = []
    room = 0
    for part in _figures(measures, protocol, left_out, unsigned=unsigned):
        length = sum(cell_len(span.text) for span in part) + GAP
        if length > room:
            lines.append([Span("  ")])
            room = width - 2 + GAP
        lines[-1] += [*part, Span(" " * GAP)]
        room -= length
    return list(lines)


def _figures(
    measures: Mapping[str, Any],
    protocol: Protocol,
    left_out: tuple[LeaveOut, ...],
    *,
    unsigned: bool,
) -> Iterator[list[Span]]:
    out = {entry.index for entry in left_out}
    for direction in protocol.efforts:
        figures = (
            measured_figures(measures, direction, protocol.efforts, left_out=out, unsigned=unsigned) or {}
        )
        variation = figures.get("peak_torque_cv_pct")
        yield [
            Span(f"{protocol.direction_name(direction)} "),
            Span(measured(figures.get("best_peak_torque_nm"), 1, "N·m"), "strong"),
            Span(
                f" ({figures['movements']} counted, CV {number(variation, 0)} %)"
                if variation is not None
                else "",
                "quiet",
            ),
        ]
    ratio = ratio_pct(measures, protocol)
    if ratio is not None:
        yield [Span(f"{protocol.ratio_name} {number(ratio, 0, '%')}")]
    yield [quality_span(measures)]


def quality_span(measures: Mapping[str, Any]) -> Span:
    """Return the verdict on the recording in one word."""
    return verdict_span(quality_word(dict(measures)))


def quality_lines(measures: Mapping[str, Any], width: int) -> list[Cell]:
    """Return every remark in words with what to do, the gravest first."""
    order = {"stop": 0, "warning": 1, "note": 2}
    lines: list[Cell] = []
    for entry in sorted(measures["quality"], key=lambda entry: order[entry["level"]]):
        for place, line in enumerate(wrap(sentence(f"{entry['level']}: {entry['text']}"), width - 2)):
            lines.append(Span(f"  {line}" if place == 0 else f"    {line}", _LEVEL_ROLES[entry["level"]]))
    return lines or [Span("  ✓ good: nothing speaks against these figures", "good")]
