"""Plots of the athlete's page: today's curves over the last ones, and peak torque over the visits."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from fieldlog.date_words import day_text
from fieldlog.errors import FieldlogError
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.change.published_errors import typical_error
from fieldlog.fieldwork.change.trials import Line, Score, Trial, line_of
from fieldlog.fieldwork.pages.sheet_sources import SheetSubject
from fieldlog.fieldwork.recording.recording import curves
from fieldlog.fieldwork.results.measure_list import MEASURES, PEAK
from fieldlog.fieldwork.results.results import DirectionResult
from fieldlog.fieldwork.results.sets import reload_recording
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Protocol, Side
from fieldlog.records.visit import Visit
from fieldlog.sheets.content import Block, Curve, CurvePlot, TrendPlot, TrendPoint, Words
from fieldlog.sheets.wording import speed_text
from fieldlog.store.workspace import Workspace

__all__ = ["curve_plots", "trend_plots"]

MOST_POINTS = 160
QUANTILE_95 = 1.96


def curve_plots(
    workspace: Workspace,
    protocol: Protocol,
    results: Sequence[DirectionResult],
    earlier: dict[Line, tuple[Visit, DirectionResult]],
) -> list[Block]:
    """One plot a side at the slowest speed: the best repetition of each direction, over that of the last visit."""
    slowest = min(result.record.speed_deg_s for result in results)
    blocks: list[Block] = []
    missing: list[str] = []
    sides: list[Side] = sorted({result.record.side for result in results})
    for side in sides:
        drawn: list[Curve] = []
        for result in sorted(results, key=lambda result: result.efforts.index(result.direction)):
            if result.record.side != side or result.record.speed_deg_s != slowest:
                continue
            name = protocol.direction_name(result.direction)
            drawn += _curve(workspace, result, name, "today", earlier=False)
            found = earlier.get(line_of(result))
            if found is not None:
                drawn += _curve(workspace, found[1], name, day_text(found[0].date), earlier=True)
        if not drawn:
            missing.append(_side_words(side))
            continue
        blocks.append(
            CurvePlot(
                heading=f"Torque over angle, {_side_words(side)}, {speed_text(slowest)}",
                curves=tuple(drawn),
                words="Best repetition of each direction: today solid, last visit dashed. "
                + "; ".join(_curve_words(curve) for curve in drawn)
                + ".",
            )
        )
    if missing:
        where = " and ".join(missing)
        blocks.append(Words((f"No curve, {where}: the recording is not on this laptop or cannot be read.",)))
    return blocks


def _side_words(side: Side) -> str:
    return "both sides together" if side == "both" else side


def _curve_words(curve: Curve) -> str:
    top = max(range(len(curve.torque_nm)), key=lambda place: curve.torque_nm[place])
    return f"{curve.name}: highest {curve.torque_nm[top]:.0f} N·m at {curve.angle_deg[top]:.0f}°".replace(
        "-", "−"
    )


def _curve(
    workspace: Workspace, result: DirectionResult, kind: str, when: str, *, earlier: bool
) -> list[Curve]:
    best = result.best_movement
    if best is None:
        return []
    for store in workspace.sites.values():
        if not store.document(EffortSet.table, result.record.id):
            continue
        try:
            kept = reload_recording(store, result.record)
            recording, sweep = kept.recordings()
            options = kept.options([entry.index for entry in result.record.left_out])
            found = next(
                (curve for curve in curves(recording, options, sweep=sweep) if curve.index == best["index"]),
                None,
            )
        except (FieldlogError, OSError):
            # A page without the picture is better than none; the block says that the recording is missing.
            return []
        if found is None:
            return []
        step = max(1, len(found.angle_deg) // MOST_POINTS)
        angle, torque = found.angle_deg[::step], found.torque_nm[::step]
        return [
            Curve(
                f"{kind}, {when}",
                kind,
                tuple(round(float(a), 2) for a in angle),
                tuple(round(float(t), 2) for t in torque),
                earlier,
            )
        ]
    return []


def trend_plots(
    comparer: Comparer,
    subject: SheetSubject,
    protocol: Protocol,
    results: Sequence[DirectionResult],
) -> list[Block]:
    """Best peak torque of every visit up to this one at the slowest speed, where there is more than one."""
    slowest = min(result.record.speed_deg_s for result in results)
    wanted = {line_of(result) for result in results if result.record.speed_deg_s == slowest}
    found: dict[Line, dict[dt.date, TrendPoint]] = {}
    left_out = 0
    assert subject.athlete_id is not None
    for trial in comparer.trials.trials(subject.athlete_id):
        line, day = trial.line, trial.visit.date
        if day > subject.visit.date or line not in wanted or trial.result.peak_torque_nm is None:
            continue
        if not trial.result.cover.usable:
            left_out += 1
            continue
        point = _trend_point(comparer, trial)
        known = found.setdefault(line, {}).get(day)
        if known is None or known.value < point.value:
            found[line][day] = point
    in_order = sorted(found, key=lambda line: (line.side, protocol.efforts.index(line.direction)))
    series = [
        (_series_name(protocol, line), tuple(found[line][date] for date in sorted(found[line])))
        for line in in_order
    ]
    if not any(len(points) > 1 for _, points in series):
        return []
    missing = f" {left_out} results without a valid rig check are not drawn." if left_out else ""
    return [
        TrendPlot(
            heading=f"Peak torque over your visits, {speed_text(slowest)}",
            unit="N·m",
            series=tuple(series),
            words="Bars: 95 % of what the error of the test and of the rig can make. "
            + "; ".join(_series_words(name, points) for name, points in series)
            + f".{missing}",
            kinds=tuple(line.direction for line in in_order),
        )
    ]


def _trend_point(comparer: Comparer, trial: Trial) -> TrendPoint:
    value = trial.result.peak_torque_nm or 0.0
    error = comparer.bank.in_use(Score(MEASURES[PEAK], trial.line, value, (trial,)))
    shipped_pct = typical_error(trial.protocol.region).value_pct
    error_pct = error.percent if error and error.percent is not None else shipped_pct
    of_rig = trial.result.cover.standard_uncertainty_nm or 0.0
    half = QUANTILE_95 * ((error_pct / 100 * value) ** 2 + of_rig**2) ** 0.5
    return TrendPoint(day_text(trial.visit.date), trial.visit.date.toordinal(), value, half)


def _series_name(protocol: Protocol, line: Line) -> str:
    direction = protocol.direction_name(line.direction)
    return direction if line.side == "both" else f"{direction}, {line.side}"


def _series_words(name: str, points: Sequence[TrendPoint]) -> str:
    return f"{name}: " + ", ".join(
        f"{point.value:.0f}\u00a0±\u00a0{point.error:.0f}\u00a0N·m on {point.date}" for point in points
    )
