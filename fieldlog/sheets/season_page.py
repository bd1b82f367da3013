"""The season's page of a squad: who changed beyond error, how the squad went, what is due."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence

from fieldlog.count_words import counted
from fieldlog.date_words import day_text
from fieldlog.fieldwork.change.judged_change import WITHIN_ERROR, Change
from fieldlog.fieldwork.squad.retests import DueRetest
from fieldlog.fieldwork.squad.season_report import SeasonLine, SeasonMeasure, SeasonReport
from fieldlog.sheets.callings import Callings
from fieldlog.sheets.changes import change_bar, explanation, refusal
from fieldlog.sheets.coach_remarks import concerned
from fieldlog.sheets.content import (
    Block,
    Column,
    Facts,
    Figure,
    Legend,
    Mark,
    Marks,
    Row,
    Sheet,
    Table,
    Words,
)
from fieldlog.sheets.marks import MEANINGS
from fieldlog.sheets.season_days import by_protocol, counts_text, days_table, trend_plot
from fieldlog.sheets.wording import sentence, speed_text

__all__ = ["season_sheet"]

MOST_ERRORS = 6
NOBODY_NAMED = (
    "The squad has members under 18: this page names nobody and sets nobody out. Each athlete's own page has "
    "the figures."
)


def season_sheet(report: SeasonReport, names: Mapping[str, str] | None = None) -> Sheet:
    """Return what the season's page says; ``names`` (by code) replace codes where names were chosen."""
    called = Callings(names or {})
    blocks: list[Block] = [_facts(report, called)]
    if report.names_nobody:
        blocks.append(Words((NOBODY_NAMED,)))
    if not report.measures:
        blocks.append(Words(("No test of this squad counts in these days.",)))
    else:
        blocks.append(_in_short(report))
    if not report.names_nobody:
        blocks += [_lines(measure, called) for measure in report.measures]
    for measures in by_protocol(report):
        blocks.append(days_table(measures, report))
        if trend := trend_plot(measures, report):
            blocks.append(trend)
    blocks.append(_retests(report, called))
    if report.chance:
        blocks.append(Words((sentence(report.chance),), small=True))
    if report.errors:
        blocks.append(Words(_errors(report.errors), heading="What the changes are judged by", small=True))
    if report.measures:
        blocks.append(_legend(report))
    blocks.append(Words(tuple(report.cautions), caution=True))
    return Sheet(
        kind="season",
        title="Strength tests of a season",
        subject=f"{report.squad}, {day_text(report.first_day)} to {day_text(report.last_day)}",
        blocks=tuple(blocks),
    )


def _facts(report: SeasonReport, called: Callings) -> Facts:
    absent: str = ", ".join(called(code) for code in report.not_tested) or "nobody"
    if report.names_nobody:
        absent = f"{len(report.not_tested)}"
    return Facts(
        (
            ("squad", report.squad or "without a name"),
            ("tested", f"{report.tested} of {counted(report.people, 'athlete')}"),
            ("test days", str(report.test_days)),
            ("rig checks in these days", counts_text(report.rig_checks) or "none"),
            ("results by the rig's cover", counts_text(report.covers) or "none"),
            ("not tested", absent),
        )
    )


def _heading(measure: SeasonMeasure) -> str:
    speed = speed_text(measure.question.speed_deg_s)
    return f"{measure.protocol.name}: {measure.name}, peak torque, {speed}"


def _lines(measure: SeasonMeasure, called: Callings) -> Table:
    sided = any(line.side != "both" for line in measure.lines)
    longest = min(max([34.0, *(3.6 * len(called(line.code)) + 6.0 for line in measure.lines)]), 84.0)
    columns = [Column("athlete", "athlete", width_pt=longest, share=0.4)]
    if sided:
        columns.append(Column("side", "side", width_pt=26))
    columns += [
        Column("tests", "tests", kind="number", width_pt=28),
        Column("first_day", "first", width_pt=52),
        Column("first_peak_torque_nm", "peak torque", measure.unit, "number", 40),
        Column("last_day", "last", width_pt=52),
        Column("last_peak_torque_nm", "peak torque", measure.unit, "number", 40),
        Column("change", "change", "% first to last", "change", 110, share=1.5),
        Column("marks", "data, rig", kind="marks", width_pt=28),
    ]
    rows, before = [], None
    for line in measure.lines:
        cells = [called(line.code), *([line.side] if sided else [])]
        one = line.tests == 1
        rows.append(
            Row(
                (
                    *cells,
                    Figure(float(line.tests), 0),
                    day_text(line.first_date),
                    Figure(line.first, measure.question.measure.decimals),
                    "" if one else day_text(line.last_date),
                    Figure(None if one else line.last, measure.question.measure.decimals, instead=""),
                    change_bar(line.change),
                    Marks(_marks(line)),
                ),
                opens_group=line.code != before,
            )
        )
        before = line.code
    return Table(_heading(measure), tuple(columns), tuple(rows), _remark(measure, called))


def _marks(line: SeasonLine) -> tuple[Mark, ...]:
    return Mark("quality", line.quality), Mark("cover", line.cover)


def _remark(measure: SeasonMeasure, called: Callable[[str], str]) -> str:
    said: dict[str, dict[str, None]] = {}
    for line in measure.lines:
        who = called(line.code) if line.side == "both" else f"{called(line.code)} {line.side}"
        for remark in _remarks_of(line.change):
            said.setdefault(remark, {})[who] = None
    remarks = [sentence(f"{text} ({concerned(list(who), len(measure.lines))})") for text, who in said.items()]
    return " ".join(remarks)


def _remarks_of(change: Change) -> Iterator[str]:
    if reason := refusal(change):
        yield reason
    else:
        yield from dict.fromkeys(explanation(mark) for mark in change.marks)


def _in_short(report: SeasonReport) -> Table:
    columns = (
        Column("protocol", "protocol", width_pt=150, share=2),
        Column("measure", "peak torque", width_pt=84, share=1),
        Column("higher", "higher, beyond error", kind="number", width_pt=52),
        Column("lower", "lower, beyond error", kind="number", width_pt=52),
        Column("within", "within error", kind="number", width_pt=46),
        Column("unclear", "unclear", kind="number", width_pt=46),
        Column("not_compared", "not compared", kind="number", width_pt=52),
    )
    rows = []
    for measure in report.measures:
        words = Counter(_kind(line.change) for line in measure.lines)
        counts = [float(words[kind]) for kind in ("higher", "lower", "within", "unclear", "")]
        name = f"{measure.name}, {speed_text(measure.question.speed_deg_s)}"
        figures = [Figure(count, 0) for count in counts]
        rows.append(Row((measure.protocol.name, name, *figures), opens_group=True))
    return Table("Changes from first to last, in short", columns, tuple(rows))


def _kind(change: Change) -> str:
    if change.change_pct is None:
        return ""
    if change.real:
        return "higher" if change.change_pct > 0 else "lower"
    return "within" if change.word == WITHIN_ERROR else "unclear"


def _retests(report: SeasonReport, called: Callable[[str], str]) -> Table:
    columns = (
        Column("who", "who", width_pt=80, share=1),
        Column("protocol", "protocol", width_pt=110, share=1),
        Column("due_from", "from", width_pt=58),
        Column("due_by", "by", width_pt=58),
        Column("standing", "how it stands", width_pt=104, share=1.5),
        Column("waiting", "waiting", width_pt=90, share=2),
    )
    rows = [
        Row(
            (
                called(due.who) if due.kept.record.athlete_id else due.who,
                due.protocol_name,
                day_text(due.kept.record.due_from),
                day_text(due.kept.record.due_by),
                due.words,
                _waiting(due, called, nobody=report.names_nobody),
            ),
            opens_group=True,
        )
        for due in report.due
        if not (report.names_nobody and due.kept.record.athlete_id)
    ]
    heading = f"Retests, as they stand on {day_text(report.last_day)}"
    return Table(heading, columns, tuple(rows), empty="no retest is planned")


def _waiting(due: DueRetest, called: Callable[[str], str], *, nobody: bool) -> str:
    if nobody:
        return str(len(due.waiting))
    return ", ".join(called(code) for code in due.waiting) or "nobody"


def _errors(errors: Sequence[str]) -> tuple[str, ...]:
    shown = tuple(sentence(text) for text in errors[:MOST_ERRORS])
    more = len(errors) - MOST_ERRORS
    return shown if more <= 0 else (*shown, f"And {more} more: by side, direction and rig.")


def _legend(report: SeasonReport) -> Legend:
    if report.names_nobody:
        return Legend(())
    used = {mark for measure in report.measures for line in measure.lines for mark in _marks(line)}
    bars = any(line.change.change_pct is not None for m in report.measures for line in m.lines)
    return Legend(
        tuple((Mark(*known), text) for known, text in MEANINGS.items() if Mark(*known) in used),
        detectable=bars,
    )
