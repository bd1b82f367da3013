"""The bench as rows: what to change at the rig, what stands before the first set, and the sets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fieldlog.fieldwork.batch.run_of_sets import RunRow
from fieldlog.fieldwork.batch.turn import Effort, effort_of, next_counted, ratio_pct, row_key
from fieldlog.fieldwork.clearance.start_gate import StartGate
from fieldlog.fieldwork.results.holds import direction_figures
from fieldlog.fieldwork.results.results import DirectionResult
from fieldlog.fieldwork.results.typed_set import is_typed
from fieldlog.fieldwork.setup.dial_in import UNIT_WORDS, DialInLine
from fieldlog.records.clearance import Clearance
from fieldlog.records.effort_set import EffortSet
from fieldlog.records.protocol import Direction, Protocol
from fieldlog.screens.set_view import quality_span
from fieldlog.screens.table import Cell, Column, Row, Span
from fieldlog.screens.words import measured, number, verdict_span
from fieldlog.store.store import Store

__all__ = ["DIAL_COLUMNS", "before_lines", "dial_rows", "set_columns", "set_rows"]

MISSING_SHOWN = 3
SHORT_WORD = 4
DIAL_COLUMNS = (
    Column("dial in"),
    Column("last time", 10, "right"),
    Column("now → to", 18, "right"),
    Column("change", 14),
)


def dial_rows(lines: tuple[DialInLine, ...], *, everything: bool) -> tuple[list[Row], int]:
    """Return the lines with something to change (or all), and how many unchanged ones are not shown."""
    shown = [line for line in lines if everything or not line.unchanged]
    return [_dial_row(line) for line in shown], len(lines) - len(shown)


def _dial_row(line: DialInLine) -> Row:
    now, last = (_plain(value, line.decimals) for value in (line.now, line.last))
    way = f"{now} → {_plain(line.target, line.decimals)}" if line.target is not None else now
    change = Span(line.text, "quiet" if line.unchanged else "strong")
    unit = UNIT_WORDS.get(line.unit, line.unit) if line.last is not None else ""
    return Row(line.key, (line.label, f"{last}{unit}", way, change))


def _plain(value: float | None, decimals: int) -> str:
    if value is None:
        return "–"
    # A reading converted from inches keeps the decimals it needs.
    return number(value, max(decimals, len(f"{value:.3f}".rstrip("0").partition(".")[2])))


def before_lines(
    gate: StartGate, clearance: Clearance | None, body_mass_kg: float | None, sweep_name: str
) -> list[Cell]:
    """Return what stands before the next set: clearance, body mass, weighing, and what is still missing."""
    first: list[Span] = [
        Span("  clearance "),
        verdict_span(clearance.outcome) if clearance else Span("not taken (c)", "warn"),
        Span(f"   body mass {measured(body_mass_kg, 1, 'kg') if body_mass_kg else '– (k)'}"),
        Span(f"   {f'weighed {sweep_name}' if sweep_name else 'not weighed (w)'}"),
    ]
    if clearance and clearance.limits:
        first.append(Span(f"   limits: {clearance.limits}", "warn"))
    if gate.allowed:
        return [first, Span("  ✓ nothing is missing; the start is the tester's decision", "good")]
    lines: list[Cell] = [first, *(Span(f"  ✗ {text}", "bad") for text in gate.missing[:MISSING_SHOWN])]
    if len(gate.missing) > MISSING_SHOWN:
        lines.append(Span(f"    and {len(gate.missing) - MISSING_SHOWN} more", "quiet"))
    return lines


def set_columns(protocol: Protocol) -> tuple[Column, ...]:
    """Return the columns of the sets with the protocol's words for its directions."""
    return (
        Column("set", 18),
        *(Column(protocol.direction_name(direction), 11, "right") for direction in protocol.efforts),
        Column(_short_ratio(protocol), 9, "right"),
        Column("quality and cover"),
    )


def set_rows(
    rows: tuple[RunRow, ...],
    protocol: Protocol,
    covers: Mapping[str, Sequence[DirectionResult]],
    last: Mapping[Effort, tuple[Store, EffortSet]],
) -> list[Row]:
    """Return a row for each planned set; where nothing is done yet, last visit's best peaks in brackets."""
    following = next_counted(rows)
    return [
        _open_row(row, protocol, last, is_next=row is following)
        if row.recorded is None
        else _done_row(row, row.recorded, protocol, covers)
        for row in rows
    ]


def _short_ratio(protocol: Protocol) -> str:
    """The ratio's directions in three or four letters each, such as ``ext/flex``, so that no width cuts them."""
    return "/".join(_short(protocol.direction_name(each)) for each in protocol.ratio_directions or ())


def _short(word: str) -> str:
    letters = 3 if len(word) > SHORT_WORD and word[2].casefold() not in "aeiou" else SHORT_WORD
    return word[:letters].strip()


def _label(row: RunRow) -> str:
    side = "" if row.place[0] == "both" else f"{row.place[0]} "
    return f"{side}{row.text.removesuffix(', familiarisation')}"


def _open_row(
    row: RunRow, protocol: Protocol, last: Mapping[Effort, tuple[Store, EffortSet]], *, is_next: bool
) -> Row:
    counted = row.planned.purpose == "counted"
    peaks: list[Cell] = []
    for direction in protocol.efforts:
        before = last.get(effort_of(row)) if counted else None
        peak = _peak_nm(before[1], direction, protocol) if before else None
        peaks.append(
            Span("–", "quiet")
            if peak is None
            else Span(f"({measured(peak, 0, 'N·m', with_unit=False)})", "last")
        )
    purpose = "" if counted else "practice"
    word = Span("next" if is_next else "", "accent")
    return Row(row_key(row), (_label(row), *peaks, "", [word, Span(purpose, "quiet")]))


def _done_row(
    row: RunRow, record: EffortSet, protocol: Protocol, covers: Mapping[str, Sequence[DirectionResult]]
) -> Row:
    measures = record.measures
    ratio = ratio_pct(measures, protocol)
    # Typed says more than the warning it always brings, and leaves the cover room.
    words: list[Span] = [Span("~ typed", "warn") if is_typed(measures) else quality_span(measures)]
    for word in sorted({result.cover.shown for result in covers.get(record.id, ())}):
        words += [Span(" · "), verdict_span(word, mark=False)]
    if any(entry["code"] == "still_climbing" for entry in measures["quality"]):
        words.append(Span(" · climbing", "warn"))
    if record.without_clearance:
        words = [Span("✗ without clearance; enter, j decides", "bad")]
    bests = (_peak_nm(record, direction, protocol) for direction in protocol.efforts)
    peaks: list[Cell] = [measured(best, 0, "N·m") if best is not None else "–" for best in bests]
    return Row(row_key(row), (_label(row), *peaks, number(ratio, 0, "%") if ratio is not None else "", words))


def _peak_nm(record: EffortSet, direction: Direction, protocol: Protocol) -> float | None:
    figures = direction_figures(record, direction, protocol.efforts) or {}
    best: float | None = figures.get("best_peak_torque_nm")
    return best
