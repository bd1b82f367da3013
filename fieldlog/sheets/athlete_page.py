"""The athlete's own page: today's curve over the last, the figures over the visits, and what they mean."""

from __future__ import annotations

from collections.abc import Sequence

from fieldlog.date_words import day_text
from fieldlog.fieldwork.books import site_of
from fieldlog.fieldwork.change.comparison import Comparer
from fieldlog.fieldwork.change.judged_change import FIRST_VISIT, Change, chance_words
from fieldlog.fieldwork.change.last_results import last_results
from fieldlog.fieldwork.change.published_errors import typical_error
from fieldlog.fieldwork.change.trials import Line, line_of
from fieldlog.fieldwork.pages.sheet_sources import SheetSubject, person_names
from fieldlog.fieldwork.results.results import DirectionResult, ResultBook, quality_word
from fieldlog.fieldwork.results.typed_set import is_typed
from fieldlog.records.protocol import Protocol
from fieldlog.records.visit import Visit
from fieldlog.sheets.athlete_plots import curve_plots, trend_plots
from fieldlog.sheets.changes import change_bar
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
from fieldlog.sheets.wording import sentence, speed_text
from fieldlog.store.workspace import Workspace

__all__ = ["CAUTIONS", "MEANING", "athlete_sheet"]


MEANING = (
    (
        "Peak torque is the strongest turning effort of your counted repetitions, in newton metre; divided by your body "
        "mass it can be set beside your own earlier figures at another body mass."
    ),
    (
        "The bars in the plots show what the error of the test and of the rig alone can make. A change that stays inside "
        "them is no change."
    ),
    (
        "The figures say how strong this movement was on this rig on this day. They do not say whether you are healthy, "
        "fit to play, or better than someone else."
    ),
)
CAUTIONS = (
    "Training figures, not a diagnosis. Pain, injury or doubt: ask medical staff before you train on.",
    "Maximal efforts need warm-up, supervision and the rules of your place.",
)


def athlete_sheet(workspace: Workspace, subject: SheetSubject, comparer: Comparer | None = None) -> Sheet:
    """Return what an athlete's page says. It names nobody else and compares with nobody else.

    No test after the visit's day changes it. One ``comparer`` may serve the pages of a whole squad.
    """
    assert subject.athlete_id is not None
    comparer = (comparer or Comparer(workspace)).upto(subject.visit.date)
    book = comparer.trials.book
    visit = subject.visit
    results = [
        trial.result
        for trial in comparer.trials.trials(subject.athlete_id)
        if trial.visit.id == visit.id and trial.record.athlete_id == subject.athlete_id
    ]
    earlier = last_results(book, visit, subject.athlete_id)
    code = book.code(subject.athlete_id)
    names = person_names(workspace, [subject.athlete_id]) if subject.named else {}
    name = names.get(subject.athlete_id, code)
    site = site_of(subject.store)
    blocks: list[Block] = [_facts(book, results)]
    judged: list[Change] = []
    if not results:
        blocks.append(Words(("No result of this visit counts.",)))
    for protocol_id in sorted({result.record.protocol_id for result in results}):
        protocol = book.protocol(protocol_id)
        of_protocol = [result for result in results if result.record.protocol_id == protocol_id]
        table, changes = _figures(comparer, protocol, of_protocol, earlier)
        blocks.append(table)
        judged += changes
        blocks += curve_plots(workspace, protocol, of_protocol, earlier)
        blocks += trend_plots(comparer, subject, protocol, of_protocol)
    if chance := chance_words(judged):
        blocks.append(Words((sentence(chance),), small=True))
    if results:
        blocks.append(_legend(results))
    blocks.append(Words(MEANING, heading="What the figures mean, and what not"))
    blocks.append(Words(CAUTIONS, caution=True))
    return Sheet(
        kind="athlete",
        title="Your strength test",
        subject=f"{name}, {site.name}, {day_text(visit.date)}",
        blocks=tuple(blocks),
    )


def _facts(book: ResultBook, results: Sequence[DirectionResult]) -> Facts:
    masses = {result.record.body_mass_kg for result in results} - {None}
    mass = (
        f"{masses.pop():g} kg" if len(masses) == 1 else "not taken" if not masses else "differs between sets"
    )
    protocols = "; ".join(sorted({book.protocol(result.record.protocol_id).name for result in results}))
    return Facts(
        (
            ("test", protocols or "none"),
            ("body mass", mass),
            ("sets that count", str(len({result.record.id for result in results}))),
        )
    )


def _figures(
    comparer: Comparer,
    protocol: Protocol,
    results: Sequence[DirectionResult],
    earlier: dict[Line, tuple[Visit, DirectionResult]],
) -> tuple[Table, list[Change]]:
    columns = (
        Column("movement", "movement", width_pt=64, share=1),
        Column("side", "side", width_pt=26),
        Column("speed", "speed", width_pt=36),
        Column("peak_torque_nm", "peak torque", "N·m", "number", 44),
        Column("peak_torque_nm_kg", "per body mass", "N·m/kg", "number", 44),
        Column("mean_power_w", "mean power", "W", "number", 40),
        Column("peak_torque_cv_pct", "spread of repetitions", "%", "number", 46),
        Column("change", "change", "% since last visit", "change", 104, share=1),
        Column("marks", "data, rig", kind="marks", width_pt=28),
    )
    rows, changes = [], []
    for result in sorted(results, key=_order):
        change = _change(comparer, result, earlier)
        changes.append(change)
        best = result.best_movement or {}
        rows.append(
            Row(
                (
                    protocol.direction_name(result.direction),
                    result.record.side,
                    speed_text(result.record.speed_deg_s),
                    Figure(result.peak_torque_nm, 1),
                    Figure(result.figures.get("best_peak_torque_nm_kg"), 2),
                    Figure(best.get("mean_power_w"), 0),
                    Figure(result.figures.get("peak_torque_cv_pct"), 1),
                    change_bar(change),
                    Marks(_marks(result)),
                ),
                opens_group=True,
            )
        )
    remarks = sorted({result.cover.remark for result in results if result.cover.remark})
    remarks += sorted(
        {
            f"{speed_text(result.record.speed_deg_s)}: typed from the display, there is no recording"
            for result in results
            if is_typed(result.record.measures)
        }
    )
    said = [sentence(remark) for remark in (*_errors(protocol, changes), *remarks, *_marks_of(changes))]
    return Table(protocol.name, columns, tuple(rows), " ".join(said)), changes


def _errors(protocol: Protocol, changes: Sequence[Change]) -> list[str]:
    """The error each change was judged by, or the published one where there was nothing to judge."""
    used = sorted({change.error for change in changes if change.error})
    shipped = typical_error(protocol.region)
    return used or [f"typical error {shipped.value_pct:g} % ({shipped.source})"]


def _marks_of(changes: Sequence[Change]) -> list[str]:
    found = sorted({mark for change in changes for mark in change.marks})
    return [f"what else may explain a change: {'; '.join(found)}"] if found else []


def _order(result: DirectionResult) -> tuple[float, str, int]:
    return result.record.speed_deg_s, result.record.side, result.efforts.index(result.direction)


def _change(
    comparer: Comparer, result: DirectionResult, earlier: dict[Line, tuple[Visit, DirectionResult]]
) -> Change:
    found = earlier.get(line_of(result))
    return Change(FIRST_VISIT) if found is None else comparer.results(result, found[1])


def _marks(result: DirectionResult) -> tuple[Mark, ...]:
    return Mark("quality", quality_word(result.record.measures)), Mark("cover", result.cover.word)


def _legend(results: Sequence[DirectionResult]) -> Legend:
    used = {mark for result in results for mark in _marks(result)}
    return Legend(
        tuple((Mark(*known), text) for known, text in MEANINGS.items() if Mark(*known) in used),
        detectable=True,
    )
