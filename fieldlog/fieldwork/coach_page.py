"""What the coach's page says: assembled here, drawn by the sheets."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from fieldlog.fieldwork.books import at_site, site_of
from fieldlog.fieldwork.comparison import Change, compare, comparison_key, last_results, typical_error
from fieldlog.fieldwork.results import DirectionResult, ResultBook, quality_word
from fieldlog.records.batch import Batch
from fieldlog.records.protocol import Direction, Protocol, Side
from fieldlog.records.visit import Visit
from fieldlog.store.store import Store
from fieldlog.store.workspace import Workspace

__all__ = ["CAUTIONS", "CoachGroup", "CoachLine", "CoachPage", "coach_page"]

CAUTIONS = (
    "These are training figures, not a diagnosis. Pain, injury or doubt: ask medical staff before training on.",
    "Differences smaller than the detectable change are within the error of the test.",
    "Maximal efforts need warm-up, supervision and the rules of your place.",
)

NEXT_STEPS = ("retest", "repeat the first visit", "ask medical staff", "nothing to add")


@dataclass(frozen=True)
class CoachLine:
    """One athlete and side: figures by direction (``up`` and ``down`` keys) and what they are worth."""

    code: str
    side: Side
    body_mass_kg: float | None
    peak_torque_nm: dict[Direction, float | None]
    peak_torque_nm_kg: dict[Direction, float | None]
    ratio_pct: float | None
    side_difference_pct: dict[Direction, float | None]
    change: dict[Direction, Change]
    quality: str
    covers: dict[Direction, str]
    cover_remarks: tuple[str, ...]
    repetitions: str
    next_step: str


@dataclass(frozen=True)
class CoachGroup:
    """The lines of one protocol at its main speed, with the words of its directions."""

    protocol: Protocol
    speed_deg_s: float
    lines: tuple[CoachLine, ...]
    typical_error_pct: float
    typical_error_source: str
    mean_change_pct: dict[Direction, tuple[float, float, float, int] | None]


@dataclass(frozen=True)
class CoachPage:
    """Everything the coach's page prints. Holds no health data."""

    site_name: str
    date: dt.date
    squads: tuple[str, ...]
    groups: tuple[CoachGroup, ...]
    not_tested: tuple[str, ...]
    waiting_for_rig: int
    shows_strip: bool
    cautions: tuple[str, ...]
    results: tuple[DirectionResult, ...]


def coach_page(workspace: Workspace, store: Store, visit: Visit) -> CoachPage:
    """Assemble the coach's page of a visit from its counted sets."""
    book = ResultBook(workspace)
    batches = [kept.record for kept in at_site(store, Batch).find(visit_id=visit.id)]
    results = book.of_visit(store, visit.id)
    protocol_ids = sorted({result.record.protocol_id for result in results})
    groups = tuple(
        _group(
            book,
            visit,
            book.protocol(protocol_id),
            [r for r in results if r.record.protocol_id == protocol_id],
        )
        for protocol_id in protocol_ids
    )
    tested = {result.record.athlete_id for result in results}
    planned = {entry.athlete_id for batch in batches for entry in batch.entries}
    people = [book.athletes[athlete_id] for athlete_id in tested if athlete_id in book.athletes]
    return CoachPage(
        site_name=site_of(store).name,
        date=visit.date,
        squads=tuple(sorted({batch.squad for batch in batches if batch.squad})),
        groups=groups,
        not_tested=tuple(sorted(book.code(athlete_id) for athlete_id in planned - tested)),
        waiting_for_rig=sum(result.cover.word in ("suspect", "unverified") for result in results),
        shows_strip=len(tested) >= 5 and not any(person.minor for person in people),
        cautions=CAUTIONS,
        results=tuple(results),
    )


def _group(
    book: ResultBook, visit: Visit, protocol: Protocol, results: Sequence[DirectionResult]
) -> CoachGroup:
    speed = min(result.record.speed_deg_s for result in results)
    main = [result for result in results if result.record.speed_deg_s == speed]
    by_line: dict[tuple[str, Side], dict[Direction, DirectionResult]] = {}
    for result in main:
        by_line.setdefault((result.record.athlete_id, result.record.side), {})[result.direction] = result
    earlier = {
        athlete_id: last_results(book, visit, athlete_id) for athlete_id in {key[0] for key in by_line}
    }
    lines = []
    for (athlete_id, side), by_direction in by_line.items():
        other_side = by_line.get((athlete_id, _other(side)), {})
        changes = {
            direction: _change(protocol, result, earlier[athlete_id])
            for direction, result in by_direction.items()
        }
        lines.append(_line(book, protocol, side, by_direction=by_direction, other_side=other_side, changes=changes))
    error = typical_error(protocol.region)
    return CoachGroup(
        protocol=protocol,
        speed_deg_s=speed,
        lines=tuple(sorted(lines, key=lambda line: (line.code, line.side))),
        typical_error_pct=error.value_pct,
        typical_error_source=error.source,
        mean_change_pct={direction: _mean_change(lines, direction) for direction in protocol.efforts},
    )


def _change(
    protocol: Protocol,
    result: DirectionResult,
    earlier: dict[tuple[str, str, str, float, str], tuple[Visit, DirectionResult]],
) -> Change:
    found = earlier.get(comparison_key(result))
    if found is None:
        return Change("first visit, no comparison")
    before_visit, before = found
    return compare(result, before, protocol.region, since=before_visit.date.isoformat())


def _line(
    book: ResultBook,
    protocol: Protocol,
    side: Side,
    *,
    by_direction: dict[Direction, DirectionResult],
    other_side: dict[Direction, DirectionResult],
    changes: dict[Direction, Change],
) -> CoachLine:
    first = next(iter(by_direction.values()))
    peaks = {direction: result.peak_torque_nm for direction, result in by_direction.items()}
    return CoachLine(
        code=book.code(first.record.athlete_id),
        side=side,
        body_mass_kg=first.record.body_mass_kg,
        peak_torque_nm=peaks,
        peak_torque_nm_kg={
            direction: result.figures.get("best_peak_torque_nm_kg")
            for direction, result in by_direction.items()
        },
        ratio_pct=_ratio(protocol, peaks),
        side_difference_pct={
            direction: _side_difference(side, result, other_side.get(direction))
            for direction, result in by_direction.items()
        },
        change=changes,
        quality=quality_word(first.record.measures),
        covers={direction: result.cover.word for direction, result in by_direction.items()},
        cover_remarks=tuple(
            sorted({result.cover.remark for result in by_direction.values() if result.cover.remark})
        ),
        repetitions=_repetitions(first),
        next_step=_next_step(by_direction, changes),
    )


def _ratio(protocol: Protocol, peaks: dict[Direction, float | None]) -> float | None:
    if protocol.ratio_numerator is None:
        return None
    over: Direction = "up" if protocol.ratio_numerator == "down" else "down"
    numerator, denominator = peaks.get(protocol.ratio_numerator), peaks.get(over)
    if numerator is None or not denominator:
        return None
    return 100 * numerator / denominator


def _side_difference(side: Side, here: DirectionResult, there: DirectionResult | None) -> float | None:
    if side != "right" or there is None or here.peak_torque_nm is None or there.peak_torque_nm is None:
        return None
    from fieldlog.analysis.ratios import bilateral_difference_pct

    return bilateral_difference_pct(there.peak_torque_nm, here.peak_torque_nm)


def _repetitions(result: DirectionResult) -> str:
    in_direction = [
        movement
        for movement in result.record.measures["movements"]
        if movement["direction"] == result.direction
    ]
    counted = result.figures["movements"]
    return f"{counted}" if counted == len(in_direction) else f"{counted} of {len(in_direction)}"


def _next_step(by_direction: dict[Direction, DirectionResult], changes: dict[Direction, Change]) -> str:
    if any(result.cover.word in ("suspect", "unverified") for result in by_direction.values()):
        return "retest"
    if any(quality_word(result.record.measures) == "stop" for result in by_direction.values()):
        return "retest"
    if all(change.word.startswith("first visit") for change in changes.values()):
        return "repeat the first visit"
    return "nothing to add"


def _mean_change(lines: Sequence[CoachLine], direction: Direction) -> tuple[float, float, float, int] | None:
    """Mean change of the squad in percent with its 95 % t interval and how many it rests on."""
    changes = [
        line.change[direction].change_pct
        for line in lines
        if direction in line.change and line.change[direction].change_pct is not None
    ]
    if len(changes) < 5:
        return None
    from statistics import mean, stdev

    from fieldlog.analysis.calibration import coverage_factor

    values = [change for change in changes if change is not None]
    half = coverage_factor(len(values) - 1) * stdev(values) / len(values) ** 0.5
    return mean(values), mean(values) - half, mean(values) + half, len(values)


def _other(side: Side) -> Side:
    return "left" if side == "right" else "right" if side == "left" else "both"
