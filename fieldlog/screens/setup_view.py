"""A setup plan as rows and lines: what was dialled last time, what stands now, what to change, today's answer."""

from __future__ import annotations

from textwrap import wrap

from fieldlog.errors import InputError
from fieldlog.fieldwork.entry import parse_quantity
from fieldlog.fieldwork.setup.dial_in import UNIT_WORDS, DialInLine, reading_text
from fieldlog.fieldwork.setup.starting_values import StartingValue
from fieldlog.records.setup import Setup, StepTaken
from fieldlog.records.setup_plan import ChoiceStep, PlanStep, ReadingStep
from fieldlog.screens.table import Cell, Column, Row, Span
from fieldlog.screens.words import sentence

__all__ = ["COLUMNS", "ENTRY_COLUMN", "step_lines", "step_row", "typed_step"]

COLUMNS = (
    Column("step"),
    Column("last time", 10, "right"),
    Column("now", 9, "right"),
    Column("change", 11),
    Column("today", 13),
)
ENTRY_COLUMN = 4


def step_row(
    step: PlanStep,
    taken: StepTaken | None,
    line: DialInLine | None,
    last: Setup | None,
    last_reading: float | None,
) -> Row:
    """Return one step with its answer; ``line`` where it is dialled in."""
    today = _taken_span(step, taken)
    if line is not None and isinstance(step, ReadingStep):
        role = "quiet" if line.unchanged else "warn"
        cells = (_reading(step, line.last), _reading(step, line.now), Span(line.text, role))
        return Row(step.key, (step.label, *cells, today))
    before = last.taken(step.key) if last else None
    shown = (before.choice or "") if before else ""
    if isinstance(step, ReadingStep) and last_reading is not None:
        shown = reading_text(step, last_reading)
    return Row(step.key, (step.label, Span(shown, "quiet"), "", "", today))


def step_lines(
    step: PlanStep, line: DialInLine | None, start: StartingValue | None, width: int
) -> list[Cell]:
    """Return the words of a step: what to do, where to start, the landmark, why, and the caution."""
    lines: list[Cell] = [f"  {each}" for each in wrap(sentence(step.text), width)]
    if isinstance(step, ChoiceStep):
        options = "   ".join(f"{place} {option}" for place, option in enumerate(step.options, start=1))
        lines.append(Span(f"  type the number: {options}", "key"))
    if start is not None:
        lines += [
            Span(f"  {each}", "accent") for each in wrap(sentence(f"{start.text}: {start.confirm}"), width)
        ]
    if line is not None and line.note:
        lines.append(Span(f"  last time: {line.note}", "warn"))
    if isinstance(step, ReadingStep):
        scale = f"{reading_text(step, step.low)} to {reading_text(step, step.high)}"
        lines.append(Span(f"  scale {scale}{'; optional' if step.optional else ''}", "quiet"))
    for text, role in (
        (step.landmark, ""),
        (step.why, "quiet"),
        (step.caution and f"Caution: {step.caution}", "warn"),
    ):
        lines += [Span(f"  {each}", role) for each in wrap(sentence(text), width)]
    return lines


def typed_step(step: PlanStep, typed: str) -> StepTaken:
    """Return what was typed as the answer to a step. Raises InputError where it is none."""
    if isinstance(step, ChoiceStep):
        place = int(typed) if typed.isdecimal() else 0
        if not 1 <= place <= len(step.options):
            raise InputError(f"{step.label}: {typed} is no choice", f"type 1 to {len(step.options)}")
        return StepTaken(key=step.key, choice=step.options[place - 1])
    if isinstance(step, ReadingStep):
        return StepTaken(key=step.key, reading=parse_quantity(typed, step.unit, step.label))
    return StepTaken(key=step.key, confirmed=True)


def _reading(step: ReadingStep, reading: float | None) -> str:
    return "–" if reading is None else reading_text(step, reading)


def _taken_span(step: PlanStep, taken: StepTaken | None) -> Span:
    if taken is None:
        unit = UNIT_WORDS[step.unit].strip() if isinstance(step, ReadingStep) else ""
        return Span(f"· {unit}".strip(), "quiet")
    if taken.confirmed:
        return Span("✓", "good")
    if taken.choice:
        return Span(taken.choice, "good")
    if taken.reading is not None and isinstance(step, ReadingStep):
        return Span(reading_text(step, taken.reading) + (" why" if taken.why else ""), "good")
    return Span("left out", "quiet")
