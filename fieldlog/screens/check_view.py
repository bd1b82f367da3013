"""A rig check under way as rows: each error against its tolerance, and what was said so far."""

from __future__ import annotations

from collections.abc import Sequence

from fieldlog.fieldwork.rig_checks.check_basis import Basis
from fieldlog.fieldwork.rig_checks.check_plan import Ask
from fieldlog.fieldwork.rig_checks.check_point import point_budget
from fieldlog.fieldwork.rig_checks.guided_basis import judge_ask, reference_of
from fieldlog.fieldwork.rig_checks.guided_check import GuidedCheck
from fieldlog.records.check_entry import Direction
from fieldlog.screens.error_bar import error_bar
from fieldlog.screens.table import Cell, Column, Row, Span
from fieldlog.screens.words import number, signed, verdict_span

__all__ = ["CHECK_COLUMNS", "READING_COLUMN", "budget_lines", "check_rows", "pane_title", "so_far_lines"]

CHECK_COLUMNS = (
    Column("mass kg", 10, "right"),
    Column("ref N·m", 7, "right"),
    Column("reading", 10, "right"),
    Column("error N·m", 9, "right"),
    Column("−tol     0     +tol", 19),
    Column(""),
)
READING_COLUMN = 2
BAR_WIDTH = 19
_GEOMETRY = ("angle", "speed")
_SIGN_WORDS = {"+": "shows +", "-": "shows −", "none": "shows no sign"}
_LABELS = {
    "sign": "sign",
    "turned": "turned",
    "preload": "preloads",
    "tare_before": "tare",
    "tare_after": "tare after",
}


def pane_title(check: GuidedCheck, ask: Ask | None) -> tuple[str, str]:
    """Return what is being done, and how many points are read of how many."""
    done, total = check.points_done
    count = f"{done} of {total} points"
    if ask is None:
        return "all read", count
    if ask.kind in _GEOMETRY:
        return f"{ask.kind}s", count
    run = f", {ask.run}" if ask.kind == "point" else ""
    return f"{ask.direction}{run}", count


def check_rows(check: GuidedCheck, basis: Basis | None, direction: Direction) -> list[Row]:
    """Return everything asked in one direction, in order, with its answer and verdict."""
    return [_row(check, basis, ask) for ask in check.asks if ask.direction == direction]


def _row(check: GuidedCheck, basis: Basis | None, ask: Ask) -> Row:
    values = check.readings.get(ask.key, ())
    if ask.kind in _GEOMETRY:
        return _geometry_row(basis, ask, values, passed_over=check.is_answered(ask))
    return _point_row(check, basis, ask) if ask.kind == "point" else _other_row(check, ask)


def _other_row(check: GuidedCheck, ask: Ask) -> Row:
    if ask.kind == "sign":
        sign = check.signs.get(ask.direction)
        shown = Span(_SIGN_WORDS[sign] if sign else "")
    elif ask.wants_reading:
        values = check.readings.get(ask.key, ())
        shown = Span(number(values[-1], 2) if values else "")
    else:
        shown = Span("done ✓", "good") if check.is_answered(ask) else Span("")
    return Row(ask.key, (_LABELS[ask.kind], "", shown, "", "", ""))


def _point_row(check: GuidedCheck, basis: Basis | None, ask: Ask) -> Row:
    values = check.readings.get(ask.key, ())
    shown = number(values[-1], 2) if values else ""
    mark = "↓" if ask.run == "unloading" else ""
    mass = f"{mark}{number(ask.mass_kg, 2)}"
    if basis is None:
        return Row(ask.key, (mass, "…", shown, "", "", ""))
    reference = number(reference_of(basis, check, ask), 2)
    judged = judge_ask(basis, check, ask, values[-1] if values else 0.0)
    if not values:
        bar = error_bar(None, judged.tolerance_nm, judged.u_expanded_nm, width=BAR_WIDTH)
        return Row(ask.key, (mass, reference, "", "", bar, ""))
    bar = error_bar(
        judged.error_nm, judged.tolerance_nm, judged.u_expanded_nm, width=BAR_WIDTH, verdict=judged.verdict
    )
    word = verdict_span(judged.verdict, mark=False)
    again = f" ×{len(values)}" if len(values) > 1 else ""
    note = " n" if (check.notes or {}).get(ask.key) else ""
    verdict: Cell = [word, Span(again + note, "quiet")]
    return Row(ask.key, (mass, reference, shown, signed(judged.error_nm), bar, verdict))


def _geometry_row(basis: Basis | None, ask: Ask, values: Sequence[float], *, passed_over: bool) -> Row:
    assert ask.nominal is not None
    unit = "°" if ask.kind == "angle" else "°/s"
    label, shown = f"{ask.nominal:g}{unit}", number(values[-1], 1) if values else ""
    if not values or basis is None:
        word = "not read" if passed_over and not values else ""
        return Row(ask.key, (label, "", shown, "", Span(word, "quiet"), ""))
    if ask.kind == "angle":
        error, tolerance = values[-1] - ask.nominal, basis.limits.angle_deg
    else:
        error, tolerance = ask.nominal - values[-1], basis.limits.speed_deg_s(values[-1])
    word = f"tolerance {number(tolerance, 1)}{unit}"
    return Row(ask.key, (label, "", shown, signed(error, 1), Span(word, "quiet"), ""))


def so_far_lines(
    check: GuidedCheck, basis: Basis | None, ask: Ask | None, temperature_c: float | None
) -> list[str]:
    """Return tares, uncertainty, tolerance, lever and gravity: what the verdicts rest on."""
    tares = [
        f"{direction} {signed(check.tare_nm(direction), 1)}"
        for direction in check.plan.directions
        if check.tare_nm(direction) is not None
    ]
    first = f"tare {', '.join(tares)} N·m" if tares else "tare not read yet"
    if basis is None:
        return [first]
    limits = basis.limits
    if ask is not None and ask.kind == "point":
        point = judge_ask(basis, check, ask, 0.0)
        first += f" · U here {number(point.u_expanded_nm, 2)} N·m (k {number(point.coverage_factor, 1)})"
    if temperature_c is not None:
        first += f" · hall {number(temperature_c, 0)} °C"
    second = (
        f"tolerance {limits.torque_pct:g} % or {limits.torque_floor_nm:g} N·m ({check.plan.tolerance}), "
        f"{basis.decision} · lever {check.plan.arm_m:.3f} m · g {basis.gravity_m_s2:.4f} m/s²"
    )
    return [first, second]


def budget_lines(check: GuidedCheck, basis: Basis, ask: Ask) -> list[list[Span]]:
    """Return what the uncertainty of a point is made of, line by line."""
    budget = point_budget(basis, check.point_of(ask, 0.0))
    lines = [
        [
            Span(f"  {line.source:<22}"),
            Span(f"{line.stated:<24}", "quiet"),
            Span(f"{line.u_nm:6.3f} N·m  {line.share_pct:3.0f} %"),
        ]
        for line in budget.lines
    ]
    total = f"  together u {budget.u_nm:.3f} N·m, U = {budget.coverage_factor:.2f} · u = {budget.u_expanded_nm:.2f} N·m"
    return [*lines, [Span(total, "strong")]]
